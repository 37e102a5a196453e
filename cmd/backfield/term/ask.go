package term

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"strings"
)

// ErrNoAnswer is the error of a question whose input has ended.
var ErrNoAnswer = errors.New("no answer")

// Asker asks for values on a terminal. A quiet one asks nothing and leaves the defaults.
type Asker struct {
	in    *bufio.Scanner
	out   io.Writer
	quiet bool
}

// NewAsker asks on out and reads the answers from in.
func NewAsker(in io.Reader, out io.Writer, quiet bool) *Asker {
	return &Asker{in: bufio.NewScanner(in), out: out, quiet: quiet}
}

// Put asks until check accepts the answer, and sets value to it. An empty answer leaves the value as it is. The error
// is ErrNoAnswer, at the end of the input.
func (a *Asker) Put(question string, value *string, check func(string) error) error {
	for !a.quiet {
		if *value == "" {
			fmt.Fprintf(a.out, "%s: ", question)
		} else {
			fmt.Fprintf(a.out, "%s [%s]: ", question, *value)
		}
		if !a.in.Scan() {
			fmt.Fprintln(a.out)
			return ErrNoAnswer
		}
		answer := strings.TrimSpace(a.in.Text())
		if answer == "" {
			return nil
		}
		if err := check(answer); err != nil {
			fmt.Fprintln(a.out, err)
			continue
		}
		*value = answer
		return nil
	}
	return nil
}

// AskYes asks a question until the answer is yes or no. The end of the input is a no.
func AskYes(r io.Reader, w io.Writer, question string) bool {
	yes, _ := NewAsker(r, w, false).Yes(question)
	return yes
}

// Yes asks a question until the answer is yes or no. A quiet Asker says yes. The error is ErrNoAnswer, at the end of the
// input.
func (a *Asker) Yes(question string) (bool, error) {
	for !a.quiet {
		fmt.Fprintf(a.out, "%s [yes/no] ", question)
		if !a.in.Scan() {
			fmt.Fprintln(a.out)
			return false, ErrNoAnswer
		}
		switch strings.ToLower(strings.TrimSpace(a.in.Text())) {
		case "y", "yes":
			return true, nil
		case "n", "no":
			return false, nil
		}
	}
	return true, nil
}
