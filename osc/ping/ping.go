// Package ping measures how fast a mixer replies and the packet loss on the way, by querying values that it holds. It
// sets nothing. Each query is for another address if there are enough, so that a reply shows which query it is for.
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

// QueryPlan is how to query.
type QueryPlan struct {
	Count int           // queries, at least 1
	Every time.Duration // from one to the next
	Wait  time.Duration // for a reply; a later one does not count

	Controls []mixer.Control   // what to ask for, in turn; nil for everything
	Heard    func(osc.Message) // takes each message that comes; nil for none
}

// PingResult is what the queries showed.
type PingResult struct {
	Asked      int             // queries, including those that could not be sent
	RoundTrips []time.Duration // of the queries with a reply, ascending
	Duplicates int             // replies that came again
	OutOfOrder int             // replies that came after the reply to a later query
	Other      int             // messages that are not replies
	PortClosed bool            // the machine reported that nothing listens on the port
	Unsent     error           // the last error of sending, if any
	NoReply    []string        // parameters queried twice or more that never got a reply while others did
}

// Lost is how many queries had no reply. Either the query or the reply was lost.
func (r PingResult) Lost() int { return r.Asked - len(r.RoundTrips) }

// Within is the longest round trip of the fastest share, 0 to 1, of the replies (nearest rank), or 0 without replies.
func (r PingResult) Within(share float64) time.Duration {
	if len(r.RoundTrips) == 0 {
		return 0
	}
	return r.RoundTrips[min(max(int(math.Ceil(share*float64(len(r.RoundTrips))))-1, 0), len(r.RoundTrips)-1)]
}

// sentQuery is a query that was sent.
type sentQuery struct {
	param   string
	at      time.Time
	replied bool
}

// queries matches replies to queries. The caller gives it the time.
type queries struct {
	mixer  *mixer.Mixer
	wait   time.Duration
	list   []sentQuery
	open   map[string]int // the last query for an address
	latest int            // the latest query with a reply, or -1
	report PingResult
	heard  func(osc.Message) // nil for none
}

func newQueries(d *mixer.Mixer, wait time.Duration) *queries {
	return &queries{mixer: d, wait: wait, open: map[string]int{}, latest: -1}
}

// controls lists what to query, channel by channel, since every mixer has the first channels.
func controls(d *mixer.Mixer) []mixer.Control {
	var all []mixer.Control
	for n := range d.Channels {
		all = append(all, d.Controls(n+1)...)
	}
	return all
}

// ask records a query for a control. It returns false if an earlier one for it may still get its reply.
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

// reply takes a message from the mixer.
func (a *queries) reply(m osc.Message, now time.Time) {
	if a.heard != nil {
		a.heard(m)
	}
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

// settled reports whether every query has its reply or has run out of time.
func (a *queries) settled(now time.Time) bool {
	return !slices.ContainsFunc(a.list, func(q sentQuery) bool { return !q.replied && now.Sub(q.at) < a.wait })
}

func (a *queries) result() PingResult {
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

// Ask queries a mixer that has a [query], and returns when the last query has its reply or has run out of time, or when
// the context ends. It sends the mixer's keepalives, as in a run. It returns an error only if the link broke.
func Ask(ctx context.Context, link wire.Link, d *mixer.Mixer, plan QueryPlan) (PingResult, error) {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	in := listen(ctx, link)
	a := newQueries(d, plan.Wait)
	all := plan.Controls
	if all == nil {
		all = controls(d)
	}
	a.heard = plan.Heard
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

// send sends a message, and records why it could not be sent. It returns an error only if the link broke.
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

// keepAlive sends the keepalives that are due. alive is when each was last sent.
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

// hear takes replies until the next tick. It is over when the context ends, when the link breaks, or when every query
// was sent and is settled.
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

// incoming is a packet that came, or the error that ended the link.
type incoming struct {
	at       time.Time
	messages []osc.Message
	err      error
}

// listen delivers what the link reads until the context ends. The caller must then close the link.
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

// Probe finds out what it can about a mixer that cannot be queried: whether its port is closed, and how many packets
// come back within `wait`. It sends the keepalives and an empty bundle, which does nothing by OSC 1.0.
func Probe(ctx context.Context, link wire.Link, d *mixer.Mixer, wait time.Duration) (
	closed bool, packets int, err error) {
	ctx, cancel := context.WithTimeout(ctx, wait)
	defer cancel()
	in := listen(ctx, link)
	list := [][]byte{emptyBundle}
	for _, k := range d.Keepalives {
		list = append(list, wire.Encode(k.Message))
	}
	// Some systems report a closed port only with the next packet, so it sends everything twice.
	for range 2 {
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

// Share is a part of a whole in percent, 0 if the whole is 0.
func Share(part, whole int) float64 { return 100 * float64(part) / float64(cmp.Or(whole, 1)) }
