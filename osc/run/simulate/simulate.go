// Package simulate plays a run against simulated mixers over bad links, in simulated time, so that a show of ten
// minutes takes only as long as its computation. Tests and benchmarks drive an Engine with it. All randomness comes
// from a seed.
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

// World is an Engine, its mixers, and the links between them.
type World struct {
	Now    time.Time
	Engine *run.Engine
	Mixers []SimulatedMixer
	Loops  int // how often the engine was called
}

// SimulatedMixer is a mixer and the links to and from it.
type SimulatedMixer struct {
	Mixer    *virtual.Device
	Out      *virtual.FaultyLink
	Back     *virtual.FaultyLink
	Cut      error // not nil: every packet to it fails with this
	Received int   // packets that arrived
}

// New connects an engine to mixers over faulty links. Each link has its own seed.
func New(e *run.Engine, now time.Time, faults virtual.Faults, seed uint64, mixers ...*virtual.Device) *World {
	w := &World{Now: now, Engine: e}
	for i, m := range mixers {
		out, back := seed<<8+uint64(2*i), seed<<8+uint64(2*i)+1
		w.Mixers = append(w.Mixers, SimulatedMixer{
			Mixer: m, Out: virtual.NewFaultyLink(faults, out), Back: virtual.NewFaultyLink(faults, back),
		})
		e.LinkUp(i, now)
	}
	return w
}

// Do carries out a typed command now.
func (w *World) Do(line string) (string, error) {
	c, err := run.Parse(line)
	if err != nil {
		return "", err
	}
	return w.Engine.Do(c, w.Now)
}

// Move changes a value as someone at the mixer would. The mixer's replies are then on the link. The error is for an
// address that the mixer does not have.
func (w *World) Move(mixer int, address string, arg osc.Arg) error {
	f := &w.Mixers[mixer]
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

// Settle lets time pass until the engine reports that it is settled, and returns how long that took. The error is for
// longer than most.
func (w *World) Settle(most time.Duration) (time.Duration, error) {
	start := w.Now
	if !w.until(start.Add(most), w.Engine.Settled) {
		return most, fmt.Errorf("not settled after %v", most)
	}
	took := w.Now.Sub(start)
	w.work() // what was sent at this very instant arrives
	return took, nil
}

func (w *World) until(end time.Time, done func() bool) bool {
	for {
		w.work()
		if done() {
			return true
		}
		next, _ := w.Engine.Next(w.Now)
		for i := range w.Mixers {
			for _, r := range []*virtual.FaultyLink{w.Mixers[i].Out, w.Mixers[i].Back} {
				if at, ok := r.Next(); ok && at.Before(next) {
					next = at
				}
			}
		}
		if !next.After(w.Now) {
			next = w.Now.Add(time.Microsecond) // due now again: time must go on
		}
		if next.After(end) {
			return false
		}
		w.Now = next
	}
}

// work does everything that is due at this instant.
func (w *World) work() {
	w.Loops++
	for i := range w.Mixers {
		f := &w.Mixers[i]
		for _, packet := range f.Out.Deliver(w.Now) {
			f.Received++
			for _, r := range f.Mixer.Handle(w.Now, "run", packet) {
				f.Back.Send(w.Now, r.Packet)
			}
		}
		for _, packet := range f.Back.Deliver(w.Now) {
			list, err := wire.Decode(packet)
			if err != nil {
				panic(err) // the simulated mixer sends only valid packets
			}
			for _, m := range list {
				w.Engine.Heard(i, m, w.Now)
			}
		}
	}
	w.Engine.Advance(w.Now)
	for i := range w.Mixers {
		w.send(i, w.Engine.Take(i, w.Now))
	}
}

func (w *World) send(i int, ts []feed.Outgoing) {
	if len(ts) == 0 {
		return
	}
	f := &w.Mixers[i]
	if f.Cut != nil {
		w.Engine.SendFailed(i, ts, f.Cut, w.Now)
		return
	}
	for _, t := range ts {
		f.Out.Send(w.Now, wire.Encode(t.OSC()))
	}
	w.Engine.Sent(i, w.Now)
}
