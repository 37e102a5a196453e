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
		Long: `Prints the JSON Schema (2020-12) of one of the TOML files of a show: score, rig, mixer or venue. An
editor that knows TOML schemas then completes keys, shows what they mean, and marks what no file may
have. See backfield help editors.`,
		Args:      verb.Exactly(1, "one of "+strings.Join(schemas.Names(), ", ")),
		ValidArgs: schemas.Names(),
		RunE: func(c *cobra.Command, args []string) error {
			data, ok := schemas.Of(args[0])
			if !ok {
				return verb.Wrong("no file %q has a schema; %s", args[0], source.DidYouMean(args[0], schemas.Names(),
					"it is "+source.OneOf(schemas.Names())))
			}
			_, err := c.OutOrStdout().Write(data)
			return verb.World(err)
		},
	}
}
