package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"sync"
	"time"

	"backfield/cue"
	"backfield/osc"
	"backfield/osc/desk"
	"backfield/osc/wire"
)

const (
	tries    = 20                     // to have the desk confirm a state
	recalls  = 3                      // to have it recall one
	blind    = 3                      // how often a desk that confirms nothing is told over UDP
	listens  = 200 * time.Millisecond // for an answer, each time
	spread   = 10 * time.Millisecond  // how much longer than the next message a store or recall may be under way
	calm     = 150 * time.Millisecond // after something was sent twice: no road holds a packet up for longer
	polls    = 2 * time.Millisecond
	rounding = 0.002 // of a desk without [echo], which has a tolerance
	exact    = 1e-9
	mostBad  = 4 // values that a message names
)

// storing is one desk that is walked through the cues. It sends from one goroutine; another one hears the desk.
type storing struct {
	desk     *desk.Desk
	cues     []cue.Snapshot
	progress *progress
	dry      io.Writer // not nil: messages are printed there, and taken as confirmed
	again    bool      // a desk that confirms nothing is told more than once, since the road may lose what it is told

	link wire.Link
	kept []time.Time // when each keepalive was last sent

	mu      sync.Mutex
	says    map[string]osc.Message // what the desk last said of each address
	before  map[string]osc.Message // what it said when that was last as wanted
	trouble error                  // of the road
	hearing sync.WaitGroup
}

func (w *storing) open(to string) (err error) {
	if w.link, err = wire.Open(to); err != nil {
		return err
	}
	w.says, w.before = map[string]osc.Message{}, map[string]osc.Message{}
	w.hearing.Go(w.hear)
	return nil
}

func (w *storing) close() {
	w.link.Close()
	w.hearing.Wait()
}

// hear keeps what the desk says, of its parameters alone: so it is bounded.
func (w *storing) hear() {
	buffer := make([]byte, wire.MaxPacket)
	for {
		n, err := w.link.Read(buffer)
		ms, bad := wire.Decode(buffer[:n])
		w.mu.Lock()
		switch {
		case err != nil:
			if !errors.Is(err, io.ErrShortBuffer) {
				w.trouble = err
			}
		case bad == nil:
			for _, m := range ms {
				if _, ours := w.desk.Find(m.Address); ours {
					w.says[m.Address] = m
				}
			}
		}
		w.mu.Unlock()
		if errors.Is(err, wire.ErrBroken) || errors.Is(err, wire.ErrClosed) {
			return
		}
	}
}

// answers says whether the desk confirms at all.
func (w *storing) answers() bool { return w.desk.Echo != nil || w.desk.Query != nil }

// slot is the slot of a cue. The run recalls by the same.
func (w *storing) slot(i int) int { return w.desk.Store.First + i }

func (w *storing) title(i int) string { return desk.SceneName(w.cues[i].ID, w.cues[i].Name) }

// all stores the cues from one on, compares them if that is wanted, and closes every channel, whatever came before.
func (w *storing) all(ctx context.Context, first int, verify bool) error {
	err := w.store(ctx, first)
	if err == nil && verify {
		err = w.verify(ctx, first)
	}
	w.progress.end()
	if dark := w.dark(); dark != nil {
		err = errors.Join(err, fmt.Errorf("channels that were open MAY BE OPEN STILL: %w", dark))
	}
	return err
}

// store has the desk store all cues from one on.
func (w *storing) store(ctx context.Context, first int) error {
	var before *cue.Snapshot
	for i := first; i < len(w.cues); i++ {
		s := &w.cues[i]
		w.progress.step(i-first, len(w.cues)-first, fmt.Sprintf("slot %d: cue %s", w.slot(i), w.title(i)))
		err := w.hold(ctx, before, s)
		if err == nil {
			err = w.send(ctx, w.desk.Store.Message(w.slot(i), w.title(i)))
		}
		if err == nil {
			err = w.wait(ctx, w.desk.Store.Settle+spread)
		}
		if err != nil {
			return fmt.Errorf("cue %s is not stored in slot %d: %w; --from %s goes on there", s.ID, w.slot(i), err, s.ID)
		}
		before = s
	}
	w.progress.full("stored")
	return nil
}

// verify recalls each slot from one on and compares. All cues that are not there are told at once.
func (w *storing) verify(ctx context.Context, first int) error {
	var bad []error
	for i := first; i < len(w.cues); i++ {
		s := &w.cues[i]
		w.progress.step(i-first, len(w.cues)-first, fmt.Sprintf("slot %d is recalled: cue %s", w.slot(i), w.title(i)))
		err := w.recall(ctx, i)
		switch differ := (*unconfirmed)(nil); {
		case err == nil:
		case errors.As(err, &differ):
			bad = append(bad, fmt.Errorf("slot %d does not hold cue %s: %w; store it again: --from %s", w.slot(i), s.ID, err, s.ID))
		default:
			return errors.Join(append(bad, fmt.Errorf("slot %d is not compared with cue %s: %w", w.slot(i), s.ID, err))...)
		}
	}
	w.progress.full("recalled")
	return errors.Join(bad...)
}

// recall has the desk recall a slot, and compares what it then says. It comes from a state that has nothing in common
// with the cue but what is closed: a slot that is empty, or a recall that is lost, cannot pass.
func (w *storing) recall(ctx context.Context, i int) (err error) {
	s := &w.cues[i]
	most := 1 // a desk that cannot be asked speaks of what a recall changes, once
	if w.desk.Query != nil {
		most = tries
	}
	for range recalls {
		if err = w.hold(ctx, nil, w.unlike(s)); err != nil {
			return err
		}
		first := []osc.Message{w.desk.Recall.Message(w.slot(i), w.title(i))}
		err = w.agree(ctx, s, most, w.desk.Store.Settle+spread, func([]osc.Message) []osc.Message {
			defer func() { first = nil }()
			return first
		})
		if differ := (*unconfirmed)(nil); !errors.As(err, &differ) {
			return err
		}
	}
	return err
}

// dark closes every channel of the show. It does so after an interruption, too.
func (w *storing) dark() error {
	s := shut(&w.cues[len(w.cues)-1])
	return w.hold(context.Background(), nil, &s)
}

// shut is a snapshot with every channel closed.
func shut(s *cue.Snapshot) cue.Snapshot {
	out := *s
	out.Channels = nil
	for _, c := range s.Channels {
		c.Open, c.Role, c.LevelDB = false, "", cue.Silent
		out.Channels = append(out.Channels, c)
	}
	return out
}

// unlike is a state with every channel closed, and pans, delays, sends and own parameters that the snapshot does not have.
func (w *storing) unlike(s *cue.Snapshot) *cue.Snapshot {
	out := shut(s)
	for i := range out.Channels {
		c := &out.Channels[i]
		if c.Pan > 0 {
			c.Pan = -1
		} else {
			c.Pan = 1
		}
		if c.DelayMS > 0 {
			c.DelayMS = 0
		} else {
			c.DelayMS = 20
		}
		c.Params = nil
		for _, x := range w.desk.Own() {
			v, ok := s.Channels[i].Value(x.Name)
			if !ok {
				v = x.Default
			}
			c.Params = append(c.Params, cue.Param{Name: x.Name, Value: w.desk.Unlike(x.Name, v)})
		}
		c.Sends = nil
		for _, x := range s.Channels[i].Sends {
			if x.LevelDB > -40 {
				x.LevelDB = cue.Silent
			} else {
				x.LevelDB = -20
			}
			c.Sends = append(c.Sends, x)
		}
	}
	return &out
}

// hold leads the desk from one snapshot to the next, nil for not known, and waits until it holds that.
func (w *storing) hold(ctx context.Context, before, s *cue.Snapshot) error {
	list := w.desk.Messages(before, s)
	first := true
	return w.agree(ctx, s, tries, 0, func(missing []osc.Message) []osc.Message {
		if first {
			first = false
			return list
		}
		return missing
	})
}

// unconfirmed is the error of a desk that was told, and does not say that it holds what it was told.
type unconfirmed struct{ text string }

func (u *unconfirmed) Error() string { return u.text }

// agree says something to the desk until it confirms every value of a snapshot, most times. A desk that confirms
// nothing is given the time that it needs after a store instead.
func (w *storing) agree(ctx context.Context, s *cue.Snapshot, most int, settle time.Duration, say func(missing []osc.Message) []osc.Message) error {
	want := w.desk.Messages(nil, s) // all values, in an order in which any of them may be sent
	if !w.answers() {
		ms := say(want)
		for n := 0; n == 0 || n < blind && w.again; n++ {
			if err := w.send(ctx, ms...); err != nil {
				return err
			}
		}
		return w.wait(ctx, w.desk.Store.Settle+spread)
	}
	missing := want
	for try := range most {
		ms := say(missing)
		w.forget(ms)
		if err := w.send(ctx, ms...); err != nil {
			return err
		}
		if err := w.wait(ctx, settle); err != nil {
			return err
		}
		if w.desk.Query != nil {
			w.forget(missing)
			var asks []osc.Message
			for _, m := range missing {
				asks = append(asks, w.desk.Ask(m.Address))
			}
			if err := w.send(ctx, asks...); err != nil {
				return err
			}
		}
		for end := time.Now().Add(listens); ; {
			if missing = w.missing(want, try >= tries/2); len(missing) == 0 || time.Now().After(end) {
				break
			}
			if len(ms) == 0 && w.denied(missing) { // it was only asked, and has answered
				return &unconfirmed{w.differs(missing)}
			}
			if err := w.wait(ctx, polls); err != nil {
				return err
			}
		}
		if len(missing) == 0 && try > 0 {
			if err := w.wait(ctx, calm); err != nil {
				return err
			}
			missing = w.missing(want, try >= tries/2)
		}
		if len(missing) == 0 {
			w.remember(want)
			return nil
		}
	}
	return &unconfirmed{w.differs(missing)}
}

// missing lists what the desk has not confirmed. Its tolerance is a share of the value, and a step of a long delay
// may lie within it: a desk that still says exactly what it said before a value changed has not heard of that. It is
// believed only if patient: told again and again it says the same, so its steps are coarser than those of its file.
func (w *storing) missing(want []osc.Message, patient bool) (list []osc.Message) {
	if w.dry != nil {
		return nil
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	for _, m := range want {
		said, ok := w.says[m.Address]
		ok = ok && desk.Same(said, m, w.tolerance())
		if before, known := w.before[m.Address]; ok && known && !patient {
			ok = desk.Same(said, m, exact) || !desk.Same(said, before, exact)
		}
		if !ok {
			list = append(list, m)
		}
	}
	return list
}

// remember keeps what the desk says of values that are as wanted.
func (w *storing) remember(want []osc.Message) {
	w.mu.Lock()
	defer w.mu.Unlock()
	for _, m := range want {
		if said, ok := w.says[m.Address]; ok {
			w.before[m.Address] = said
		}
	}
}

// denied says whether the desk has said something else of each.
func (w *storing) denied(missing []osc.Message) bool {
	w.mu.Lock()
	defer w.mu.Unlock()
	for _, m := range missing {
		if _, said := w.says[m.Address]; !said {
			return false
		}
	}
	return true
}

func (w *storing) tolerance() float64 {
	if w.desk.Echo != nil {
		return w.desk.Echo.Tolerance
	}
	return rounding
}

// forget leaves only what the desk says from now on.
func (w *storing) forget(ms []osc.Message) {
	w.mu.Lock()
	defer w.mu.Unlock()
	for _, m := range ms {
		delete(w.says, m.Address)
	}
}

// differs words what the desk has not confirmed.
func (w *storing) differs(missing []osc.Message) string {
	w.mu.Lock()
	defer w.mu.Unlock()
	var list []string
	for _, m := range missing[:min(len(missing), mostBad)] {
		if said, ok := w.says[m.Address]; ok {
			list = append(list, fmt.Sprintf("%s, and the desk says %s", m, said))
		} else {
			list = append(list, fmt.Sprintf("%s, of which the desk says nothing", m))
		}
	}
	if more := len(missing) - len(list); more > 0 {
		list = append(list, fmt.Sprintf("and %d more", more))
	}
	return fmt.Sprintf("%s not confirmed: %s", plural(len(missing), "value"), strings.Join(list, "; "))
}

// send sends messages at the desk's pace, and keepalives that are due before them.
func (w *storing) send(ctx context.Context, ms ...osc.Message) error {
	if err := ctx.Err(); err != nil {
		return errors.New("interrupted")
	}
	if w.kept == nil {
		w.kept = make([]time.Time, len(w.desk.Keepalives))
	}
	now := time.Now()
	var due []osc.Message
	for i, k := range w.desk.Keepalives {
		if now.Sub(w.kept[i]) >= k.Every {
			w.kept[i] = now
			due = append(due, k.Message)
		}
	}
	packets, err := wire.Pack(append(due, ms...), w.desk.Bundle, w.desk.MaxPacket)
	switch {
	case err != nil:
		return err
	case w.dry != nil:
		for _, m := range append(due, ms...) {
			if _, err := fmt.Fprintln(w.dry, m); err != nil {
				return err
			}
		}
		return nil
	}
	if err := wire.Send(w.link, packets, w.desk.Rate, wire.Wall{}); err != nil {
		return err
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	err, w.trouble = w.trouble, nil
	return err
}

// wait lets time pass, and keeps the desk awake meanwhile.
func (w *storing) wait(ctx context.Context, d time.Duration) error {
	if w.dry != nil {
		return nil
	}
	for end := time.Now().Add(d); ; {
		left := time.Until(end)
		if left <= 0 {
			return nil
		}
		select {
		case <-ctx.Done():
		case <-time.After(min(left, 50*time.Millisecond)):
		}
		if err := w.send(ctx); err != nil {
			return err
		}
	}
}
