// Package trigger takes commands for a run from other machines. A source reads them from the network and has them
// carried out; Port is the source for OSC. The package knows the run's commands and nothing else about a run.
package trigger

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"backfield/osc"
	"backfield/osc/run"
)

// triggers lists the commands over OSC and their arguments. Only the operator can use status.
var triggers = map[string]struct {
	verb run.Verb
	args string // in words; empty for no argument, or a button's
}{
	"/backfield/go":      {run.Go, ""},
	"/backfield/back":    {run.Back, ""},
	"/backfield/jump":    {run.Jump, "a cue's id or a count, as one string or whole number"},
	"/backfield/hush":    {run.Hush, ""},
	"/backfield/unhush":  {run.Unhush, ""},
	"/backfield/start":   {run.Start, ""},
	"/backfield/stop":    {run.Stop, ""},
	"/backfield/hold":    {run.Hold, "a name, as one string"},
	"/backfield/release": {run.Release, "a name, as one string"},
	"/backfield/swap":    {run.Swap, "a name and the spare's channel, as a string and a whole number; 0 swaps back"},
	"/backfield/nudge":   {run.Nudge, "a name and dB, as a string and a number"},
	"/backfield/quit":    {run.Quit, fmt.Sprintf("the text %q, as one string", quitText)},
}

// renamed maps the addresses of earlier versions to the current ones.
var renamed = map[string]string{"/backfield/to": "/backfield/jump", "/backfield/restore": "/backfield/unhush"}

// quitText is what the command to quit must come with, so that no button sends it by accident.
const quitText = "end the run"

// maxNameBytes limits a name or a count. No real one is that long.
const maxNameBytes = 100

// Message reads a message as a command. A command without arguments may have one number or boolean, since buttons send
// one: 0 and false mean that the button was released, and act is false. No button sends a number below 0. An address is
// never taken as a pattern. The error is for a message that is not a command, or one that run.Parse would refuse as typed
// text.
func Message(m osc.Message) (c run.Command, act bool, err error) {
	t, known := triggers[m.Address]
	if now := renamed[m.Address]; now != "" {
		return run.Command{}, false, fmt.Errorf("%s is now %s", m.Address, now)
	}
	if !known {
		return run.Command{}, false, fmt.Errorf("%.60q is not a command", m.Address)
	}
	if t.args == "" {
		v, ok := button(m.Args)
		if !ok || v < 0 && t.verb != run.Hush { // hush is never refused for a number
			return run.Command{}, false, fmt.Errorf("%s takes no argument, or a button's value: one number, "+
				"not below 0, or boolean; it came with %s", m.Address, came(m.Args))
		}
		return run.Command{Verb: t.verb}, v != 0, nil
	}
	if c, known = fill(t.verb, m.Args); !known {
		return run.Command{}, false, fmt.Errorf("%s takes %s; it came with %s", m.Address, t.args, came(m.Args))
	}
	if typed, err := run.Parse(c.String()); err != nil {
		return run.Command{}, false, fmt.Errorf("%s: %w", m.Address, err)
	} else if typed != c {
		return run.Command{}, false, fmt.Errorf("%s: %q cannot be part of a command", m.Address, c.Name)
	}
	return c, true, nil
}

// came lists arguments as they came, shortened.
func came(args []osc.Arg) string {
	if len(args) == 0 {
		return "nothing"
	}
	var words []string
	for _, a := range args[:min(len(args), 3)] {
		words = append(words, fmt.Sprintf("%.40q", a.String()))
	}
	if n := len(args) - len(words); n > 0 {
		words = append(words, fmt.Sprintf("%d more", n))
	}
	return strings.Join(words, ", ")
}

// button reads the arguments of a command that takes none: a button's value, 1 for none.
func button(args []osc.Arg) (v float64, ok bool) {
	if len(args) == 0 {
		return 1, true
	}
	v, ok = args[0].Number()
	return v, ok && len(args) == 1 && !math.IsNaN(v)
}

// fill makes the command of a verb that takes arguments.
func fill(verb run.Verb, args []osc.Arg) (c run.Command, ok bool) {
	want := 1
	if verb == run.Swap || verb == run.Nudge {
		want = 2
	}
	if len(args) != want {
		return c, false
	}
	c.Verb = verb
	if n, isWhole := whole(args[0]); verb == run.Jump && isWhole {
		c.Name = strconv.FormatInt(n, 10)
		return c, true
	}
	name, ok := args[0].Text()
	if c.Name = strings.Join(strings.Fields(name), " "); !ok || len(name) > maxNameBytes {
		return c, false
	}
	switch verb {
	case run.Quit:
		said := c.Name
		c.Name = ""
		return c, strings.EqualFold(said, quitText)
	case run.Swap:
		n, ok := whole(args[1])
		c.Channel = int(n)
		return c, ok && n >= 0 && n <= math.MaxInt32
	case run.Nudge:
		c.DB, ok = args[1].Decimal()
		return c, ok
	}
	return c, true
}

// whole reads a whole number. Many controllers send floats only, so one without a fraction is whole, as far as a 32-bit
// float has every whole number.
func whole(a osc.Arg) (n int64, ok bool) {
	if n, ok = a.Int(); ok {
		return n, true
	}
	v, ok := a.Decimal()
	return int64(v), ok && math.Abs(v) <= 1<<24 && v == math.Trunc(v)
}
