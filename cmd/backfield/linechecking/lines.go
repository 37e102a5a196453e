package linechecking

import (
	"cmp"
	"context"
	"fmt"
	"io"
	"strings"
	"time"

	"backfield/cmd/backfield/term"
	"backfield/osc/linecheck"
)

// longWait is how long the line "settle" waits.
const longWait = 10 * time.Second

// lineOperator takes keys as words, one on a line, and prints each pack as it opens.
type lineOperator struct {
	*Session
	out, errs io.Writer
	shown     string            // what was printed last
	since     time.Time         // when something began to be waited for
	page      func(rest string) // prints the link of the page; nil without one
}

// Lines takes keys as words until someone quits or the input or the context ends. Answers go to out, errors to errs.
// page prints the link of the page; it is nil without one.
func (x *Session) Lines(ctx context.Context, in io.Reader, out, errs io.Writer, page func(rest string)) {
	o := &lineOperator{Session: x, out: out, errs: errs, page: page}
	lines := term.Lines(ctx, in)
	tick := time.NewTicker(lookEvery)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
			o.show()
		case line, more := <-lines:
			if !more || !o.line(ctx, strings.TrimSpace(line)) {
				return
			}
		}
	}
}

// line carries out a line. more is false if it ends the check.
func (o *lineOperator) line(ctx context.Context, line string) (more bool) {
	word, rest, _ := strings.Cut(line, " ")
	switch {
	case line == "" || strings.HasPrefix(line, "#"):
		return true
	case word == "wait":
		d, err := time.ParseDuration(strings.TrimSpace(rest))
		if err != nil || d < 0 || d > time.Hour {
			fmt.Fprintf(o.errs, "backfield: cannot wait %q; type it like this: wait 2s (an hour at most)\n", rest)
			return true
		}
		o.until(ctx, d, func() bool { return false })
		return true
	case line == "settle":
		if !o.until(ctx, longWait, o.Settled) {
			fmt.Fprintf(o.errs, "backfield: not open after %v: %s\n", longWait, o.View().Alarm)
		}
		return true
	case line == "status":
		o.shown = ""
		o.show()
		for _, text := range o.Summary() {
			fmt.Fprintln(o.out, text)
		}
		return true
	case line == "help" || line == "?":
		for _, c := range Controls {
			fmt.Fprintf(o.out, "%s  %-9s %s\n", c.Letter, c.Key, c.Does)
		}
		return true
	case word == "page" && o.page != nil:
		o.page(strings.TrimSpace(rest))
		return true
	}
	key, who, err := parseLine(line)
	said := ""
	switch {
	case err == nil && key == KeyQuit:
		return false
	case err == nil:
		said, err = o.Give(linecheck.CheckPress{Key: key, Who: who})
	}
	if err != nil {
		fmt.Fprintf(o.errs, "backfield: %v\n", err)
		return true
	}
	fmt.Fprintln(o.out, said)
	return true
}

// until waits until something is so, and prints what changes meanwhile. It reports whether it is so.
func (o *lineOperator) until(ctx context.Context, most time.Duration, so func() bool) bool {
	for end := time.Now().Add(most); ; time.Sleep(lookEvery / 2) {
		yes := so()
		o.show()
		if yes || ctx.Err() != nil || time.Now().After(end) {
			return yes
		}
	}
}

// show prints the pack at hand once it is open, and otherwise what is waited for, if that takes long.
func (o *lineOperator) show() {
	v, now := o.View(), time.Now()
	waits := v.Phase == linecheck.Opening || v.Phase == linecheck.Closing
	if !waits || o.since.IsZero() {
		o.since = now
	}
	text := strings.Join(Card(v), "\n")
	if waits {
		text = ""
		if now.Sub(o.since) > patience {
			text = cmp.Or(v.Alarm, v.State)
		}
	}
	if text == "" || text == o.shown {
		return
	}
	if o.shown = text; waits {
		fmt.Fprintln(o.errs, "backfield: "+text)
	} else {
		fmt.Fprintln(o.out, text)
	}
}

// Card is the pack at hand in a few lines, for a screen without room for more.
func Card(v CheckScreen) (lines []string) {
	if v.Pack == nil {
		lines = append(lines, fmt.Sprintf("no pack is left: %d of %d good; again goes through the others",
			v.Good, v.Of))
	} else {
		lines = append(lines, fmt.Sprintf("%d of %d  %s  %s  %s  channel %d", v.Number, v.Of, v.Pack.Player,
			v.Pack.Section, v.Pack.ID(), v.Pack.Channel))
		if facts := Facts(v); len(facts) > 0 {
			lines = append(lines, "  "+strings.Join(facts, "; "))
		}
	}
	lines = append(lines, v.State)
	for _, text := range []string{v.Outside, v.Hint} {
		if text != "" {
			lines = append(lines, text)
		}
	}
	if v.Offer != "" {
		lines = append(lines, v.Offer+", type: tonight")
	}
	return lines
}

// Facts are what is known about the pack at hand: where its player stands, where the mic is, its batteries, who gets it
// later, and what was found before.
func Facts(v CheckScreen) (list []string) {
	if v.Pack == nil {
		return nil
	}
	for _, text := range []string{v.Pack.Where, v.Pack.Mic, v.Batteries} {
		if text != "" {
			list = append(list, text)
		}
	}
	if v.Pack.Later != "" {
		list = append(list, "later "+v.Pack.Later)
	}
	if v.Before != "" {
		list = append(list, "before: "+v.Before)
	}
	return list
}
