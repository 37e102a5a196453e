package verb

import (
	"encoding/json"
	"fmt"
	"io"
	"os"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/term"
	"backfield/layout/source"
	"backfield/layout/visible"
)

// VoiceFlags are the flags of every command about how the program talks.
func VoiceFlags(root *cobra.Command) {
	f := root.PersistentFlags()
	f.String("color", "auto", "`WHEN` to use color for problems: auto (on a terminal, unless NO_COLOR is "+
		"set), always or never")
	f.BoolP("quiet", "q", false, "print only what you asked for and what is wrong")
	f.Bool("verbose", false, "also list the files that were read and how long it took")
	root.MarkFlagsMutuallyExclusive("quiet", "verbose")
	root.RegisterFlagCompletionFunc("color", cobra.FixedCompletions(Colorings, cobra.ShellCompDirectiveNoFileComp))
	root.PersistentPreRunE = func(c *cobra.Command, args []string) error {
		if v, _ := c.Flags().GetString("color"); v != "auto" && v != "always" && v != "never" {
			return Wrong("--color %q; %s", v, source.DidYouMean(v, Colorings, "it is "+source.OneOf(Colorings)))
		}
		return nil
	}
}

var Colorings = []string{"auto", "always", "never"}

// Quiet reports whether nothing is to be said that is neither a result nor wrong.
func Quiet(c *cobra.Command) bool {
	v, _ := c.Flags().GetBool("quiet")
	return v
}

// Detail says something that only --verbose wants to know.
func Detail(c *cobra.Command, format string, args ...any) {
	if v, _ := c.Flags().GetBool("verbose"); v {
		fmt.Fprintf(c.ErrOrStderr(), format+"\n", args...)
	}
}

// Note prints something that is neither a result nor a problem.
func Note(c *cobra.Command, format string, args ...any) {
	if !Quiet(c) {
		fmt.Fprintf(c.ErrOrStderr(), format+"\n", args...)
	}
}

// PrintProblems prints problems to w, in color if that is wanted.
func PrintProblems(c *cobra.Command, w io.Writer, problems []source.Problem) {
	p := source.Printer{Color: useColor(c, w)}
	if f, ok := w.(*visible.Writer); ok && p.Color {
		w = f.Unfiltered() // the printer makes the text visible, and its colors must get through
	}
	p.Print(w, problems)
}

// useColor reports whether color is wanted at w: on a terminal that knows it, unless the user's environment says no
// (NO_COLOR, no-color.org).
func useColor(c *cobra.Command, w io.Writer) bool {
	switch v, _ := c.Flags().GetString("color"); v {
	case "always":
		return true
	case "auto":
		return os.Getenv("NO_COLOR") == "" && term.Drawable(w)
	}
	return false
}

// NewProgressBar is a progress bar on stderr, for work that starts now.
func NewProgressBar(c *cobra.Command, what string) *term.ProgressBar {
	if Quiet(c) {
		return term.NewProgressBar(io.Discard, what)
	}
	return term.NewProgressBar(c.ErrOrStderr(), what)
}

// WriteJSON prints a value as indented JSON.
func WriteJSON(c *cobra.Command, v any) error {
	e := json.NewEncoder(c.OutOrStdout())
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	return Outside(e.Encode(v))
}
