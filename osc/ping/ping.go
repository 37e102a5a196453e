// Package ping finds out how far a mixer is and how lossy the road to it, by asking for values that it holds. It sets
// nothing. Each question is about another address where there are enough, so that an answer tells which one it is to.
package ping

import (
	"cmp"
	"context"
	"errors"
	"math"
	"slices"
	"time"

	"backfield/osc"
	"backfield/osc/mixer"
	"backfield/osc/wire"
)

// Plan is how to ask.
type QueryPlan struct {
	Count int           // questions, at least 1
	Every time.Duration // from one to the next
	Wait  time.Duration // for an answer; one that comes later counts for nothing
}

// Report is what came of it.
type Result struct {
	Asked      int             // questions, those that could not be sent among them
	RoundTrips []time.Duration // there and back, of those that were answered, ascending
	Duplicates int             // answers that came again
	OutOfOrder int             // answers that came after one to a later question
	Other      int             // messages that answer no question
	PortClosed bool            // the machine said that nothing listens at the port
	Unsent     error           // the last fault of the sending, if any
	NoReply    []string        // parameters that were asked for twice or more and never answered, if others were
}

// Lost is how many questions had no answer: they or their answers were lost.
func (r Result) Lost() int { return r.Asked - len(r.RoundTrips) }

// Within is how long the share of the trips took at most (nearest rank), or 0 without any.
func (r Result) Within(share float64) time.Duration {
	if len(r.RoundTrips) == 0 {
		return 0
	}
	return r.RoundTrips[min(max(int(math.Ceil(share*float64(len(r.RoundTrips))))-1, 0), len(r.RoundTrips)-1)]
}

// question is one that was sent.
type sentQuery struct {
	param   string
	at      time.Time
	replied bool
}

// asking is the book that is kept of questions and answers; it knows no clock.
type queries struct {
	mixer  *mixer.Mixer
	wait   time.Duration
	list   []sentQuery
	open   map[string]int // the last question about an address
	latest int            // the latest question that was answered, or -1
	report Result
}

func newQueries(d *mixer.Mixer, wait time.Duration) *queries {
	return &queries{mixer: d, wait: wait, open: map[string]int{}, latest: -1}
}

// places are what to ask about: channel by channel, as the first of them are on every mixer.
func controls(d *mixer.Mixer) []mixer.Control {
	var all []mixer.Control
	for n := range d.Channels {
		all = append(all, d.Controls(n+1)...)
	}
	return all
}

// ask notes a question about a place; false where an earlier one about it may still be answered.
func (a *queries) ask(x mixer.Control, now time.Time) bool {
	address := a.mixer.Address(x)
	if i, asked := a.open[address]; asked && !a.list[i].replied && now.Sub(a.list[i].at) < a.wait {
		return false
	}
	a.open[address] = len(a.list)
	a.list = append(a.list, sentQuery{param: x.Param, at: now})
	a.report.Asked++
	return true
}

// answer takes a message from the mixer.
func (a *queries) reply(m osc.Message, now time.Time) {
	i, asked := a.open[m.Address]
	switch {
	case !asked || len(m.Args) == 0 || now.Sub(a.list[i].at) > a.wait:
		a.report.Other++
	case a.list[i].replied:
		a.report.Duplicates++
	default:
		a.list[i].replied = true
		a.report.RoundTrips = append(a.report.RoundTrips, now.Sub(a.list[i].at))
		if i < a.latest {
			a.report.OutOfOrder++
		}
		a.latest = max(a.latest, i)
	}
}

// settled reports whether nothing can be answered any more.
func (a *queries) settled(now time.Time) bool {
	return !slices.ContainsFunc(a.list, func(q sentQuery) bool { return !q.replied && now.Sub(q.at) < a.wait })
}

func (a *queries) result() Result {
	r := a.report
	slices.Sort(r.RoundTrips)
	asked, answered := map[string]int{}, map[string]int{}
	for _, q := range a.list {
		asked[q.param]++
		if q.replied {
			answered[q.param]++
		}
	}
	for _, p := range a.mixer.Params {
		if asked[p.Name] > 1 && answered[p.Name] == 0 && len(r.RoundTrips) > 0 {
			r.NoReply = append(r.NoReply, p.Name)
		}
	}
	return r
}

// Ask asks a mixer that can be asked over a link, and returns once the last question has been answered or had its time,
// or the context ends. Meanwhile the mixer hears its keepalives, as in a run. It returns an error only for a link that
// broke.
func Ask(ctx context.Context, link wire.Link, d *mixer.Mixer, plan QueryPlan) (Result, error) {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	in := listen(ctx, link)
	a := newQueries(d, plan.Wait)
	all := controls(d)
	tick := time.NewTicker(plan.Every)
	defer tick.Stop()
	alive := make([]time.Time, len(d.Keepalives))
	for next := 0; ; {
		now := time.Now()
		if err := a.keepAlive(link, alive, now); err != nil {
			return a.result(), err
		}
		if x := all[next%len(all)]; next < plan.Count && a.ask(x, now) {
			next++
			if err := a.send(link, d.Ask(d.Address(x))); err != nil {
				return a.result(), err
			}
		}
		if over, err := a.hear(ctx, in, tick.C, next == plan.Count); over {
			return a.result(), err
		}
	}
}

// send sends a message, and notes what keeps it from being sent. The error is of a link that broke.
func (a *queries) send(link wire.Link, m osc.Message) error {
	switch err := link.Write(wire.Encode(m)); {
	case errors.Is(err, wire.ErrRefused):
		a.report.PortClosed = true
	case errors.Is(err, wire.ErrBroken), errors.Is(err, wire.ErrClosed):
		return err
	case err != nil:
		a.report.Unsent = err
	}
	return nil
}

// keepAlive sends the keepalives that are due; alive has when each was last sent.
func (a *queries) keepAlive(link wire.Link, alive []time.Time, now time.Time) error {
	for i, k := range a.mixer.Keepalives {
		if now.Sub(alive[i]) < k.Every {
			continue
		}
		alive[i] = now
		if err := a.send(link, k.Message); err != nil {
			return err
		}
	}
	return nil
}

// hear takes answers until the next tick. It is over when the context ends or the link breaks, or when all has been
// asked and nothing can be answered any more.
func (a *queries) hear(
	ctx context.Context, in <-chan incoming, tick <-chan time.Time, allAsked bool,
) (over bool, err error) {
	for waiting := true; waiting; {
		select {
		case <-ctx.Done():
			return true, nil
		case <-tick:
			waiting = false
		case h := <-in:
			switch {
			case errors.Is(h.err, wire.ErrRefused):
				a.report.PortClosed = true
			case h.err != nil:
				return true, h.err
			}
			for _, m := range h.messages {
				a.reply(m, h.at)
			}
		}
		if allAsked && a.settled(time.Now()) {
			return true, nil
		}
	}
	return false, nil
}

// heard is a packet that came, or what ended the link.
type incoming struct {
	at       time.Time
	messages []osc.Message
	err      error
}

// listen hands over what the link reads, until the context ends; the link must be closed after that.
func listen(ctx context.Context, link wire.Link) <-chan incoming {
	out := make(chan incoming)
	go func() {
		buffer := make([]byte, wire.MaxPacket)
		for {
			n, err := link.Read(buffer)
			h := incoming{at: time.Now()}
			switch {
			case errors.Is(err, wire.ErrRefused), errors.Is(err, wire.ErrBroken), errors.Is(err, wire.ErrClosed):
				h.err = err
			case err != nil:
				continue
			default:
				h.messages, _ = wire.Decode(buffer[:n])
			}
			select {
			case out <- h:
			case <-ctx.Done():
				return
			}
			if h.err != nil && !errors.Is(err, wire.ErrRefused) {
				return
			}
		}
	}()
	return out
}

// Knock finds out what little can be known of a mixer that cannot be asked: whether the machine says that the port is
// closed, and whether anything is heard within the time after the keepalives. What it sends besides is a bundle with
// nothing in it, which by OSC 1.0 asks for nothing.
func Probe(ctx context.Context, link wire.Link, d *mixer.Mixer, wait time.Duration) (
	closed bool, packets int, err error) {
	ctx, cancel := context.WithTimeout(ctx, wait)
	defer cancel()
	in := listen(ctx, link)
	list := [][]byte{emptyBundle}
	for _, k := range d.Keepalives {
		list = append(list, wire.Encode(k.Message))
	}
	for range 2 { // the second is what word of the first comes back with, where the system tells it so
		for _, packet := range list {
			if err := link.Write(packet); errors.Is(err, wire.ErrRefused) {
				closed = true
			} else if err != nil {
				return closed, packets, err
			}
		}
		for pause := time.After(wait / 2); pause != nil; {
			select {
			case <-pause:
				pause = nil
			case <-ctx.Done():
				return closed, packets, nil
			case h := <-in:
				switch {
				case errors.Is(h.err, wire.ErrRefused):
					closed = true
				case h.err != nil:
					return closed, packets, h.err
				default:
					packets++
				}
			}
		}
	}
	return closed, packets, nil
}

// emptyBundle is "#bundle" and the time tag "immediately" (OSC 1.0, OSC Bundles).
var emptyBundle = []byte("#bundle\x00\x00\x00\x00\x00\x00\x00\x00\x01")

// Share is a part of a whole in per cent, 0 of nothing.
func Share(part, whole int) float64 { return 100 * float64(part) / float64(cmp.Or(whole, 1)) }
