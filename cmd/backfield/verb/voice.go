package verb

import (
	"encoding/json"
	"fmt"
	"io"
	"os"
	"strings"

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
	p := source.Printer{Color: useColor(c, w), Columns: term.Columns(w), Wrap: term.Wrap}
	if f, ok := w.(*visible.Writer); ok && (p.Color || p.Columns > 0) {
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

// dimInk begins what matters less on a terminal, and plainInk ends it (ECMA-48, Select Graphic Rendition: faint).
const dimInk, plainInk = "\x1b[2m", "\x1b[0m"

// PrintLines prints lines of a result, broken where the terminal is too narrow. From the byte on that aside gives, a line
// matters less, and is dim where there is color.
func PrintLines(c *cobra.Command, lines []string, aside func(line string) int) {
	out := c.OutOrStdout()
	f, ok := out.(*visible.Writer)
	if !ok || !useColor(c, out) {
		for _, line := range lines {
			fmt.Fprintln(out, line)
		}
		return
	}
	columns := term.Columns(out)
	for _, line := range lines {
		line = visible.Text(line)
		dim, passed, open := aside(line), 0, ""
		for _, part := range term.Wrap(line, columns) {
			// Breaks change only spaces, so that place is found again by what is not one.
			at := 0
			for at < len(part) && passed < letters(line[:dim]) {
				passed += letters(part[at : at+1])
				at++
			}
			if at < len(part) {
				open, part = plainInk, part[:at]+dimInk+part[at:]
			}
			fmt.Fprintln(f.Unfiltered(), part+open)
		}
	}
}

// letters is how many bytes of a text are no spaces.
func letters(text string) int { return len(text) - strings.Count(text, " ") }

// NewProgressBar is a progress bar on stderr, for work that starts now.
func NewProgressBar(c *cobra.Command, what string) *term.ProgressBar {
	if Quiet(c) {
		return term.NewProgressBar(io.Discard, what)
	}
	return term.NewProgressBar(c.ErrOrStderr(), what)
}

// Whole leaves the lines of a result as they are on a terminal too, since they are for a program or to be copied.
func Whole(c *cobra.Command) {
	if f, ok := c.OutOrStdout().(*visible.Writer); ok {
		f.Shape(nil)
	}
}

// WriteJSON prints a value as indented JSON.
func WriteJSON(c *cobra.Command, v any) error {
	Whole(c)
	e := json.NewEncoder(c.OutOrStdout())
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	return Outside(e.Encode(v))
}
