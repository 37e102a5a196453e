package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"backfield/cmd/backfield/help"
	"backfield/cmd/backfield/publish"
	"backfield/cmd/backfield/verb"
)

func manCommand(root *cobra.Command) *cobra.Command {
	return &cobra.Command{
		Use:   "man DIR",
		Short: "write manual pages for the man command",
		Long: `Writes a manual page for each command into DIR, such as backfield-check.1, and one for backfield itself.
Put them where man finds them, such as ~/.local/share/man/man1.`,
		Args: verb.Exactly(1, "one DIR"),
		RunE: func(c *cobra.Command, args []string) error {
			verb.Whole(c)
			files := manPages(root)
			if err := publish.Files(args[0], files); err != nil {
				return verb.Outside(err)
			}
			verb.Note(c, "written to %s: %s", args[0], verb.Plural(len(files), "page"))
			return nil
		},
	}
}

// manPages are the manual pages of a command and all below it.
func manPages(c *cobra.Command) []publish.OutputFile {
	files := []publish.OutputFile{{Name: strings.ReplaceAll(c.CommandPath(), " ", "-") + ".1", Data: manPage(c)}}
	for _, sub := range c.Commands() {
		if sub.IsAvailableCommand() && sub.Name() != "help" {
			files = append(files, manPages(sub)...)
		}
	}
	return files
}

// manPage is the page of one command, in the macros of man(7).
func manPage(c *cobra.Command) []byte {
	var b strings.Builder
	name := strings.ReplaceAll(c.CommandPath(), " ", "-")
	line := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	line(`.TH "%s" "1" "" "backfield %s" "Backfield"`, roff(strings.ToUpper(name)), roff(release))
	line(".SH NAME\n%s \\- %s", roff(name), roff(c.Short))
	line(".SH SYNOPSIS")
	use := c.UseLine()
	if !c.Runnable() {
		use = c.CommandPath() + " COMMAND [flags]"
	}
	line(".B %s", roff(use))
	line(".SH DESCRIPTION")
	text := c.Long
	if text == "" {
		text = c.Short
	}
	b.WriteString(manText(text))
	flags := func(title string, set *pflag.FlagSet) {
		if !set.HasAvailableFlags() {
			return
		}
		line(".SH %s", title)
		set.VisitAll(func(f *pflag.Flag) {
			if f.Hidden {
				return
			}
			value, usage := pflag.UnquoteUsage(f)
			head := `\fB` + roff("--"+f.Name) + `\fR`
			if f.Shorthand != "" {
				head = `\fB` + roff("-"+f.Shorthand) + `\fR, ` + head
			}
			if value != "" {
				head += ` \fI` + roff(value) + `\fR`
			}
			line(".TP\n%s\n%s", head, roff(usage))
		})
	}
	flags("OPTIONS", c.NonInheritedFlags())
	flags("COMMON OPTIONS", c.InheritedFlags())
	if c.HasAvailableSubCommands() {
		line(".SH COMMANDS")
		for _, sub := range c.Commands() {
			if sub.IsAvailableCommand() {
				line(".TP\n\\fB%s\\fR\n%s", roff(sub.Name()), roff(sub.Short))
			}
		}
	}
	line(".SH SEE ALSO")
	if c.HasParent() {
		line(".BR %s (1),", roff(strings.ReplaceAll(c.Root().Name(), " ", "-")))
	}
	line("%s", roff("the reference pages: backfield help TOPIC, where TOPIC is "+strings.Join(help.Topics(), ", ")))
	return []byte(b.String())
}

// manText formats a command's help: paragraphs are filled, indented lines stay as they are.
func manText(text string) string {
	var b strings.Builder
	as := false
	for line := range strings.Lines(text) {
		line = strings.TrimRight(line, "\n")
		switch shown := strings.HasPrefix(line, "    "); {
		case shown && !as:
			b.WriteString(".PP\n.RS 4\n.nf\n")
			as = true
		case !shown && as:
			b.WriteString(".fi\n.RE\n")
			as = false
		}
		if line == "" {
			b.WriteString(".PP\n")
			continue
		}
		b.WriteString(roff(strings.TrimSpace(line)) + "\n")
	}
	if as {
		b.WriteString(".fi\n.RE\n")
	}
	return strings.ReplaceAll(b.String(), ".PP\n.PP\n", ".PP\n")
}

// roff escapes a text, so that none of it is read as a request, and hyphens can be copied as typed.
func roff(text string) string {
	text = strings.NewReplacer(`\`, `\e`, "-", `\-`, `"`, `\(dq`, "'", `\(aq`).Replace(text)
	if strings.HasPrefix(text, ".") {
		text = `\&` + text
	}
	return text
}
