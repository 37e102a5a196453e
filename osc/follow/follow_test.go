package follow_test

import (
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"backfield/cue"
	"backfield/layout/source"
	"backfield/osc/follow"
	"backfield/osc/journal"
	"backfield/osc/midi"
	"backfield/osc/mixer"
	"backfield/osc/run"
	"backfield/osc/timecode"
)

var hours = flag.Float64("hours", 0.1, "how long TestLongRun runs")

var start = time.Unix(1_800_000_000, 0)

func at(s float64) time.Time { return start.Add(time.Duration(s * float64(time.Second))) }

// world is a run that follows time code, which comes as the bytes of a cable, in virtual time.
type world struct {
	t      *testing.T
	engine *run.Engine
	time   *follow.TimeFollower
	cable  midi.Cable
	pieces timecode.Assembler
	nowS   float64
	beginS float64 // the code of the first downbeat
	steps  []entered
}

// entered is a cue that the run has gone to.
type entered struct {
	id    string
	atS   float64
	cause string
}

// begin makes a run of cues at the given times, in seconds, whose show begins at one hour of time code.
func begin(t *testing.T, timesS ...float64) *world {
	t.Helper()
	var p source.Problems
	d := mixer.Read(&source.File{Name: "mixer.toml", Text: "to = \"127.0.0.1:9000\"\nchannels = 8\n[mute]\n" +
		"address = \"/ch/{channel}/mute\"\n[level]\naddress = \"/ch/{channel}/level\"\noff = -90\n"}, &p)
	if p.Errors() > 0 {
		t.Fatal(p.All())
	}
	s := &cue.Show{}
	for i, timeS := range timesS {
		s.Cues = append(s.Cues, cue.Snapshot{ID: fmt.Sprint(i + 1), TimeS: timeS, Movement: 1,
			Channels: []cue.Channel{{Channel: 1, Player: "Tpt 1", Kind: cue.Worn, Open: true, LevelDB: cue.Level(-i % 9)}}})
	}
	w := &world{t: t, beginS: 3600}
	w.time = follow.New(follow.OuterTime{
		Name: "time code", Rate: 1,
		Show: func(outer float64) (showS, rate float64) { return outer - w.beginS, 1 },
		Say:  func(outer float64) string { return timecode.AtS(outer, timecode.PAL).String() },
	})
	w.engine = run.New(run.ShowSetup{Show: s, Mixer: d}, run.Options{ByClock: true, Record: func(e journal.Entry) {
		if e.Kind == "step" {
			w.steps = append(w.steps, entered{e.Step, e.At.Sub(start).Seconds(), e.Command})
		}
	}}, start)
	return w
}

// to lets time pass: the run is called when it wants to be, and the follower as often as it must.
func (w *world) to(s float64) {
	for {
		at1 := w.nowS + follow.Every.Seconds()
		if next, _ := w.engine.Next(at(w.nowS)); next.Sub(start).Seconds() < at1 {
			at1 = max(w.nowS+1e-4, next.Sub(start).Seconds())
		}
		if at1 >= s {
			break
		}
		w.turn(at1)
	}
	w.turn(s)
}

func (w *world) turn(s float64) {
	w.nowS = s
	w.time.Steer(w.engine, at(s))
	w.engine.Advance(at(s))
}

// hear has the run hear bytes now.
func (w *world) hear(raw ...byte) {
	for _, b := range raw {
		m, ok := w.cable.Read(b)
		if !ok {
			continue
		}
		switch m.Status {
		case midi.QuarterFrame:
			if q := w.pieces.Add(m.Data[0]); q.Known {
				w.time.Hear(q.S, at(w.nowS))
			} else if q.Backward {
				w.time.Backward(at(w.nowS))
			}
		case midi.SystemExclusive:
			if c, ok := timecode.ReadFullFrame(m.Data); ok {
				w.time.Locate(c.S(), at(w.nowS))
			}
		}
	}
	w.turn(w.nowS)
}

// play sends time code for a while: from the code that is outerS after midnight, each quarter frame late by up to jitterS.
// drop reports whether one at an outer time is lost.
func (w *world) play(outerS, forS float64, rate timecode.Rate, r *rand.Rand, jitterS float64, drop func(outerS float64) bool) {
	from, startS := timecode.AtS(outerS, rate), w.nowS
	begin := from.S()
	for n := 0; float64(n)/4/rate.FPS() < forS; n++ {
		trueS := startS + float64(n)/4/rate.FPS()
		w.to(max(w.nowS, trueS+jitterS*r.Float64()))
		if drop == nil || !drop(begin+trueS-startS) {
			w.hear(midi.QuarterFrame, timecode.At(from.Count()+n/8*2, rate).Piece(n%8))
		}
	}
}

func (w *world) do(line string) {
	w.t.Helper()
	c, err := run.Parse(line)
	if err == nil {
		_, err = w.engine.Do(c, at(w.nowS))
	}
	if err != nil {
		w.t.Fatalf("%s: %v", line, err)
	}
	w.time.Ordered(w.engine, c.Verb, at(w.nowS))
	w.turn(w.nowS)
}

func (w *world) clockS() float64 {
	s, _, _ := w.engine.ShowClock(at(w.nowS))
	return s
}

func (w *world) ids() (list []string) {
	for _, s := range w.steps {
		list = append(list, s.id)
	}
	return list
}

func (w *world) expect(what string, want ...string) {
	w.t.Helper()
	if got := w.ids(); !slices.Equal(got, want) {
		w.t.Errorf("%s: the run went to %v, want %v", what, got, want)
	}
}

// A long run on time code at each of the four rates, 20 ms of jitter, a gap of up to 3 s every minute: every cue once, in
// order, within 5 ms of the code at p99 where the code is heard, and no drift.
func TestLongRun(t *testing.T) {
	t.Parallel()
	for rate := timecode.Film; rate <= timecode.NTSC; rate++ {
		t.Run(rate.String(), func(t *testing.T) {
			t.Parallel()
			r := rand.New(rand.NewPCG(19, uint64(rate)))
			var times []float64
			for s := 5.0; s < 3600*(*hours); s += 3 + 4*r.Float64() {
				times = append(times, s)
			}
			w := begin(t, times...)
			w.beginS = timecode.AtS(3600, rate).S() // a frame of drop frame is never on the hour
			gap, gapEnd := 0.0, 0.0
			w.play(3600, 3600*(*hours), rate, r, 0.02, func(outerS float64) bool {
				if m := math.Floor(outerS / 60); m > gap && outerS > 3610 {
					gap, gapEnd = m, outerS+3*r.Float64()
				}
				return outerS < gapEnd
			})
			var offS []float64
			for i, s := range w.steps {
				if s.id != fmt.Sprint(i+1) {
					t.Fatalf("step %d is %s", i, s.id)
				}
				offS = append(offS, math.Abs(s.atS-times[i]))
			}
			if len(w.steps) < len(times)-1 {
				t.Errorf("%d of %d cues went", len(w.steps), len(times))
			}
			slices.Sort(offS)
			p99, most := offS[len(offS)*99/100], offS[len(offS)-1]
			t.Logf("%d cues: off by %.2f ms at p50, %.2f ms at p99, %.2f ms at most", len(offS), 1e3*offS[len(offS)/2], 1e3*p99,
				1e3*most)
			if p99 > 0.005 || most > 0.015 {
				t.Errorf("off by %v s at p99, %v s at most", p99, most)
			}
		})
	}
}

// Locked within a second; a jump forward or back is followed to the cue that holds there.
func TestJumps(t *testing.T) {
	t.Parallel()
	r := rand.New(rand.NewPCG(1, 1))
	w := begin(t, 1, 10, 20, 30, 40)
	w.play(3600, 2, timecode.PAL, r, 0.02, nil)
	w.expect("after 2 s", "1")
	w.play(3632, 2, timecode.PAL, r, 0.02, nil)
	w.expect("jump forward", "1", "4")
	if math.Abs(w.clockS()-34) > 0.03 {
		t.Errorf("the clock is at %v", w.clockS())
	}
	w.play(3608, 4, timecode.PAL, r, 0.02, nil)
	w.expect("jump back", "1", "4", "1", "2")
	w.play(3608, 4, timecode.PAL, r, 0.02, nil) // the same once more
	w.expect("jump back again", "1", "4", "1", "2", "1", "2")
	if w.steps[3].cause == string(run.FollowTime) || w.steps[2].cause != string(run.FollowTime) {
		t.Errorf("causes: %+v", w.steps)
	}
}

// Go and back win over the time, and the run says so.
func TestOperatorFirst(t *testing.T) {
	t.Parallel()
	r := rand.New(rand.NewPCG(1, 1))
	w := begin(t, 1, 10, 20, 30, 40)
	w.play(3600, 5, timecode.PAL, r, 0.02, nil)
	w.do("go")
	w.expect("go, early by 5 s", "1", "2")
	says := func(want string, wantAlarm bool) {
		t.Helper()
		if text, alarm := w.time.View(at(w.nowS)); text != want || alarm != wantAlarm {
			t.Errorf("it says %q, %t", text, alarm)
		}
	}
	says("time code 01:00:04:24: you were early by 5.0 s, the clock waits", false)
	w.play(3605, 6, timecode.PAL, r, 0.02, nil)
	w.expect("the code has come to it", "1", "2")
	if math.Abs(w.clockS()-11) > 0.03 {
		t.Errorf("the clock is at %v", w.clockS())
	}
	w.do("back")
	w.expect("back", "1", "2", "1")
	w.play(3611, 20, timecode.PAL, r, 0.02, nil)
	w.expect("the time goes on after back", "1", "2", "1")
	says("time code not followed since back: start follows it again", true)
	w.do("start")
	w.play(3631, 1, timecode.PAL, r, 0.02, nil)
	w.expect("start", "1", "2", "1", "4")
	w.do("stop")
	w.play(3632, 10, timecode.PAL, r, 0.02, nil)
	w.expect("stop", "1", "2", "1", "4")
	w.do("go")
	w.expect("go after stop", "1", "2", "1", "4", "5")
}

// Two seconds without a word are ridden through. After that it goes on and says so, and cues go on.
func TestSilence(t *testing.T) {
	t.Parallel()
	r := rand.New(rand.NewPCG(1, 1))
	w := begin(t, 1, 10, 20, 30, 40)
	says := func(want string, wantAlarm bool) {
		t.Helper()
		if text, alarm := w.time.View(at(w.nowS)); text != want || alarm != wantAlarm {
			t.Errorf("at %v it says %q, %t", w.nowS, text, alarm)
		}
	}
	says("waiting for time code", false)
	w.play(3600, 0.2, timecode.PAL, r, 0, nil)
	says("time code is heard, not yet followed", false)
	w.play(3600.2, 8.8, timecode.PAL, r, 0.02, nil)
	w.to(10.5)
	w.expect("1.5 s without it", "1", "2")
	says("time code 01:00:10:12", false)
	w.to(31)
	w.expect("22 s without it", "1", "2", "3", "4")
	says("no time code for 22s: the show clock goes on at the last tempo", true)
	w.play(3626, 2, timecode.PAL, r, 0.02, nil)
	w.expect("it is back, and behind", "1", "2", "3", "4", "3")
}

// A full frame places the clock, which stands; a time that runs backward is not followed.
func TestStands(t *testing.T) {
	t.Parallel()
	r := rand.New(rand.NewPCG(1, 1))
	w := begin(t, 1, 10, 20, 30, 40)
	locate := func(s float64) {
		w.hear(slices.Concat([]byte{midi.SystemExclusive}, timecode.AtS(s, timecode.PAL).FullFrame(), []byte{0xF7})...)
	}
	locate(3621)
	w.to(60)
	w.expect("located", "3")
	if text, alarm := w.time.View(at(60)); text != "time code stands at 01:00:21:00" || alarm {
		t.Error(text, alarm)
	}
	if v := w.engine.View(at(60)); v.Running || v.Stopped != "with the time that it follows" || v.ShowS != 21 {
		t.Errorf("%v %q %v", v.Running, v.Stopped, v.ShowS)
	}
	w.play(3621, 10, timecode.PAL, r, 0.02, nil)
	w.expect("it runs from there", "3", "4")
	for n := 200; n >= 0; n-- {
		w.to(w.nowS + 0.01)
		w.hear(midi.QuarterFrame, timecode.At(90700+n/8*2, timecode.PAL).Piece(n%8))
	}
	w.expect("backward", "3", "4")
	if text, alarm := w.time.View(at(w.nowS)); text != "time code runs backward: not followed" || !alarm {
		t.Error(text, alarm)
	}
}

// Whatever comes over the cable, the run goes on, and its clock is a number.
func FuzzBytes(f *testing.F) {
	f.Add([]byte{0xF1, 0x01, 0xF1, 0x10, 0xF0, 0x7F, 0x7F, 1, 1, 0x21, 0, 0x10, 0, 0xF7})
	f.Fuzz(func(t *testing.T, raw []byte) {
		w := begin(t, 1, 10, 20)
		for _, b := range raw {
			w.to(w.nowS + 0.01)
			w.hear(b)
			if s := w.clockS(); math.IsNaN(s) || math.IsInf(s, 0) {
				t.Fatal(s)
			}
		}
		w.time.View(at(w.nowS))
	})
}
