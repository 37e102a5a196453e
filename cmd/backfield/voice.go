package main

import (
	"fmt"
	"io"
	"os"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/term"
	"backfield/layout/source"
)

// voiceFlags are the flags of every command about how the program talks.
func voiceFlags(root *cobra.Command) {
	f := root.PersistentFlags()
	f.String("color", "auto", "`WHEN` to colour problems: auto (on a terminal, unless NO_COLOR is set), always or never")
	f.BoolP("quiet", "q", false, "say only what was asked for and what is wrong")
	f.Bool("verbose", false, "say also which files were read and how long it took")
	root.MarkFlagsMutuallyExclusive("quiet", "verbose")
	root.RegisterFlagCompletionFunc("color", cobra.FixedCompletions(colourings, cobra.ShellCompDirectiveNoFileComp))
	root.PersistentPreRunE = func(c *cobra.Command, args []string) error {
		if v, _ := c.Flags().GetString("color"); v != "auto" && v != "always" && v != "never" {
			return wrong("--color %q; %s", v, source.DidYouMean(v, colourings, "it is "+source.OneOf(colourings)))
		}
		return nil
	}
}

var colourings = []string{"auto", "always", "never"}

// quiet reports whether nothing is to be said that is neither a result nor wrong.
func quiet(c *cobra.Command) bool {
	v, _ := c.Flags().GetBool("quiet")
	return v
}

// detail says something that only --verbose wants to know.
func detail(c *cobra.Command, format string, args ...any) {
	if v, _ := c.Flags().GetBool("verbose"); v {
		fmt.Fprintf(c.ErrOrStderr(), format+"\n", args...)
	}
}

// aside says something that is neither a result nor wrong.
func aside(c *cobra.Command, format string, args ...any) {
	if !quiet(c) {
		fmt.Fprintf(c.ErrOrStderr(), format+"\n", args...)
	}
}

// printProblems prints problems to w, in colour where that is wanted.
func printProblems(c *cobra.Command, w io.Writer, problems []source.Problem) {
	source.Printer{Colour: coloured(c, w)}.Print(w, problems)
}

// coloured reports whether colour is wanted at w: on a terminal that knows it, unless the user's environment says no
// (NO_COLOR, no-color.org).
func coloured(c *cobra.Command, w io.Writer) bool {
	switch v, _ := c.Flags().GetString("color"); v {
	case "always":
		return true
	case "auto":
		return os.Getenv("NO_COLOR") == "" && term.Drawable(w)
	}
	return false
}

// newBar is a progress bar on stderr, for work that begins now.
func newBar(c *cobra.Command, what string) *term.Bar {
	if quiet(c) {
		return term.NewBar(io.Discard, what)
	}
	return term.NewBar(c.ErrOrStderr(), what)
}
