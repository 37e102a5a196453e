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
	"backfield/osc/feed"
	"backfield/osc/mixer"
)

const (
	tries      = 20                     // to have the mixer confirm a state
	blindSends = 3                      // how often a mixer that confirms nothing is sent a state over UDP
	listens    = 200 * time.Millisecond // for an answer, each time
	spread     = 10 * time.Millisecond  // how much longer than the next message a store or recall may be under way
	calm       = 150 * time.Millisecond // after something was sent twice: no network holds a packet up for longer
	polls      = 2 * time.Millisecond
	rounding   = 0.002 // the tolerance of a mixer without [echo], which has one
	exact      = 1e-9
	maxListed  = 4 // values that a message names
)

// unconfirmed is the error of a mixer that was sent something, and does not say that it holds it.
type unconfirmed struct{ text string }

func (u *unconfirmed) Error() string { return u.text }

// differs reports whether an error is that of a mixer that holds something else.
func differs(err error) bool {
	var u *unconfirmed
	return errors.As(err, &u)
}

// settle is what the mixer needs after a store or recall.
func (w *Walk) settle() time.Duration { return w.mixer.Store.Settle + spread }

// agree says something to the mixer until it confirms every value of a snapshot, most times. A mixer that confirms
// nothing is given the time that it needs after a store instead.
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
			w.claims.believe(want) // what it says of them now is not stale
			return nil
		}
	}
	return &unconfirmed{w.claims.words(missing)}
}

// sendBlind sends a state to a mixer that confirms nothing, more than once where the network may lose it.
func (w *Walk) sendBlind(ctx context.Context, list []osc.Message) error {
	for n := 0; n == 0 || n < blindSends && w.claims.mayLose; n++ {
		if err := w.send(ctx, list...); err != nil {
			return err
		}
	}
	return w.wait(ctx, w.settle())
}

// put sends messages, waits, and asks for what is missing, if the mixer can be asked.
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

// listen waits until the mixer has confirmed all values, for as long as it is listened to. It returns those that it has
// not. A mixer that was only asked is not waited for once it has answered everything: then it differs.
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

// claims is what a mixer is meant to hold, and what it says of that.
type claims struct {
	mixer   *mixer.Mixer
	mayLose bool // the network may lose what a mixer is sent that confirms nothing

	mu     sync.Mutex
	values map[string]*claim // by address
}

// claim is one value, and what the mixer says of it.
type claim struct {
	feed.Value
	said  osc.Arg // since it was last forgotten; the zero Arg for nothing
	stale osc.Arg // what it said of the value before; the zero Arg for nothing
}

func newClaims(mixer *mixer.Mixer, lossy bool) claims {
	return claims{mixer: mixer, mayLose: lossy, values: map[string]*claim{}}
}

// hear takes what the mixer says, of wanted values alone: so it is bounded.
func (c *claims) hear(list []osc.Message) {
	c.mu.Lock()
	defer c.mu.Unlock()
	for _, m := range list {
		if v := c.values[m.Address]; v != nil && len(m.Args) == 1 {
			v.said = m.Args[0]
		}
	}
}

// want makes messages those that the mixer is to confirm.
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

// forget leaves only what the mixer says from now on.
func (c *claims) forget(list []osc.Message) {
	c.each(list, func(v *claim, _ osc.Message) { v.said = osc.Arg{} })
}

// believe ends all mistrust of what the mixer says: sent again and again, it says the same, so its steps are coarser
// than those of its file.
func (c *claims) believe(list []osc.Message) {
	c.each(list, func(v *claim, _ osc.Message) {
		v.stale = osc.Arg{}
		v.ForgetBefore()
	})
}

// missing lists what the mixer has not confirmed. Its tolerance is a share of the value, and a step of a long delay
// may be within it: a mixer that still says exactly what it said before a value changed has not got that.
func (c *claims) missing(want []osc.Message) (list []osc.Message) {
	tolerance := feed.Tolerance(c.mixer, rounding)
	c.each(want, func(v *claim, m osc.Message) {
		old := v.stale != (osc.Arg{}) && v.said == v.stale && !v.Confirms(v.said, exact)
		if v.said == (osc.Arg{}) || old || !v.Confirms(v.said, tolerance) {
			list = append(list, m)
		}
	})
	return list
}

// answered reports whether the mixer has said something of each value.
func (c *claims) answered(list []osc.Message) bool {
	all := true
	c.each(list, func(v *claim, _ osc.Message) { all = all && v.said != (osc.Arg{}) })
	return all
}

// words says what the mixer has not confirmed.
func (c *claims) words(missing []osc.Message) string {
	var list []string
	c.each(missing[:min(len(missing), maxListed)], func(v *claim, m osc.Message) {
		if v.said == (osc.Arg{}) {
			list = append(list, fmt.Sprintf("%s, of which the mixer says nothing", m))
			return
		}
		said := osc.Message{Address: m.Address, Args: []osc.Arg{v.said}}
		list = append(list, fmt.Sprintf("%s, and the mixer says %s", m, said))
	})
	if more := len(missing) - len(list); more > 0 {
		list = append(list, fmt.Sprintf("and %d more", more))
	}
	return fmt.Sprintf("%s not confirmed: %s", count(len(missing), "value"), strings.Join(list, "; "))
}

// each calls do with what is known of the value of each message that was ever wanted.
func (c *claims) each(list []osc.Message, do func(v *claim, m osc.Message)) {
	c.mu.Lock()
	defer c.mu.Unlock()
	for _, m := range list {
		if v := c.values[m.Address]; v != nil {
			do(v, m)
		}
	}
}
