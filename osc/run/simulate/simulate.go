// Package simulate plays a run against a virtual mixer over bad roads, in a time of its own: a show of ten minutes
// takes as long as its arithmetic. It is what tests and benchmarks drive an Engine with; nothing here is random but by
// its seed.
package simulate

import (
	"fmt"
	"time"

	"backfield/osc"
	"backfield/osc/feed"
	"backfield/osc/run"
	"backfield/osc/virtual"
	"backfield/osc/wire"
)

// World is an Engine, its mixers, and the roads between them.
type World struct {
	Now    time.Time
	Engine *run.Engine
	Far    []Far
	Loops  int // how often the engine was asked
}

// Far is a mixer and the roads to and from it.
type Far struct {
	Mixer    *virtual.Device
	Out      *virtual.FaultyLink
	Back     *virtual.FaultyLink
	Cut      error // not nil: every packet to it fails with this
	Received int   // packets that arrived
}

// New puts mixers at the far ends of roads with faults; each road has a seed of its own.
func New(e *run.Engine, now time.Time, faults virtual.Faults, seed uint64, mixers ...*virtual.Device) *World {
	w := &World{Now: now, Engine: e}
	for i, m := range mixers {
		out, back := seed<<8+uint64(2*i), seed<<8+uint64(2*i)+1
		w.Far = append(w.Far, Far{Mixer: m, Out: virtual.NewFaultyLink(faults, out), Back: virtual.NewFaultyLink(faults, back)})
		e.LinkUp(i, now)
	}
	return w
}

// Do gives a command at this instant.
func (w *World) Do(line string) (string, error) {
	c, err := run.Parse(line)
	if err != nil {
		return "", err
	}
	return w.Engine.Do(c, w.Now)
}

// Hand is somebody moving something at a mixer itself; what the mixer tells of it is on its way. The error is for
// what it does not have.
func (w *World) Hand(far int, address string, arg osc.Arg) error {
	f := &w.Far[far]
	replies, err := f.Mixer.Move(w.Now, address, arg)
	for _, r := range replies {
		f.Back.Send(w.Now, r.Packet)
	}
	return err
}

// Run lets time pass.
func (w *World) Run(d time.Duration) {
	end := w.Now.Add(d)
	w.until(end, func() bool { return false })
	w.Now = end
}

// Settle lets time pass until the engine holds its mixers settled, and returns how long that took. The error is for
// more than the time allowed.
func (w *World) Settle(most time.Duration) (time.Duration, error) {
	start := w.Now
	if !w.until(start.Add(most), w.Engine.Settled) {
		return most, fmt.Errorf("not settled after %v", most)
	}
	took := w.Now.Sub(start)
	w.work() // what a mixer was told at this very instant arrives
	return took, nil
}

func (w *World) until(end time.Time, done func() bool) bool {
	for {
		w.work()
		if done() {
			return true
		}
		next, _ := w.Engine.Next(w.Now)
		for i := range w.Far {
			for _, r := range []*virtual.FaultyLink{w.Far[i].Out, w.Far[i].Back} {
				if at, ok := r.Next(); ok && at.Before(next) {
					next = at
				}
			}
		}
		if !next.After(w.Now) {
			next = w.Now.Add(time.Microsecond) // asked again at once: time must go on
		}
		if next.After(end) {
			return false
		}
		w.Now = next
	}
}

// work does all that is due at this instant.
func (w *World) work() {
	w.Loops++
	for i := range w.Far {
		f := &w.Far[i]
		for _, packet := range f.Out.Deliver(w.Now) {
			f.Received++
			for _, r := range f.Mixer.Handle(w.Now, "run", packet) {
				f.Back.Send(w.Now, r.Packet)
			}
		}
		for _, packet := range f.Back.Deliver(w.Now) {
			list, err := wire.Decode(packet)
			if err != nil {
				panic(err) // the mixer sends what can be read
			}
			for _, m := range list {
				w.Engine.Heard(i, m, w.Now)
			}
		}
	}
	w.Engine.Advance(w.Now)
	for i := range w.Far {
		w.send(i, w.Engine.Take(i, w.Now))
	}
}

func (w *World) send(i int, ts []feed.Outgoing) {
	if len(ts) == 0 {
		return
	}
	f := &w.Far[i]
	if f.Cut != nil {
		w.Engine.SendFailed(i, ts, f.Cut, w.Now)
		return
	}
	for _, t := range ts {
		f.Out.Send(w.Now, wire.Encode(t.OSC()))
	}
	w.Engine.Sent(i, w.Now)
}
