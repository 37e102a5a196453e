package main

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/help"
	"backfield/cmd/backfield/verb"
	"backfield/layout/source"
)

func helpCommand(root *cobra.Command) *cobra.Command {
	return &cobra.Command{
		ValidArgsFunction: func(c *cobra.Command, args []string, begun string) ([]string, cobra.ShellCompDirective) {
			var fit []string
			if len(args) == 0 {
				known := help.Topics()
				for _, sub := range root.Commands() {
					if sub.IsAvailableCommand() {
						known = append(known, sub.Name())
					}
				}
				slices.Sort(known)
				for _, name := range slices.Compact(known) {
					if strings.HasPrefix(name, begun) {
						fit = append(fit, name)
					}
				}
			}
			return fit, cobra.ShellCompDirectiveNoFileComp
		},
		Use:   "help [TOPIC or COMMAND]",
		Short: "show a reference page, or the help of a command",
		Long:  "Shows a reference page. The topics are:\n\n    " + strings.Join(help.Topics(), ", "),
		RunE: func(c *cobra.Command, args []string) error {
			if len(args) == 0 {
				if err := root.Help(); err != nil {
					return err
				}
				fmt.Fprintf(c.OutOrStdout(), "\nReference pages (backfield help TOPIC): %s\n",
					strings.Join(help.Topics(), ", "))
				return nil
			}
			if text, err := help.Page(args[0]); err == nil {
				_, err := io.WriteString(c.OutOrStdout(), text)
				return verb.World(err)
			}
			var known []string
			for _, sub := range root.Commands() {
				if sub.Name() == args[0] {
					return sub.Help()
				}
				known = append(known, sub.Name())
			}
			known = append(help.Topics(), known...)
			return verb.Wrong("no topic and no command %q; %s", args[0],
				source.DidYouMean(args[0], known, "it is "+source.OneOf(known)))
		},
	}
}
