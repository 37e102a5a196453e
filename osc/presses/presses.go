package presses

import (
	"fmt"
	"math"
	"strconv"

	"backfield/layout/source"
	"backfield/layout/table"
	"backfield/osc/midi"
	"backfield/osc/run"
	"backfield/osc/timecode"
)

// Remote is what remote.toml says.
type Remote struct {
	MIDI    table.Text // where the MIDI bytes come from; empty if the file does not say
	Presses []PedalOrder
	Time    *TimeOrigin // nil: the run has its own time
}

// TimeOrigin is the time of another machine.
type TimeOrigin struct {
	From string // FromTimeCode, FromClock or FromOSC
	Rate *timecode.Rate
	// Begins is when each movement's first count is, in seconds, or in quarter notes of a MIDI clock; at least one. The
	// movements after the last one follow in the score's own time.
	Begins []float64
}

// Read reads remote.toml. The result is never nil.
func Read(f *source.File, p *source.Problems) *Remote {
	root := table.ReadTOML(f, p)
	var k RemoteKeys
	table.Decode(root, &k, p)
	r := &Remote{MIDI: k.MIDI}
	r.presses(&k.Press, p)
	if k.Time != nil {
		r.Time = readTime(k.Time, p)
	}
	return r
}

// presses reads [press]. Two commands for one message are a mistake: nobody can know which one is meant.
func (r *Remote) presses(k *pressKeys, p *source.Problems) {
	add := func(words midiWords, c run.Command) {
		for _, w := range words.list {
			s, err := ParsePedal(w.V)
			if err != nil {
				p.Error("remote-message", w.Span, err.Error(),
					`write "note 60", "controller 64" or "program 3", and "channel 2" after it for one channel alone`)
				continue
			}
			for _, before := range r.Presses {
				if before.Pedal.meets(s) {
					p.Add(twoCommands(s, before, c, w.Span))
				}
			}
			r.Presses = append(r.Presses, PedalOrder{s, c, w.Span})
		}
	}
	for _, x := range []struct {
		words midiWords
		verb  run.Verb
	}{
		{k.Go, run.Go}, {k.Back, run.Back}, {k.Hush, run.Hush}, {k.Unhush, run.Unhush}, {k.Start, run.Start},
		{k.Stop, run.Stop},
	} {
		add(x.words, run.Command{Verb: x.verb})
	}
	for _, j := range k.Jump {
		c, err := run.Parse("jump " + j.To.V)
		if err != nil {
			p.Error("remote-jump", j.To.Span, fmt.Sprintf("%q is no place to jump to", j.To.V),
				`write a cue's id or a count, such as "12A" or "set 14"`)
			c.Verb = run.Jump
		}
		add(j.On, c)
	}
}

func twoCommands(s Pedal, before PedalOrder, c run.Command, at source.Span) source.Problem {
	return source.ErrorAt("remote-twice", at,
		fmt.Sprintf("%s gives two commands, %s and %s; see %s", s, before.Command, c, before.At.Where()),
		"give each command a message of its own")
}

// Command is what a message orders; ok is false if it orders nothing.
func (r *Remote) Command(m midi.MIDIMessage) (c run.Command, ok bool) {
	s, ok := PedalOf(m)
	if !ok {
		return c, false
	}
	for _, x := range r.Presses {
		if x.Pedal.meets(s) {
			return x.Command, true
		}
	}
	return c, false
}

// readTime reads [time].
func readTime(k *timeKeys, p *source.Problems) *TimeOrigin {
	t := &TimeOrigin{From: k.From.V}
	switch {
	case !k.From.Set:
		return nil // reported as a missing key
	case t.From != FromTimeCode && t.From != FromClock && t.From != FromOSC:
		p.Error("bad-choice", k.From.Span, fmt.Sprintf("unknown time %q", k.From.V),
			source.DidYouMean(k.From.V, k.From.Words(), "write "+source.OneOf(k.From.Words())))
		return nil
	case t.From == FromTimeCode:
		t.rate(k, p)
	case k.Rate.Set:
		p.Error("remote-rate", k.Rate.Span, "only time code has a rate", "remove it")
	}
	for _, b := range k.Begins {
		v, err := t.parse(b.V)
		switch n := len(t.Begins); {
		case err != nil:
			p.Error("remote-begins", b.Span, err.Error(), "")
			continue
		case n > 0 && v <= t.Begins[n-1]:
			p.Error("remote-begins", b.Span, fmt.Sprintf("%s is not after the time before it", b.V),
				"write when each movement begins, in their order")
		}
		t.Begins = append(t.Begins, v)
	}
	if len(t.Begins) == 0 {
		t.Begins = []float64{0}
		if t.Rate != nil { // time code of a show begins in its first hour: common practice
			t.Begins[0] = timecode.Code{Hours: 1, Rate: *t.Rate}.S()
		}
	}
	return t
}

// rate reads the rate of time code, which the codes in the file need.
func (t *TimeOrigin) rate(k *timeKeys, p *source.Problems) {
	rate := timecode.PAL
	t.Rate = &rate
	for i, name := range timecode.Names {
		if name == k.Rate.V {
			rate = timecode.Rate(i)
			return
		}
	}
	if k.Rate.Set {
		p.Error("bad-choice", k.Rate.Span, fmt.Sprintf("unknown rate %q", k.Rate.V),
			source.DidYouMean(k.Rate.V, timecode.Names, "write "+source.OneOf(timecode.Names)))
		return
	}
	p.Error("missing-key", k.From.Span, "time code needs its rate",
		`add rate = "25", or another of `+source.OneOf(timecode.Names))
}

// parse reads a time in the source's unit.
func (t *TimeOrigin) parse(text string) (float64, error) {
	if t.From == FromTimeCode {
		c, err := timecode.Parse(text, *t.Rate)
		return c.S(), err
	}
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || !(v >= 0 && v <= 1e6) {
		unit := "seconds"
		if t.From == FromClock {
			unit = "quarter notes"
		}
		return 0, fmt.Errorf("%q is not a number of %s", text, unit)
	}
	return v, nil
}

// ShowTimes is what the time must know of the show: when each movement's first count is, and a count of it, in seconds.
type ShowTimes struct {
	StartsS []float64
	CountS  func(movement int, counts float64) float64 // counts after the first; movement from 0
}

// before is how far the show stays before a movement that has not begun in the other machine's time, in seconds. No cue
// of the movement may go then.
const beforeS = 0.01

// Show is the show's time of a time of the source, in seconds, and how many seconds of the show one of its unit takes: 0
// where the show waits for a movement to begin.
func (t *TimeOrigin) Show(s ShowTimes, outer float64) (showS, rate float64) {
	i := 0
	for i+1 < len(t.Begins) && i+1 < len(s.StartsS) && outer >= t.Begins[i+1] {
		i++
	}
	past := outer - t.Begins[i]
	showS, rate = s.StartsS[i]+past, 1
	if t.From == FromClock && past >= 0 {
		const little = 1e-3
		at := s.CountS(i, past)
		showS, rate = at, (s.CountS(i, past+little)-at)/little
	}
	if i+1 < len(t.Begins) && i+1 < len(s.StartsS) {
		if end := s.StartsS[i+1] - beforeS; showS > end {
			return end, 0
		}
	}
	return showS, rate
}

// Expected is how fast the time runs at a tempo, in its unit a second.
func (t *TimeOrigin) Expected(bpm float64) float64 {
	if t.From == FromClock {
		return bpm / 60
	}
	return 1
}

// Say is a time of the source as people write it.
func (t *TimeOrigin) Say(outer float64) string {
	switch t.From {
	case FromTimeCode:
		return timecode.AtS(max(outer, 0), *t.Rate).String()
	case FromClock:
		return fmt.Sprintf("beat %.0f", math.Floor(outer)+1)
	}
	return fmt.Sprintf("%d:%04.1f", int(outer)/60, math.Mod(outer, 60))
}

// Name is what the time is called in the middle of a sentence.
func (t *TimeOrigin) Name() string {
	switch t.From {
	case FromClock:
		return "MIDI clock"
	case FromOSC:
		return "time by OSC"
	}
	return "time code"
}
