package main

import (
	"strings"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/schemas"
	"backfield/cmd/backfield/verb"
	"backfield/layout/source"
)

func schemaCommand() *cobra.Command {
	return &cobra.Command{
		Use:   "schema FILE",
		Short: "print the JSON Schema of a file, for editors",
		Long: `Prints the JSON Schema (2020-12) of one of a show's TOML files: score, rig, mixer or venue. An editor
that reads TOML schemas then completes keys, shows what they mean, and marks mistakes. See backfield
help editors.`,
		Args:      verb.Exactly(1, "one of "+strings.Join(schemas.Names(), ", ")),
		ValidArgs: schemas.Names(),
		RunE: func(c *cobra.Command, args []string) error {
			verb.Whole(c)
			if now, ok := renamed[args[0]]; ok {
				return verb.Wrong("the schema %s is now called %s: backfield schema %s", args[0], now, now)
			}
			data, ok := schemas.Of(args[0])
			if !ok {
				return verb.Wrong("no schema %q; %s", args[0], source.DidYouMean(args[0], schemas.Names(),
					"it is "+source.OneOf(schemas.Names())))
			}
			_, err := c.OutOrStdout().Write(data)
			return verb.Outside(err)
		},
	}
}
