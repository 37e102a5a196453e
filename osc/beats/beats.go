// Package beats counts a MIDI clock: 24 ticks a quarter note, with the song position in sixteenths. It does no I/O and
// reads no clock.
//
// Source, from memory: MIDI 1.0 Detailed Specification 4.2, system real time and song position pointer.
package beats

import "backfield/osc/midi"

const (
	perQuarter   = 24 // ticks
	perSixteenth = 6
)

// Counter counts the ticks of one sender. The zero value stands at the start of the song.
type Counter struct {
	ticks   int // that the next tick will be the time of
	running bool
}

// Beat is what a message says of the time.
type Beat struct {
	Quarters float64 // since the start of the song
	Stands   bool    // the sender stands there; else it is the time at this very message
}

// Add takes a message; ok is false if it says nothing of the time.
func (c *Counter) Add(m midi.MIDIMessage) (b Beat, ok bool) {
	switch m.Status {
	case midi.Start:
		c.ticks, c.running = 0, true // the song begins with the next tick
		return Beat{}, false
	case midi.Continue:
		c.running = true
		return Beat{}, false
	case midi.Stop:
		c.running = false
		return Beat{c.quarters(), true}, true
	case midi.SongPosition:
		c.ticks = perSixteenth * (int(m.Data[0]) | int(m.Data[1])<<7)
		return Beat{c.quarters(), true}, !c.running
	case midi.TimingClock:
		if !c.running { // some machines send it all the time, for the tempo
			return Beat{}, false
		}
		b = Beat{Quarters: c.quarters()}
		c.ticks++
		return b, true
	}
	return Beat{}, false
}

func (c *Counter) quarters() float64 { return float64(c.ticks) / perQuarter }
