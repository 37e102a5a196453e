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
		Use:   "help [TOPIC, WORD or COMMAND]",
		Short: "show a reference page, or a command's help",
		Long: "Shows a reference page, by its topic or by a word such as dots, cue, delay, sets.csv or fader. " +
			"The topics are:" +
			"\n\n    " + strings.Join(help.Topics(), ", "),
		RunE: func(c *cobra.Command, args []string) error {
			if len(args) == 0 {
				if err := root.Help(); err != nil {
					return err
				}
				fmt.Fprintf(c.OutOrStdout(), "\nReference pages (backfield help TOPIC): %s\n",
					strings.Join(help.Topics(), ", "))
				return nil
			}
			if slices.Contains(help.Topics(), args[0]) {
				return showPage(c, args[0])
			}
			word := strings.ToLower(args[0])
			if text, ok := help.Entry(word); ok {
				fmt.Fprintf(c.OutOrStdout(), "%s\nAll codes: backfield help problems\n", text)
				return nil
			}
			if topic, ok := help.ByWord(word); ok {
				return showSection(c, topic, word)
			}
			if now, ok := help.Renamed(word); ok {
				return verb.Wrong("the page %s is now called %s: backfield help %s", word, now, now)
			}
			known := append(help.Topics(), help.Words()...)
			for _, sub := range root.Commands() {
				if sub.Name() == args[0] {
					return sub.Help()
				}
				if sub.IsAvailableCommand() {
					known = append(known, sub.Name())
				}
			}
			return verb.Wrong("no topic and no command %q; %s", args[0],
				source.DidYouMean(args[0], known, "the topics are "+strings.Join(help.Topics(), ", ")))
		},
	}
}

// showSection shows what a page says about a word.
func showSection(c *cobra.Command, topic, word string) error {
	text, ok := help.Section(topic, word)
	if !ok {
		return showPage(c, topic)
	}
	fmt.Fprintf(c.OutOrStdout(), "%s\nThe whole page: backfield help %s\n", text, topic)
	if word == "swap" { // the roster's packs that change players are called so, too
		fmt.Fprintln(c.OutOrStdout(), "A pack that goes to another player as planned: backfield help handover")
	}
	return nil
}

func showPage(c *cobra.Command, topic string) error {
	text, err := help.Page(topic)
	if err == nil {
		_, err = io.WriteString(c.OutOrStdout(), text)
	}
	return verb.Outside(err)
}
