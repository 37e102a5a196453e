package liverun

import (
	"context"
	"fmt"
	"io"
	"strings"
	"time"

	"backfield/cmd/backfield/term"
	"backfield/osc/run"
)

// Operate takes commands, one a line, until the operator quits or the input or the context ends. Answers go to out,
// errors to errs. page is nil if there is none. At the end of the input it waits until everything is sent.
func (r *LiveRun) Operate(ctx context.Context, in io.Reader, out, errs io.Writer, page *RunPage) {
	lines := term.Lines(ctx, in)
	for {
		select {
		case <-ctx.Done():
			return
		case line, more := <-lines:
			if !more {
				if !r.settle(ctx, lastWait) && ctx.Err() == nil {
					fmt.Fprintf(errs, "backfield: stdin has ended, but after %v a mixer may not have everything: "+
						"check the mixer\n", lastWait)
				}
				return
			}
			if !r.runLine(ctx, out, errs, page, line) {
				return
			}
		}
	}
}

const (
	lastWait = 5 * time.Second  // at the end of stdin, for the mixers to settle
	longWait = 30 * time.Second // for the line "settle"
)

// runLine carries out a line. more is false if it ends the run. page is nil if there is none.
func (r *LiveRun) runLine(ctx context.Context, out, talk io.Writer, page *RunPage, line string) (more bool) {
	line = strings.TrimSpace(line)
	word, rest, _ := strings.Cut(line, " ")
	switch {
	case line == "" || strings.HasPrefix(line, "#"):
		return true
	case word == "wait":
		d, err := time.ParseDuration(strings.TrimSpace(rest))
		if err != nil || d < 0 || d > time.Hour {
			fmt.Fprintf(talk, "backfield: cannot wait %q; type it like this: wait 2s (an hour at most)\n", rest)
			return true
		}
		select {
		case <-time.After(d):
		case <-ctx.Done():
		}
		return true
	case word == "page" && page != nil:
		page.Print(talk, strings.TrimSpace(rest))
		return true
	case word == "settle":
		if r.settle(ctx, longWait) {
			fmt.Fprintln(out, "settled")
		} else {
			fmt.Fprintf(talk, "backfield: not settled after %v\n", longWait)
		}
		return true
	}
	command, err := run.Parse(line)
	said := ""
	if err == nil {
		said, err = r.Do(command)
	}
	if err != nil {
		fmt.Fprintf(talk, "backfield: %v\n", err)
		return true
	}
	fmt.Fprintln(out, said)
	return command.Verb != run.Quit
}

// settle waits until the mixers hold what they should. It reports whether they do.
func (r *LiveRun) settle(ctx context.Context, most time.Duration) bool {
	for end := time.Now().Add(most); time.Now().Before(end) && ctx.Err() == nil; time.Sleep(5 * time.Millisecond) {
		if r.Driver.Settled() {
			return true
		}
	}
	return r.Driver.Settled()
}
