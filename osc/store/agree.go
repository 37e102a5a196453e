package store

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"sync"
	"time"

	"backfield/cue"
	"backfield/osc"
	"backfield/osc/mixer"
	"backfield/osc/sent"
)

const (
	tries      = 20                     // to get a state confirmed
	blindSends = 3                      // how often a state is sent over UDP to a mixer that cannot confirm
	listens    = 200 * time.Millisecond // how long each try waits for replies
	spread     = 10 * time.Millisecond  // how much longer than the next message a store or recall may take to arrive
	calm       = 150 * time.Millisecond // after sending twice: longer than any network delays a packet
	polls      = 2 * time.Millisecond
	rounding   = 0.002 // the tolerance for a mixer without [echo]
	exact      = 1e-9
	maxListed  = 4 // values that an error lists
)

// unconfirmed is the error of a mixer that does not confirm what it was sent.
type unconfirmed struct{ text string }

func (u *unconfirmed) Error() string { return u.text }

// differs reports whether an error says that the mixer holds something else.
func differs(err error) bool {
	var u *unconfirmed
	return errors.As(err, &u)
}

// settle is the time that the mixer needs after a store or recall.
func (w *Walk) settle() time.Duration { return w.mixer.Store.Settle + spread }

// agree sends to the mixer until it confirms every value of a snapshot, at most so many times. With a mixer that cannot
// confirm, it waits for the settle time instead. say returns what to send for the values that are missing.
//
// It shares the feed's account of a value (sent.Value) and not the feed's rounds. A feed repeats one row at a time, at a
// share of the mixer's rate, for as long as it runs. A scene is stored at one moment, at which all values must be
// confirmed together, so each try here sends all that is missing, lets the mixer settle, and asks for all of it.
func (w *Walk) agree(
	ctx context.Context, s *cue.Snapshot, most int, settle time.Duration, say func(missing []osc.Message) []osc.Message,
) error {
	want := w.mixer.Messages(nil, s) // all values, in an order in which any of them may be sent
	if !w.Answers() {
		return w.sendBlind(ctx, say(want))
	}
	w.claims.want(want)
	missing := want
	for try := range most {
		if try == tries/2 {
			w.claims.believe(missing)
		}
		said := say(missing)
		if err := w.put(ctx, said, missing, settle); err != nil {
			return err
		}
		var err error
		if missing, err = w.listen(ctx, want, len(said) == 0); err != nil {
			return err
		}
		if len(missing) == 0 && try > 0 {
			if err := w.wait(ctx, calm); err != nil {
				return err
			}
			missing = w.missing(want)
		}
		if len(missing) == 0 {
			w.claims.believe(want) // its replies now are not stale
			return nil
		}
	}
	return &unconfirmed{w.claims.words(missing)}
}

// sendBlind sends a state to a mixer that cannot confirm, more than once if the network may lose it.
func (w *Walk) sendBlind(ctx context.Context, list []osc.Message) error {
	for n := 0; n == 0 || n < blindSends && w.claims.mayLose; n++ {
		if err := w.send(ctx, list...); err != nil {
			return err
		}
	}
	return w.wait(ctx, w.settle())
}

// put sends messages, waits, and asks for what is missing if the mixer has a query.
func (w *Walk) put(ctx context.Context, list, missing []osc.Message, settle time.Duration) error {
	w.claims.forget(list)
	if err := w.send(ctx, list...); err != nil {
		return err
	}
	if err := w.wait(ctx, settle); err != nil {
		return err
	}
	if w.mixer.Query == nil {
		return nil
	}
	w.claims.forget(missing)
	asks := make([]osc.Message, len(missing))
	for i, m := range missing {
		asks[i] = w.mixer.Ask(m.Address)
	}
	return w.send(ctx, asks...)
}

// listen waits a while for the mixer to confirm all values, and returns those that are still missing. If the mixer was
// only asked and has replied for every value, it holds something else, and there is no need to wait.
func (w *Walk) listen(ctx context.Context, want []osc.Message, asked bool) (missing []osc.Message, err error) {
	for end := time.Now().Add(listens); ; {
		if missing = w.missing(want); len(missing) == 0 || time.Now().After(end) {
			return missing, nil
		}
		if asked && w.claims.answered(missing) {
			return missing, &unconfirmed{w.claims.words(missing)}
		}
		if err := w.wait(ctx, polls); err != nil {
			return missing, err
		}
	}
}

// missing lists what the mixer has not confirmed.
func (w *Walk) missing(want []osc.Message) []osc.Message {
	if w.Dry != nil {
		return nil
	}
	return w.claims.missing(want)
}

// claims is what the mixer should hold, and what it replies.
type claims struct {
	mixer   *mixer.Mixer
	mayLose bool // the network may lose messages, and nothing is sent again

	mu     sync.Mutex
	values map[string]*claim // by address
}

// claim is one value and the mixer's reply for it.
type claim struct {
	sent.Value
	said  osc.Arg // the reply since the last forget; the zero Arg for none
	stale osc.Arg // the reply for the value before; the zero Arg for none
}

func newClaims(mixer *mixer.Mixer, mayLose bool) claims {
	return claims{mixer: mixer, mayLose: mayLose, values: map[string]*claim{}}
}

// hear takes the mixer's replies. It ignores addresses that no value has, so memory stays bounded.
func (c *claims) hear(list []osc.Message) {
	c.mu.Lock()
	defer c.mu.Unlock()
	for _, m := range list {
		if v := c.values[m.Address]; v != nil && len(m.Args) == 1 {
			v.said = m.Args[0]
		}
	}
}

// want sets the values that the mixer should confirm.
func (c *claims) want(list []osc.Message) {
	c.mu.Lock()
	defer c.mu.Unlock()
	for _, m := range list {
		v := c.values[m.Address]
		if v == nil {
			v = &claim{}
			c.values[m.Address] = v
		}
		if !v.Holds(m.Args[0]) {
			v.stale = v.said
			v.RecordSent(m.Args[0], time.Now())
		}
	}
}

// forget drops the replies so far.
func (c *claims) forget(list []osc.Message) {
	c.each(list, func(v *claim, _ osc.Message) { v.said = osc.Arg{} })
}

// believe accepts replies that looked stale. After several tries the mixer still replies the same, so its steps are
// coarser than its file says.
func (c *claims) believe(list []osc.Message) {
	c.each(list, func(v *claim, _ osc.Message) {
		v.stale = osc.Arg{}
		v.ForgetBefore()
	})
}

// missing lists what the mixer has not confirmed. The tolerance is a share of the value, so a step of a long delay may
// be within it. That is why a reply that is exactly the same as before the change does not confirm.
func (c *claims) missing(want []osc.Message) (list []osc.Message) {
	tolerance := c.mixer.EchoTolerance(rounding)
	c.each(want, func(v *claim, m osc.Message) {
		old := v.stale != (osc.Arg{}) && v.said == v.stale && !v.Confirms(v.said, exact)
		if v.said == (osc.Arg{}) || old || !v.Confirms(v.said, tolerance) {
			list = append(list, m)
		}
	})
	return list
}

// answered reports whether the mixer has replied for each value.
func (c *claims) answered(list []osc.Message) bool {
	all := true
	c.each(list, func(v *claim, _ osc.Message) { all = all && v.said != (osc.Arg{}) })
	return all
}

// words lists what the mixer has not confirmed.
func (c *claims) words(missing []osc.Message) string {
	var list []string
	c.each(missing[:min(len(missing), maxListed)], func(v *claim, m osc.Message) {
		if v.said == (osc.Arg{}) {
			list = append(list, fmt.Sprintf("%s (no reply)", m))
			return
		}
		list = append(list, fmt.Sprintf("%s (the mixer has %s)", m, v.said))
	})
	if more := len(missing) - len(list); more > 0 {
		list = append(list, fmt.Sprintf("and %d more", more))
	}
	return fmt.Sprintf("%s not confirmed: %s", count(len(missing), "value"), strings.Join(list, "; "))
}

// each calls do for each message whose value was ever wanted.
func (c *claims) each(list []osc.Message, do func(v *claim, m osc.Message)) {
	c.mu.Lock()
	defer c.mu.Unlock()
	for _, m := range list {
		if v := c.values[m.Address]; v != nil {
			do(v, m)
		}
	}
}
