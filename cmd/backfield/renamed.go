package main

import (
	"github.com/spf13/cobra"

	"backfield/cmd/backfield/verb"
)

// renamed are the names of commands and schemas before 0.6.0, and what they are called now.
var renamed = map[string]string{"desk": "mixer"}

// refused is a command's old name, which does nothing but say the new one. No list has it.
func refused(old, now string) *cobra.Command {
	return &cobra.Command{
		Use:                old,
		Hidden:             true,
		DisableFlagParsing: true, // the new command has other flags, and nothing is to be done with these
		RunE: func(c *cobra.Command, args []string) error {
			return verb.Wrong("the command %s is now called %s; see backfield %s --help", old, now, now)
		},
	}
}
