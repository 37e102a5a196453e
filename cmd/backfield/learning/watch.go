package learning

import (
	"context"
	"fmt"
	"io"
	"time"

	"backfield/osc/beats"
	"backfield/osc/midi"
	"backfield/osc/presses"
	"backfield/osc/timecode"
)

// Print writes what a remote.toml maps.
func Print(w io.Writer, r *presses.Remote) {
	for _, x := range r.Presses {
		fmt.Fprintf(w, "%-24s %s\n", x.Pedal, x.Command)
	}
	if len(r.Presses) == 0 {
		fmt.Fprintln(w, "no message gives a command")
	}
	if r.MIDI.V != "" {
		fmt.Fprintf(w, "MIDI comes from %s\n", r.MIDI.V)
	}
	if t := r.Time; t != nil {
		fmt.Fprintf(w, "the run goes by %s\n", t.Name())
		for i, b := range t.Begins {
			fmt.Fprintf(w, "movement %d begins at %s\n", i+1, t.Say(b))
		}
	}
}

// timeEvery is the time between two lines about a time that runs.
const timeEvery = time.Second

// cablePrinter prints what comes.
type cablePrinter struct {
	out    io.Writer
	remote *presses.Remote
	pieces timecode.Assembler
	beats  beats.Counter
	timeAt time.Time // when a time was last printed
}

// Watch prints each message that comes and the command that it gives, and the time that runs once a second, until the
// context or the cable ends.
func Watch(ctx context.Context, in <-chan CableEvent, out io.Writer, r *presses.Remote) error {
	w := cablePrinter{out: out, remote: r}
	for {
		select {
		case <-ctx.Done():
			return nil
		case x := <-in:
			if x.Err != nil {
				return x.Err
			}
			w.message(x.Message, x.At)
		}
	}
}

func (w *cablePrinter) message(m midi.MIDIMessage, at time.Time) {
	switch m.Status {
	case midi.ActiveSensing:
		return
	case midi.QuarterFrame:
		if q := w.pieces.Add(m.Data[0]); q.Known {
			w.time(at, fmt.Sprintf("time code %s, %s frames a second", timecode.AtS(q.S, q.Rate), q.Rate))
		} else if q.Backward {
			w.time(at, "time code that runs backward")
		}
		return
	case midi.SystemExclusive:
		if c, ok := timecode.ReadFullFrame(m.Data); ok {
			w.say(at, fmt.Sprintf("time code at %s, %s frames a second", c, c.Rate))
			return
		}
	}
	if b, ok := w.beats.Add(m); ok {
		text := fmt.Sprintf("MIDI clock at quarter note %.2f", b.Quarters+1)
		if b.Stands {
			w.say(at, text+", stopped")
		} else {
			w.time(at, text)
		}
		return
	}
	if m.Status >= midi.SystemExclusive {
		w.say(at, m.String())
		return
	}
	gives := ""
	if c, ok := w.remote.Command(m); ok {
		gives = "  gives " + c.String()
	} else if !m.Released() {
		gives = "  gives nothing"
	}
	w.say(at, m.String()+gives)
}

func (w *cablePrinter) time(at time.Time, text string) {
	if at.Sub(w.timeAt) >= timeEvery {
		w.timeAt = at
		w.say(at, text)
	}
}

func (w *cablePrinter) say(at time.Time, text string) {
	fmt.Fprintf(w.out, "%s  %s\n", at.Format("15:04:05.000"), text)
}
