package learning

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"backfield/cue/keep"
	"backfield/osc/presses"
	"backfield/osc/run"
)

// Learned are the commands that are asked for, in this order.
var Learned = []run.Verb{run.Go, run.Back, run.Hush, run.Unhush}

// quiet is how long after a press further messages count as the same press: a switch may send several.
const quiet = 400 * time.Millisecond

// Learner asks for presses. Lines are what is typed; it may be closed.
type Learner struct {
	MIDI   <-chan CableEvent
	Lines  <-chan string
	Out    io.Writer
	Remote *presses.Remote // what is mapped now
}

var errStopped = errors.New("stopped: nothing was written")

// Ask asks for a press for each command, which Enter skips. The error is of a cable or an operator that ends it.
func (l *Learner) Ask(ctx context.Context) (rows []keep.PressRow, err error) {
	fmt.Fprintln(l.Out, "Press what is to give each command. Enter leaves a command as it is; Ctrl-C changes nothing.")
	taken := map[string]run.Verb{}
	var last time.Time
	for _, verb := range Learned {
		fmt.Fprintf(l.Out, "%s (now: %s): press it\n", verb, Mapped(l.Remote, verb))
		for answered := false; !answered; {
			select {
			case <-ctx.Done():
				return nil, errStopped
			case _, typed := <-l.Lines:
				if !typed {
					l.Lines = nil // nobody skips any more
					continue
				}
				fmt.Fprintf(l.Out, "  %s stays as it is\n", verb)
				answered = true
			case x := <-l.MIDI:
				if x.Err != nil {
					return nil, x.Err
				}
				pedal, is := presses.PedalOf(x.Message)
				if !is || x.At.Sub(last) < quiet {
					continue
				}
				last = x.At
				name := pedal.String()
				if other, known := taken[name]; known {
					fmt.Fprintf(l.Out, "  %s is %s already: press another one\n", name, other)
					continue
				}
				taken[name] = verb
				rows = append(rows, keep.PressRow{Key: string(verb), Message: name})
				fmt.Fprintf(l.Out, "  %s came: %s\n", x.Message, name)
				answered = true
			}
		}
	}
	return rows, nil
}

// Yes asks a question until a typed line is yes or no. The end of what is typed is a no.
func (l *Learner) Yes(ctx context.Context, question string) bool {
	for {
		fmt.Fprintf(l.Out, "%s [yes/no] ", question)
		select {
		case <-ctx.Done():
			return false
		case line, typed := <-l.Lines:
			switch strings.ToLower(strings.TrimSpace(line)) {
			case "y", "yes":
				return true
			case "n", "no":
				return false
			}
			if !typed {
				fmt.Fprintln(l.Out)
				return false
			}
		}
	}
}

// Mapped names the messages that give a command, "nothing" for none.
func Mapped(r *presses.Remote, verb run.Verb) string {
	var list []string
	for _, x := range r.Presses {
		if x.Command.Verb == verb {
			list = append(list, x.Pedal.String())
		}
	}
	if list == nil {
		return "nothing"
	}
	return strings.Join(list, ", ")
}
