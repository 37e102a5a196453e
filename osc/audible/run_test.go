package audible

import (
	"fmt"
	"math"
	"testing"
	"time"

	"backfield/cue"
	"backfield/layout/source"
	"backfield/osc"
	"backfield/osc/mixer"
	"backfield/osc/run"
	"backfield/osc/run/simulate"
	"backfield/osc/virtual"
)

const mixerText = `rate = 1000
channels = 2
[mute]
address = "/m/{channel}"
[level]
address = "/l/{channel}"
off = -120
[delay]
address = "/d/{channel}"
max = 500
moves = "glide"
[pan]
address = "/p/{channel}"
[echo]
[query]
address = "{address}"
`

// counts is one movement of two counts a second.
type counts struct{}

func (counts) Find(text string) (float64, error) { return 0, fmt.Errorf("no count %s", text) }
func (counts) At(s float64) run.ScoreMoment {
	return run.ScoreMoment{Movement: 1, Count: 2*s + 1, BPM: 120}
}
func (counts) Counts(fromS, toS float64) float64 { return 2 * (toS - fromS) }

func knot(s, ms, pan float64) cue.Knot {
	return cue.Knot{Movement: 1, Count: 2*s + 1, TimeS: s, DelayMS: ms, Pan: pan}
}

// walk is a show in which channel 1 opens at once, walks at 8 ms/s from 1 s to 3 s, back from 4 s on, over cue 2 at 5 s,
// to 6 s, and fades out from 8 s to 10 s.
func walk() *cue.Show {
	at := func(id string, s, delay float64, open bool, fade float64, knots ...cue.Knot) cue.Snapshot {
		c := cue.Channel{Channel: 1, Player: "A", Kind: cue.Worn, LevelDB: cue.Silent, Pan: -1, DelayMS: delay}
		if open {
			c.Open, c.Role, c.LevelDB, c.Glide = true, "feature", 0, knots
		}
		return cue.Snapshot{ID: id, At: fmt.Sprintf("1:%g", 2*s+1), Movement: 1, Count: 2*s + 1, TimeS: s, FadeS: fade,
			FadeCounts: 2 * fade, Channels: []cue.Channel{c}}
	}
	s := &cue.Show{Title: "walk", EndS: 12, Cues: []cue.Snapshot{
		at("1", 0, 40, true, 0, knot(1, 40, -1), knot(3, 56, -1), knot(4, 56, -1), knot(5, 48, -1)),
		at("2", 5, 48, true, 0, knot(6, 40, -1), knot(8, 40, -1)),
		at("3", 8, 40, false, 2),
	}}
	s.Rig.Delay.Moves, s.Rig.Delay.SlewMSPS = cue.Glides, 8
	return s
}

// walked is what a mixer received in a run of that show: on each line of the script a command and the seconds after it.
func walked(t *testing.T, faults virtual.Faults, script ...step) []ChannelSetting {
	t.Helper()
	var p source.Problems
	d := mixer.Read(&source.File{Name: "mixer.toml", Text: mixerText}, &p)
	if p.Errors() > 0 {
		t.Fatal(p.All())
	}
	start := time.Unix(1_700_000_000, 0)
	device := virtual.New(d)
	e := run.New(run.ShowSetup{Show: walk(), Mixer: d, Time: counts{}}, run.Options{To: []string{"mixer"}}, start)
	w := simulate.New(e, start, faults, 1, device)
	now := ChannelSetting{LevelDB: off, Muted: true}
	list := []ChannelSetting{now}
	device.Changed = func(m osc.Message) {
		place, _ := d.Find(m.Address)
		v, _ := d.Value(place.Param, m.Args[0])
		switch place.Param {
		case cue.ParamMute:
			now.Muted = v != 0
		case cue.ParamLevel:
			now.LevelDB = v
		case cue.ParamPan:
			now.Pan = v
		case cue.ParamDelay:
			now.DelayMS = v
		}
		if now.AtS = w.Now.Sub(start).Seconds(); place.Channel == 1 {
			list = append(list, now)
		}
	}
	w.Run(time.Second)
	for _, s := range script {
		if _, err := w.Do(s.command); err != nil {
			t.Fatal(err)
		}
		w.Run(time.Duration(s.seconds * 1e9))
	}
	return list
}

// step is a command of a run and how long nothing is typed after it.
type step struct {
	command string
	seconds float64
}

// What a run really sends sounds as clean as the glides above: when the operator is on time, late or early, stops, goes
// back, or holds a channel in the middle of a walk. Packets that come up to 10 ms late, or get lost, cost 6 to 8 dB.
func TestRunIsClean(t *testing.T) {
	for _, c := range []struct {
		name   string
		faults virtual.Faults
		script []step
		most   float64 // splatter, dB
		cents  float64
	}{
		{"on time", virtual.Faults{}, []step{{"go", 5}, {"go", 3}}, -44.5, 14},
		{"late", virtual.Faults{}, []step{{"go", 6.3}, {"go", 3}}, -44.5, 14.5},
		// The channel meets its path when that comes back: from 8 ms/s to -8 at once, twice the bend of a start.
		{"early", virtual.Faults{}, []step{{"go", 2.4}, {"go", 5}}, -38.5, 14},
		{"hold and release", virtual.Faults{}, []step{{"go", 2.1}, {`hold "A"`, 2}, {`release "A"`, 5}}, -38.5, 14},
		{"stop and start", virtual.Faults{}, []step{{"go", 2.1}, {"stop", 1.3}, {"start", 5}}, -44.5, 14},
		{"back", virtual.Faults{}, []step{{"go", 4.6}, {"go", 1.2}, {"back", 5}}, -44.5, 14},
		{"late packets", virtual.Faults{Jitter: 10 * time.Millisecond}, []step{{"go", 5}, {"go", 3}}, -39, 17},
		{"lost packets", virtual.Faults{Drop: 0.1}, []step{{"go", 5}, {"go", 3}}, -35, 20},
	} {
		list := walked(t, c.faults, c.script...)
		seconds := 1.0
		for _, s := range c.script {
			seconds += s.seconds
		}
		y := render(Tone(rate, 1000, 0), Interpolates, off, seconds, list...)[rate*3/2:] // without the opening
		dB, bend := splatter(y, 1000), cents(y, 1000)
		t.Logf("%s: %.1f dB, %.1f cents, %d settings", c.name, dB, bend, len(list))
		if dB > c.most || bend > c.cents || bend < 10 {
			t.Errorf("%s: %.1f dB, %.1f cents", c.name, dB, bend)
		}
		if clicks := splatter(render(Tone(rate, 1000, 0), Jumps, off, seconds, list...)[rate*3/2:], 1000); clicks < -20 {
			t.Errorf("%s: %.1f dB on a mixer that jumps", c.name, clicks)
		}
	}
}

// A cue that fades out is heard until its end: a third of the way is two thirds of the loudness.
func TestRunFadesOutEvenly(t *testing.T) {
	list := walked(t, virtual.Faults{}, step{"go", 5}, step{"go", 3}, step{"go", 3}) // from 9 s to 11 s
	y := render(Tone(rate, 1000, 0), Interpolates, off, 12, list...)
	sones := func(s float64) float64 {
		power := 0.0
		for _, x := range y[int(s*rate) : int(s*rate)+rate/100] {
			power += x * x * 200 / rate
		}
		return math.Pow(power, 0.3)
	}
	for part := 0.1; part < 1; part += 0.1 {
		if got, want := sones(9+2*part), 1-part; math.Abs(got-want) > 0.03 {
			t.Errorf("after %.1f of the fade it has %.2f of the loudness, want %.2f", part, got, want)
		}
	}
	if got := sones(11.05); got > 0 {
		t.Errorf("after the fade it has %g of the loudness", got)
	}
}
