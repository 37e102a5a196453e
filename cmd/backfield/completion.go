package main

import (
	"io"
	"strings"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/shellquote"
	"backfield/cmd/backfield/show"
	"backfield/cmd/backfield/starter"
	"backfield/cmd/backfield/verb"
	"backfield/layout/field"
	"backfield/layout/source"
)

// shells are the shells that have completion.
var shells = []string{"bash", "zsh", "fish", "powershell"}

func completionCommand() *cobra.Command {
	return &cobra.Command{
		Use:   "completion SHELL",
		Short: "print the script that lets a shell complete commands, cues and players",
		Long: `Prints a script for bash, zsh, fish or powershell. Once the shell has read it, the Tab key completes
commands and flags, and the cue ids and players of the show on the line.

    source <(backfield completion bash)              # in ~/.bashrc; needs the package bash-completion
    source <(backfield completion zsh)               # in ~/.zshrc, after compinit
    backfield completion fish | source               # in ~/.config/fish/config.fish
    backfield completion powershell | Out-String | Invoke-Expression    # in $PROFILE`,
		Args:      verb.Exactly(1, "one of "+strings.Join(shells, ", ")),
		ValidArgs: shells,
		RunE: func(c *cobra.Command, args []string) error {
			verb.Whole(c)
			root, out := c.Root(), c.OutOrStdout()
			switch args[0] {
			case "bash":
				if err := root.GenBashCompletionV2(out, true); err != nil {
					return verb.Outside(err)
				}
				_, err := io.WriteString(out, shellquote.Bash)
				return verb.Outside(err)
			case "zsh":
				return verb.Outside(shellquote.Zsh(out, root.GenZshCompletion))
			case "fish":
				return verb.Outside(shellquote.Fish(out,
					func(w io.Writer) error { return root.GenFishCompletion(w, true) }))
			case "powershell":
				return verb.Outside(root.GenPowerShellCompletionWithDesc(out))
			}
			return verb.Wrong("no completion for the shell %q; %s", args[0],
				source.DidYouMean(args[0], shells, "it is "+source.OneOf(shells)))
		},
	}
}

// completeArguments lets a shell complete the words of a command's form: SHOW, CUE, PLAYER and files. What cannot be
// read completes nothing and prints nothing, since a message would land in the line that is being typed.
func completeArguments(c *cobra.Command) {
	words := strings.Fields(strings.NewReplacer("[", "", "]", "").Replace(c.Use))[1:]
	if c.ValidArgsFunction == nil && c.ValidArgs == nil && len(words) > 0 {
		c.ValidArgsFunction = func(c *cobra.Command, args []string, begun string) ([]string, cobra.ShellCompDirective) {
			if len(args) >= len(words) || words[len(args)] == "|" {
				return nil, cobra.ShellCompDirectiveNoFileComp
			}
			return completeWord(words[len(args)], args, begun)
		}
	}
	if f := c.Flags().Lookup("venue"); f != nil {
		c.RegisterFlagCompletionFunc("venue", byExtension("toml"))
	}
	if f := c.Flags().Lookup("from"); f != nil && strings.Contains(f.Usage, "`CUE`") {
		c.RegisterFlagCompletionFunc("from", func(c *cobra.Command, args []string, begun string) ([]string,
			cobra.ShellCompDirective) {
			return completeWord("CUE", args, begun)
		})
	}
	for flag, extension := range map[string]string{"journal": "jsonl", "resume": "jsonl", "audio": "wav",
		"sound": "wav"} {
		if c.Flags().Lookup(flag) != nil {
			c.RegisterFlagCompletionFunc(flag, byExtension(extension))
		}
	}
	for flag, words := range map[string][]string{"field": field.Codes(), "stacks": starter.StackCounts,
		"paper": paperSizes} {
		if c.Flags().Lookup(flag) != nil {
			c.RegisterFlagCompletionFunc(flag, cobra.FixedCompletions(words, cobra.ShellCompDirectiveNoFileComp))
		}
	}
	// Free words, and no files.
	for _, flag := range []string{"to", "at", "air", "listen", "against", "key", "day", "battery", "name", "packs",
		"column", "interface", "timeout", "seat", "player"} {
		if c.Flags().Lookup(flag) != nil {
			c.RegisterFlagCompletionFunc(flag, cobra.NoFileCompletions)
		}
	}
}

func byExtension(extension string) func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
	return cobra.FixedCompletions([]string{extension}, cobra.ShellCompDirectiveFilterFileExt)
}

// completeWord completes one word of a command's form. args are the arguments before it, the show first.
func completeWord(word string, args []string, begun string) ([]string, cobra.ShellCompDirective) {
	switch word {
	case "SHOW", "MIXER", "MIXER.toml":
		return []string{"toml"}, cobra.ShellCompDirectiveFilterFileExt
	case "JOURNAL":
		return []string{"jsonl"}, cobra.ShellCompDirectiveFilterFileExt
	case "FILE":
		return []string{"csv", "xlsx"}, cobra.ShellCompDirectiveFilterFileExt
	case "CUE", "PLAYER":
	default:
		return nil, cobra.ShellCompDirectiveDefault
	}
	if len(args) == 0 {
		return nil, cobra.ShellCompDirectiveNoFileComp
	}
	names := show.ReadNames(show.Disk{}, show.Path(args[0]))
	var list []string
	if word == "PLAYER" {
		for _, name := range names.Mics {
			list = append(list, oneLine(name))
		}
	} else {
		for _, x := range names.Cues {
			list = append(list, cobra.CompletionWithDesc(oneLine(x.ID), oneLine(x.Name)))
		}
	}
	var fit []string
	for _, x := range list {
		if strings.HasPrefix(strings.ToLower(x), strings.ToLower(begun)) {
			fit = append(fit, x)
		}
	}
	return fit, cobra.ShellCompDirectiveNoFileComp | cobra.ShellCompDirectiveKeepOrder
}

// oneLine keeps a text from a file in one line, since each line is one offer.
func oneLine(s string) string {
	return strings.Map(func(r rune) rune {
		if r < ' ' || r == 0x7F || r >= 0x80 && r < 0xA0 {
			return ' '
		}
		return r
	}, s)
}
