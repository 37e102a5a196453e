package main

import (
	"errors"
	"fmt"
	"io"
	"strings"

	"backfield/layout/source"
)

// The program's voice. Results go to stdout and talk to stderr; a message begins with what it is about, in
// small letters, and ends without a full stop; it says what to do wherever something can be done.

// Exit codes, for scripts. diff uses 0, 1 and 2 as the other diffs do: same, different, trouble.
const (
	exitFine     = 0
	exitProblems = 1 // the show has problems
	exitUsage    = 2 // the command was used wrongly
	exitWorld    = 3 // something could not be read, written or sent
)

// failure is an error with the exit code that it ends the program with. A nil err has been told already.
type failure struct {
	code int
	err  error
}

func (f *failure) Error() string {
	if f.err == nil {
		return ""
	}
	return f.err.Error()
}

func (f *failure) Unwrap() error { return f.err }

// misuse is a command line of a form that the command does not take; its help says which it does.
type misuse struct{ error }

func usage(format string, args ...any) error {
	return &failure{exitUsage, &misuse{fmt.Errorf(format, args...)}}
}

// wrong ends the program as usage does, where the form is right and a name or value in it is not: the message says
// what it may be, and no help says more.
func wrong(format string, args ...any) error { return &failure{exitUsage, fmt.Errorf(format, args...)} }

func world(err error) error {
	if err == nil {
		return nil
	}
	return &failure{exitWorld, err}
}

// told ends the program with a code after everything has been said.
func told(code int) error { return &failure{code: code} }

// farewell prints the error that ends the program, if it has not been told, and returns the exit code. An
// error without a code is the command line's.
func farewell(err error, stderr io.Writer) int {
	if err == nil {
		return exitFine
	}
	var f *failure
	if !errors.As(err, &f) {
		f = &failure{exitUsage, &misuse{err}}
	}
	if text := f.Error(); text != "" {
		fmt.Fprintf(stderr, "backfield: %s\n", strings.TrimSpace(text))
	}
	if form := (*misuse)(nil); errors.As(f, &form) {
		fmt.Fprintln(stderr, "see backfield --help, or --help after a command")
	}
	return f.code
}

func plural(n int, word string) string { return source.Count(float64(n), word) }
