// Package verb is what the verbs of the command share: how they read a show, where they send, what they say, and the
// exit codes that they end with.
package verb

import (
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"backfield/layout/source"
)

// The program's voice. Results go to stdout and talk to stderr; a message begins with what it is about, in
// small letters, and ends without a full stop; it says what to do wherever something can be done.

// Exit codes, for scripts. diff uses 0, 1 and 2 as other diffs do: same, different, failed.
const (
	ExitFine     = 0
	ExitProblems = 1 // the show has problems
	ExitUsage    = 2 // the command was used wrongly
	ExitWorld    = 3 // something could not be read, written or sent
)

// Failure is an error with the exit code that it ends the program with. A nil err has been reported already.
type Failure struct {
	code int
	err  error
}

func (f *Failure) Error() string {
	if f.err == nil {
		return ""
	}
	return f.err.Error()
}

func (f *Failure) Unwrap() error { return f.err }

// misuse is a command line that does not have the form in the command's help.
type misuse struct{ error }

// Usage ends the program because of the form of the command line; it refers to the help.
func Usage(format string, args ...any) error {
	return &Failure{ExitUsage, &misuse{fmt.Errorf(format, args...)}}
}

// Wrong ends the program where the form of the command line is right and a name or value in it is not. The message says
// what it can be, so there is no reference to the help.
func Wrong(format string, args ...any) error { return &Failure{ExitUsage, fmt.Errorf(format, args...)} }

// Outside ends the program because something could not be read, written or sent. A nil error is no failure.
func Outside(err error) error {
	if err == nil {
		return nil
	}
	return &Failure{ExitWorld, err}
}

// With is an error that ends the program with a code.
func With(code int, err error) error { return &Failure{code, err} }

// Exit ends the program with a code after everything has been said.
func Exit(code int) error { return &Failure{code: code} }

// ExitCode prints the error that ends the program, unless it was reported already, and returns the exit code. An error
// without a code comes from reading the command line.
func ExitCode(err error, stderr io.Writer) int {
	if err == nil {
		return ExitFine
	}
	var f *Failure
	if !errors.As(err, &f) {
		f = &Failure{ExitUsage, &misuse{err}}
	}
	if text := f.Error(); text != "" {
		fmt.Fprintf(stderr, "backfield: %s\n", strings.TrimSpace(text))
	}
	if form := (*misuse)(nil); errors.As(f, &form) {
		fmt.Fprintln(stderr, "see backfield --help, or backfield COMMAND --help")
	}
	return f.code
}

// Plural is a number of things in words: "2 cues".
func Plural(n int, word string) string { return source.Count(float64(n), word) }

// Exactly requires n arguments, named for the message.
func Exactly(n int, names string) cobra.PositionalArgs {
	return func(c *cobra.Command, args []string) error {
		if len(args) != n {
			return Usage("%s takes %s, not %s", c.Name(), names, Plural(len(args), "argument"))
		}
		return nil
	}
}
