package main

import (
	"embed"
	"fmt"
	"io"
	"io/fs"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/paper"
	"backfield/layout/source"
)

//go:embed help/*.md
var pages embed.FS

// topics lists the reference pages, in order of their names.
func topics() []string {
	entries, err := fs.ReadDir(pages, "help")
	if err != nil {
		panic(err) // they are part of the binary
	}
	var names []string
	for _, e := range entries {
		names = append(names, strings.TrimSuffix(e.Name(), ".md"))
	}
	return names
}

// topicText is a reference page. The table of printed sheets is not written there but made from their list.
func topicText(topic string) (string, error) {
	text, err := pages.ReadFile("help/" + topic + ".md")
	return strings.Replace(string(text), "{{printed sheets}}\n", paper.Reference(), 1), err
}

func helpCommand(root *cobra.Command) *cobra.Command {
	return &cobra.Command{
		ValidArgsFunction: func(c *cobra.Command, args []string, begun string) ([]string, cobra.ShellCompDirective) {
			var fit []string
			if len(args) == 0 {
				known := topics()
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
		Long:  "Shows a reference page. The topics are:\n\n    " + strings.Join(topics(), ", "),
		RunE: func(c *cobra.Command, args []string) error {
			if len(args) == 0 {
				if err := root.Help(); err != nil {
					return err
				}
				fmt.Fprintf(c.OutOrStdout(), "\nReference pages (backfield help TOPIC): %s\n", strings.Join(topics(), ", "))
				return nil
			}
			if text, err := topicText(args[0]); err == nil {
				_, err := io.WriteString(c.OutOrStdout(), text)
				return world(err)
			}
			var known []string
			for _, sub := range root.Commands() {
				if sub.Name() == args[0] {
					return sub.Help()
				}
				known = append(known, sub.Name())
			}
			known = append(topics(), known...)
			return wrong("no topic and no command %q; %s", args[0], source.DidYouMean(args[0], known, "it is "+source.OneOf(known)))
		},
	}
}
