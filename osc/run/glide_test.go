package run_test

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"backfield/cue"
	"backfield/osc"
	"backfield/osc/feed"
	"backfield/osc/journal"
	"backfield/osc/mixer"
	"backfield/osc/run"
	"backfield/osc/run/simulate"
	"backfield/osc/virtual"
	"backfield/osc/wire"
)

const (
	tick     = 20 * time.Millisecond
	slewMSPS = 8
	// mostOpenStep is the most that an open delay may move in one message: the slew for a tick, and a step of the mixer.
	mostOpenStep = slewMSPS*0.02 + 0.1 + 1e-6
)

// bend is a point of a test's path: a time, the delay and the pan.
type bend struct{ s, delayMS, pan float64 }

// paths are those of the glide show, by player: straight from bend to bend.
var paths = map[string][]bend{
	"A": {{0, 80, -0.5}, {4, 60, 0.1}, {10, 60, 0.1}, {18, 90, 0.5}, {20, 90, 0.5}, {30, 75, -0.2}},
	"B": {{10, 40, 0}, {20, 48, 0.25}, {30, 20, 0.5}},
}

// onPath is a player's delay and pan at a time: a plain walk along the bends.
func onPath(player string, s float64) bend {
	list := paths[player]
	at := list[0]
	for _, to := range list {
		if s < to.s {
			if s > at.s {
				part := (s - at.s) / (to.s - at.s)
				return bend{s, at.delayMS + part*(to.delayMS-at.delayMS), at.pan + part*(to.pan-at.pan)}
			}
			return at
		}
		at = to
	}
	return at
}

// glideShow has cues at 0, 10, 20 and 30 s. A is open in all but the last, B in 2 and 3, C never.
func glideShow(moves cue.Moves) *cue.Show {
	s := &cue.Show{Title: "t"}
	s.Rig.Delay = cue.Settings{Moves: moves, SlewMSPS: slewMSPS}
	for n := range 4 {
		from, to := float64(10*n), float64(10*n+10)
		x := cue.Snapshot{ID: fmt.Sprint(n + 1), Movement: 1, Count: 2*from + 1, TimeS: from, FadeS: 0.5}
		for i, player := range []string{"A", "B", "C"} {
			c := channel(i+1, player, -6, i == 0 && n < 3 || i == 1 && (n == 1 || n == 2), 0, 30)
			if i < 2 {
				at := onPath(player, from)
				c.DelayMS, c.Pan = at.delayMS, at.pan
				for _, k := range append(append([]bend{}, paths[player]...), bend{to, 0, 0}) {
					if c.Open && k.s > from && k.s <= to {
						at := onPath(player, k.s)
						c.Glide = append(c.Glide, cue.Knot{Movement: 1, TimeS: k.s, DelayMS: at.delayMS, Pan: at.pan})
					}
				}
			}
			x.Channels = append(x.Channels, c)
		}
		s.Cues = append(s.Cues, x)
	}
	return s
}

// glideWorld is a run of the glide show that measures the steps of open delays at the mixer.
type glideWorld struct {
	*world
	most   map[string]float64 // the greatest step of each open delay
	slew   float64            // the greatest part of the slew, and a step, that a step took since the one before
	clicks int                // steps over what may be
	last   map[string]float64
	lastAt map[string]time.Time
	jitter time.Duration // how much later than the packet before a packet may come
}

func beginGlide(t *testing.T, s *cue.Show, more string, faults virtual.Faults) *glideWorld {
	t.Helper()
	d := readMixer(t, more)
	g := &glideWorld{
		world:  &world{t: t, mixer: d, plan: run.ShowSetup{Show: s, Mixer: d, Time: timeline{}}},
		jitter: faults.Jitter,
		most:   map[string]float64{}, last: map[string]float64{}, lastAt: map[string]time.Time{},
	}
	g.start(run.New(g.plan, run.Options{To: []string{"mixer"}}, start), start, faults, virtual.New(d))
	g.settle()
	return g
}

func (g *glideWorld) start(e *run.Engine, now time.Time, faults virtual.Faults, m *virtual.Device) {
	m.Changed = func(x osc.Message) { g.taken = append(g.taken, x.String()); g.measure(m, x) }
	g.World = simulate.New(e, now, faults, 7, m)
}

// measure notes a delay that has changed while its channel could be heard.
func (g *glideWorld) measure(m *virtual.Device, x osc.Message) {
	place, _ := g.mixer.Find(x.Address)
	if place.Param != cue.ParamDelay || g.World == nil {
		return
	}
	v, _ := x.Args[0].Number()
	was, known := g.last[x.Address]
	since := g.Now.Sub(g.lastAt[x.Address]) + g.jitter
	g.last[x.Address], g.lastAt[x.Address] = v, g.Now
	mute, _ := m.Value(g.mixer.Address(mixer.Control{Channel: place.Channel, Param: cue.ParamMute}))
	level, _ := m.Value(g.mixer.Address(mixer.Control{Channel: place.Channel, Param: cue.ParamLevel}))
	if !known || mute != osc.Int32(0) || level == osc.Float32(-120) {
		return
	}
	step := math.Abs(v - was)
	g.most[x.Address] = max(g.most[x.Address], step)
	if step > slewMSPS*max(since, tick).Seconds()+0.1+1e-6 {
		g.clicks++
	}
}

// checkSteps holds the steps of all open delays to the most that one may have.
func (g *glideWorld) checkSteps(what string) {
	g.t.Helper()
	for address, step := range g.most {
		if step > mostOpenStep {
			g.t.Errorf("%s: the open delay %s moves by %.3g ms at once, at most %.3g", what, address, step, mostOpenStep)
		}
	}
	clear(g.most)
}

// value is what the mixer holds.
func (g *glideWorld) value(address string) float64 {
	arg, _ := g.Mixers[0].Mixer.Value(address)
	v, _ := arg.Number()
	return v
}

// near compares the mixer with a player's path at the time of the show clock: to a tick and a step.
func (g *glideWorld) near(player string, channel int) {
	g.t.Helper()
	s := g.Engine.View(g.Now).ShowS
	want := onPath(player, s)
	delay, pan := g.value(fmt.Sprintf("/d/%d", channel)), g.value(fmt.Sprintf("/p/%d", channel))
	if math.Abs(delay-want.delayMS) > slewMSPS*0.02+0.05+1e-6 || math.Abs(pan-want.pan) > 0.02+0.005+1e-6 {
		g.t.Errorf("%s at %.2f s: the mixer has %g ms and %g, the path %.3f ms and %.3f", player, s, delay, pan, want.delayMS, want.pan)
	}
}

// follow lets time pass and compares at many instants.
func (g *glideWorld) follow(d time.Duration, check func()) {
	for end := g.Now.Add(d); g.Now.Before(end); {
		g.Run(37 * time.Millisecond)
		check()
	}
}

// An open channel is on its path at every instant, exact where the path rests, and never makes a step over the slew.
func TestGlide(t *testing.T) {
	g := beginGlide(t, glideShow(cue.Glides), "", virtual.Faults{})
	g.do("go")
	g.follow(9500*time.Millisecond, func() { g.near("A", 1) })
	g.holds(0, "/d/1 60", "/p/1 0.1", "/l/1 -6") // at rest since 4 s
	g.do("go")
	g.follow(9500*time.Millisecond, func() { g.near("A", 1); g.near("B", 2) })
	g.holds(0, "/d/1 90", "/p/1 0.5")
	g.do("go")
	g.follow(9400*time.Millisecond, func() { g.near("A", 1); g.near("B", 2) })
	g.do("go")
	g.settle()
	g.holds(0, "/m/1 1", "/m/2 1", "/d/3 30")
	g.checkSteps("a run in time")
}

// While nothing moves, the run sleeps until the next knot.
func TestGlideSleeps(t *testing.T) {
	g := beginGlide(t, glideShow(cue.Glides), "", virtual.Faults{})
	g.mixer.Repeat = false
	g.do("go")
	g.Run(5 * time.Second) // A rests from 4 s to 10 s
	loops := g.Loops
	g.Run(4 * time.Second)
	if n := g.Loops - loops; n > 4 {
		t.Errorf("at rest the engine is called %d times in 4 s", n)
	}
	if at, _ := g.Engine.Next(g.Now); at.Sub(g.Now) > 2*time.Second {
		t.Errorf("the next knot is in less than a second, the engine sleeps %v", at.Sub(g.Now))
	}
	loops = g.Loops
	g.do("stop")
	g.Run(10 * time.Second)
	if n := g.Loops - loops; n > 8 {
		t.Errorf("with the clock stopped, the engine is called %d times in 10 s", n)
	}
}

// The path goes on under the old cue until a late go; the bridge back, and that of an early one, keep to the slew.
func TestGlideLateAndEarlyGo(t *testing.T) {
	g := beginGlide(t, glideShow(cue.Glides), "", virtual.Faults{})
	g.do("go")
	g.Run(11500 * time.Millisecond) // 2 s late
	g.inStep("1")
	g.follow(400*time.Millisecond, func() { g.near("A", 1) })
	g.do("go") // the clock goes back to 10 s
	g.checkSteps("late")
	g.follow(3*time.Second, func() {}) // the path moves at 3.75 ms/s, the bridge gains on it
	g.near("A", 1)
	g.do("go") // 6 s early: 25 ms further on
	g.Run(2 * time.Second)
	if v := g.value("/d/1"); v > 89 {
		t.Errorf("2.5 s after an early go, the delay has gone to %g already", v)
	}
	g.Run(6 * time.Second)
	g.near("A", 1)
	g.checkSteps("early")
}

// Hold freezes a channel on its path, and release, back, stop and jump are bridged.
func TestGlideCommands(t *testing.T) {
	g := beginGlide(t, glideShow(cue.Glides), "", virtual.Faults{})
	g.do("go")
	g.Run(1500 * time.Millisecond)
	g.do("hold A")
	held := g.value("/d/1")
	if math.Abs(held-70.5) > 1 {
		t.Errorf("held at %g ms", held)
	}
	g.Run(3 * time.Second)
	if v := g.value("/d/1"); v != held {
		t.Errorf("held at %g ms, then %g", held, v)
	}
	g.do("release A")
	g.Run(2 * time.Second)
	g.near("A", 1)
	g.checkSteps("hold and release")
	g.do("stop")
	at := g.value("/d/1")
	g.Run(5 * time.Second)
	g.near("A", 1)
	if v := g.value("/d/1"); v != at {
		t.Errorf("the path goes on while the clock is stopped: %g, then %g ms", at, v)
	}
	g.do("start")
	g.follow(2*time.Second, func() { g.near("A", 1) })
	g.do("go")
	g.Run(4 * time.Second)
	g.do("back")
	g.Run(5 * time.Second)
	g.near("A", 1)
	g.checkSteps("stop, start and back")
	g.do("jump 1:30") // 14.5 s
	g.Run(5 * time.Second)
	g.near("A", 1)
	g.near("B", 2) // it was closed, and opens where its path is
	g.checkSteps("jump")
}

// What opens after a jump or a hush is moved first, has the mixer's time to settle, and opens then.
func TestSettlesBeforeOpening(t *testing.T) {
	for n, line := range []string{"jump 1:30", "swap B to 20", "jump 1:30", "swap B to 20"} {
		g := beginGlide(t, glideShow(cue.Glides), "", virtual.Faults{})
		slow := n >= 2
		if slow { // its queue takes longer than the time to settle
			g.mixer.Rate = 50
			g.start(run.New(g.plan, run.Options{To: []string{"mixer"}}, g.Now), g.Now, virtual.Faults{}, g.Mixers[0].Mixer)
		}
		channel := 2
		if line != "jump 1:30" {
			g.do("jump 1:30")
			channel = 20
		}
		g.settle()
		at := map[string]time.Duration{}
		from, m := g.Now, g.Mixers[0].Mixer
		m.Changed = func(x osc.Message) {
			if _, again := at[x.String()]; !again {
				at[x.String()] = g.Now.Sub(from)
			}
		}
		g.do(line)
		g.Run(time.Second)
		var moved, opened time.Duration
		for x, when := range at {
			if strings.HasPrefix(x, fmt.Sprintf("/d/%d ", channel)) {
				moved = max(moved, when)
			}
			if x == fmt.Sprintf("/m/%d i 0", channel) {
				opened = when
			}
		}
		if moved == 0 || opened-moved < 49*time.Millisecond || opened > 80*time.Millisecond && !slow {
			t.Errorf("%s: the delay is set after %v, and the channel opens after %v: %v", line, moved, opened, at)
		}
		if !slow {
			g.near("B", channel)
		}
	}
}

// A swap's spare follows the wearer's path.
func TestGlideSwap(t *testing.T) {
	g := beginGlide(t, glideShow(cue.Glides), "", virtual.Faults{})
	g.do("go")
	g.Run(time.Second)
	g.do("swap A to 20")
	g.follow(8*time.Second, func() { g.near("A", 20) })
	g.holds(0, "/m/1 1", "/m/20 0")
	g.do("go")
	g.follow(3*time.Second, func() { g.near("A", 20) })
	g.do("swap A back")
	g.follow(3*time.Second, func() { g.near("A", 1) })
	g.holds(0, "/m/1 0", "/m/20 1")
	g.checkSteps("swap")
}

// After a link that was down, the mixer's delay goes on from where it was.
func TestGlideLostLink(t *testing.T) {
	for _, down := range []bool{false, true} {
		g := beginGlide(t, glideShow(cue.Glides), "", virtual.Faults{})
		g.do("go")
		g.Run(500 * time.Millisecond)
		if down {
			g.Engine.LinkDown(0, errors.New("pulled"), g.Now)
			g.Run(3 * time.Second)
			g.Engine.LinkUp(0, g.Now)
		} else {
			g.Mixers[0].Cut = errors.New("no way")
			g.Run(3 * time.Second)
			g.Mixers[0].Cut = nil
		}
		g.Run(300 * time.Millisecond)
		if v := g.value("/d/1"); v < 70 {
			t.Errorf("0.3 s after the link came back, the delay is at %g ms already", v)
		}
		g.Run(5 * time.Second)
		g.near("A", 1)
		g.checkSteps("a lost link")
	}
}

// On a network that loses packets, a step is at most what the slew allows since the last packet that arrived.
func TestGlideLostPackets(t *testing.T) {
	for _, talk := range talks {
		g := beginGlide(t, glideShow(cue.Glides), talk, virtual.Faults{Drop: 0.2, Jitter: 5 * time.Millisecond})
		g.do("go")
		g.Run(11 * time.Second)
		g.do("go")
		g.Run(3 * time.Second)
		g.do("hold A")
		g.Run(3 * time.Second)
		g.do("release A", "back")
		g.Run(2 * time.Second)
		g.do("stop")
		g.Run(8 * time.Second)
		if g.clicks > 0 || g.most["/d/1"] > 1 {
			t.Errorf("%q: %d steps over the slew; the greatest step is %.3g ms", talk, g.clicks, g.most["/d/1"])
		}
		s := g.Engine.View(g.Now).ShowS
		if v := g.value("/d/1"); math.Abs(v-onPath("A", s).delayMS) > 0.05+1e-4 {
			t.Errorf("%q: at rest the mixer has %g ms, the path %g", talk, v, onPath("A", s).delayMS)
		}
		if list := g.Engine.View(g.Now).Mixers[0].Manual; len(list) > 0 {
			t.Errorf("%q: manual: %v", talk, list)
		}
	}
}

// A tempo above the written one does not take the delay over the slew.
func TestGlideFasterThanWritten(t *testing.T) {
	s := glideShow(cue.Glides)
	g := beginGlide(t, s, "", virtual.Faults{})
	g.do("go")
	for range 2 { // twice as fast as written: the path of A falls by 10 ms/s
		g.Run(4500 * time.Millisecond)
		g.do("go")
	}
	g.Run(5 * time.Second)
	g.near("A", 1)
	g.checkSteps("faster than written")
}

// A mixer that clicks gets no gliding delay. At a cue its delay may change at once; after a jump it changes in a dip.
func TestDip(t *testing.T) {
	s := glideShow(cue.AtCues)
	for n := range s.Cues {
		c := &s.Cues[n].Channels[0]
		c.DelayMS = 50 + 5*float64(n)
		for i := range c.Glide {
			c.Glide[i].DelayMS = c.DelayMS
		}
		if len(c.Glide) > 0 {
			c.Glide[len(c.Glide)-1].DelayMS += 5
		}
	}
	s.Cues[0].Channels[0].Glide[0].DelayMS = 52 // at 4 s: the path pays for a dip there
	s.Cues[0].Channels[0].Glide[0].TimeS = 4
	g := beginGlide(t, s, "", virtual.Faults{})
	type event struct {
		text string
		at   time.Duration
	}
	var events []event
	g.mixer.Repeat = false
	began := g.Now
	g.Mixers[0].Mixer.Changed = func(x osc.Message) {
		if x.Address == "/m/1" || x.Address == "/d/1" {
			events = append(events, event{x.String(), g.Now.Sub(began)})
		}
	}
	g.do("go")
	g.Run(time.Second)
	events, began = nil, g.Now
	g.Run(4 * time.Second) // the dip at 4 s
	if len(events) != 3 || events[0].text != "/m/1 i 1" || events[1].text != "/d/1 f 52" || events[2].text != "/m/1 i 0" ||
		events[1].at-events[0].at < 20*time.Millisecond || events[2].at-events[0].at < 60*time.Millisecond ||
		events[2].at-events[0].at > 100*time.Millisecond {
		t.Errorf("a dip is %v", events)
	}
	g.Run(3500 * time.Millisecond)
	events = nil
	g.do("go") // at its cue: at once
	if len(events) != 1 || events[0].text != "/d/1 f 55" {
		t.Errorf("at a cue: %v", events)
	}
	g.Run(time.Second)
	events = nil
	g.do("jump 3")
	if len(events) != 3 || events[1].text != "/d/1 f 60" {
		t.Errorf("a jump: %v", events)
	}
	if pan := g.value("/p/1"); math.Abs(pan-0.5) > 0.6 {
		t.Errorf("pan %g", pan)
	}
	g.Run(time.Second)
	g.holds(0, "/p/1 0.5", "/m/1 0")
}

// A show of format 1 has no paths: everything holds from one knot to the next, levels too.
func TestStepped(t *testing.T) {
	s := glideShow(cue.Stepped)
	level := cue.Level(-9)
	s.Cues[0].Channels[0].Glide[0].LevelDB = &level
	g := beginGlide(t, s, "", virtual.Faults{})
	g.do("go")
	g.Run(3400 * time.Millisecond)
	g.holds(0, "/d/1 80", "/p/1 -0.5", "/l/1 -6")
	g.Run(200 * time.Millisecond)
	g.holds(0, "/d/1 60", "/p/1 0.1", "/l/1 -9")
}

// The make-up of a path moves the level, beside a nudge.
func TestGlideLevel(t *testing.T) {
	s := glideShow(cue.Glides)
	level := cue.Level(-10)
	s.Cues[0].Channels[0].Glide[0].LevelDB = &level // from -6 dB at 0 s to -10 at 4 s
	g := beginGlide(t, s, "", virtual.Faults{})
	g.do("go", "nudge A +1")
	g.Run(time.Second)
	if v := g.value("/l/1"); math.Abs(v-(-6-4*0.5+1)) > 0.03 {
		t.Errorf("after 2 s the level is %g", v)
	}
	g.Run(2100 * time.Millisecond)
	g.holds(0, "/l/1 -9")
}

// A resumed run is on the path of the moment.
func TestGlideResumed(t *testing.T) {
	g := beginGlide(t, glideShow(cue.Glides), "", virtual.Faults{})
	g.do("go")
	g.Run(time.Second)
	state, now := g.Engine.State(), g.Now.Add(time.Second)
	e, err := run.Resume(g.plan, run.Options{To: []string{"mixer"}}, state, now)
	if err != nil {
		t.Fatal(err)
	}
	g.start(e, now, virtual.Faults{}, g.Mixers[0].Mixer)
	g.Run(100 * time.Millisecond)
	g.follow(2*time.Second, func() { g.near("A", 1) })
}

// The journal is not written at each tick.
func TestGlideJournal(t *testing.T) {
	g := beginGlide(t, glideShow(cue.Glides), "", virtual.Faults{})
	lines := 0
	e := run.New(g.plan, run.Options{To: []string{"mixer"}, Record: func(journal.Entry) { lines++ }}, g.Now)
	g.start(e, g.Now, virtual.Faults{}, virtual.New(g.mixer))
	g.do("go")
	g.Run(time.Second)
	before := lines
	g.Run(2 * time.Second)
	if lines != before {
		t.Errorf("%d lines of the journal while a path moves", lines-before)
	}
}

// withPaths gives every open channel of a show a path to the next cue, below the slew, with a bend on the way.
func withPaths(r *rand.Rand, s *cue.Show) {
	s.Rig.Delay = cue.Settings{Moves: cue.Glides, SlewMSPS: slewMSPS}
	walk := func(from bend, s float64) bend {
		return bend{
			from.s + s, max(0, from.delayMS+(2*r.Float64()-1)*0.9*slewMSPS*s), min(max(from.pan+(2*r.Float64()-1)*0.8*s, -1), 1),
		}
	}
	for i := range s.Cues[0].Channels {
		at := bend{s.Cues[0].TimeS, s.Cues[0].Channels[i].DelayMS, s.Cues[0].Channels[i].Pan}
		for n := range s.Cues {
			c := &s.Cues[n].Channels[i]
			c.DelayMS, c.Pan = math.Round(at.delayMS*10)/10, math.Round(at.pan*100)/100
			if n+1 == len(s.Cues) {
				continue
			}
			half := (s.Cues[n+1].TimeS - s.Cues[n].TimeS) / 2
			knot := walk(bend{at.s, c.DelayMS, c.Pan}, half)
			at = walk(knot, half)
			if next := &s.Cues[n+1].Channels[i]; !c.Open || !next.Open || next.Player != c.Player {
				at.delayMS, at.pan = float64(r.IntN(500))/10, float64(r.IntN(201)-100)/100
				continue
			}
			for _, k := range []bend{knot, {at.s, math.Round(at.delayMS*10) / 10, math.Round(at.pan*100) / 100}} {
				c.Glide = append(c.Glide, cue.Knot{Movement: 1, TimeS: k.s, DelayMS: k.delayMS, Pan: k.pan})
			}
		}
	}
}

// onItsPath is an open channel of a step where its player is at a time of the show, by a plain walk along the bends of
// its stretch.
func onItsPath(s *cue.Show, step int, c cue.Channel, showS float64) cue.Channel {
	if s.Rig.Delay.Moves != cue.Glides || !c.Open || step < 0 {
		return c
	}
	i := slices.IndexFunc(s.Cues[step].Channels, func(x cue.Channel) bool { return x.Player == c.Player && x.Open })
	if i < 0 {
		return c
	}
	first := s.Cues[step].Channels[i]
	bends := []bend{{s.Cues[step].TimeS, first.DelayMS, first.Pan}}
	for ; step < len(s.Cues) && s.Cues[step].Channels[i].Open && s.Cues[step].Channels[i].Player == c.Player; step++ {
		for _, k := range s.Cues[step].Channels[i].Glide {
			bends = append(bends, bend{k.TimeS, k.DelayMS, k.Pan})
		}
	}
	at := bends[0]
	for _, to := range bends[1:] {
		if showS < to.s {
			part := max(0, (showS-at.s)/(to.s-at.s))
			at.delayMS, at.pan = at.delayMS+part*(to.delayMS-at.delayMS), at.pan+part*(to.pan-at.pan)
			break
		}
		at = to
	}
	c.DelayMS, c.Pan = at.delayMS, at.pan
	return c
}

// nearly reports whether a mixer's value of a delay or pan is near enough to a path at the rate at which the show is
// played: a tick's way, and a step. A mixer that takes few messages gets fewer, longer steps. Where packets are lost,
// several in a row may be.
func nearly(d *mixer.Mixer, x mixer.Control, got, want osc.Arg, rows int, rate float64, loses bool) bool {
	a, _ := got.Number()
	b, _ := want.Number()
	s := rate * max(tick.Seconds(), 2.5*float64(rows)/float64(d.Rate))
	if loses {
		s *= 8
	}
	switch x.Param {
	case cue.ParamDelay:
		return math.Abs(a-b) <= slewMSPS*s+0.1+1e-4
	case cue.ParamPan:
		return math.Abs(a-b) <= s+0.01+1e-4
	}
	return false
}

// A recalled scene holds one delay, and the run moves it to the path from there.
func TestGlideRecall(t *testing.T) {
	s := glideShow(cue.Glides)
	closed := 70.0
	for n := range s.Cues {
		s.Cues[n].Channels[0].SceneMS = &closed
	}
	g := beginGlide(t, s, "[store]\naddress = \"/store/{slot}\"\nslots = 10\nsettle = \"200 ms\"\n"+
		"[recall]\naddress = \"/recall/{slot}\"\n", virtual.Faults{})
	m := virtual.New(g.mixer)
	for n := range s.Cues {
		scene := s.Cues[n].Scene()
		for _, x := range g.mixer.Settings(&scene) {
			m.Handle(start, "store", wire.Encode(x.Message))
		}
		m.Handle(start, "store", wire.Encode(g.mixer.Store.Message(g.mixer.Store.First+n, "")))
	}
	m.Wake()
	g.start(run.New(g.plan, run.Options{To: []string{"mixer"}, Recall: true}, g.Now), g.Now, virtual.Faults{}, m)
	g.Run(time.Second)
	g.do("go")
	clear(g.most)
	if v := g.value("/d/1"); v < 70 || v > 74 { // 0.3 s of a bridge from 70 ms to the path, which is at 78 ms
		t.Errorf("0.5 s after the recall the delay is %g ms", v)
	}
	g.Run(8500 * time.Millisecond)
	g.near("A", 1)
	g.checkSteps("after a recall")
}

// A mixer that takes few messages a second gets fewer, longer steps, of the newest values only. Mutes and levels pass
// them.
func TestGlideSlowMixer(t *testing.T) {
	p := benchShow("glide") // 24 open channels, each with delay and pan: 1,400 messages a second
	p.Mixer = readMixer(t, "")
	p.Mixer.Rate, p.Mixer.Channels = 200, 64
	m := virtual.New(p.Mixer)
	w := simulate.New(run.New(p, run.Options{To: []string{"mixer"}}, start), start, virtual.Faults{}, 1, m)
	w.Run(3 * time.Second)
	for _, line := range []string{"go", "go"} {
		if _, err := w.Do(line); err != nil {
			t.Fatal(err)
		}
		w.Run(2 * time.Second)
	}
	last := map[string]float64{}
	most, count := 0.0, 0
	m.Changed = func(x osc.Message) {
		if v, _ := x.Args[0].Number(); strings.HasPrefix(x.Address, "/d/") {
			if was, known := last[x.Address]; known {
				most = max(most, math.Abs(v-was))
			}
			last[x.Address] = v
			count++
		}
	}
	w.Run(4 * time.Second)
	if spacing := 48 * 1.25 / 200; most > slewMSPS*spacing+0.1 || count < 300 {
		t.Errorf("in 4 s %d delays are sent; the longest step is %.2f ms", count, most)
	}
	var first []string
	m.Changed = func(x osc.Message) { first = append(first, x.String()) }
	if _, err := w.Do("hush"); err != nil {
		t.Fatal(err)
	}
	w.Run(200 * time.Millisecond)
	for i, x := range first {
		if i > 0 && i < 10 && !strings.HasPrefix(x, "/m/") { // 10 are worn; one message may be on its way already
			t.Errorf("message %d after hush is %s", i, x)
		}
	}
}

// A mixer that takes fewer messages than the paths make has its mics opened all the same, and soon.
func TestOpensOnSlowMixer(t *testing.T) {
	for n := range 6 {
		rate, early := 100+100*(n%3), n >= 3 // early: go before the mixer was sent everything closed
		p := benchShow("glide")
		p.Show.Cues = p.Show.Cues[1:] // its paths move from the start
		p.Mixer = readMixer(t, "")
		p.Mixer.Rate, p.Mixer.Channels = rate, 64
		m := virtual.New(p.Mixer)
		w := simulate.New(run.New(p, run.Options{To: []string{"mixer"}}, start), start, virtual.Faults{}, 1, m)
		messages := 24 * 4
		if early {
			w.Run(50 * time.Millisecond)
			messages += 64 * 5
		} else {
			w.Run(10 * time.Second)
		}
		if _, err := w.Do("go"); err != nil {
			t.Fatal(err)
		}
		w.Run(time.Duration(messages)*time.Second/time.Duration(rate) + 100*time.Millisecond)
		open, want := 0, 0
		for _, c := range p.Show.Cues[0].Channels {
			if c.Open {
				want++
			}
			mute := p.Mixer.Address(mixer.Control{Channel: c.Channel, Param: cue.ParamMute})
			if v, _ := m.Value(mute); c.Open && v == osc.Int32(0) {
				open++
			}
		}
		if open != want || want == 0 {
			t.Errorf("at %d messages a second, early %t, %d of %d mics are open after go", rate, early, open, want)
		}
	}
}

// In a dip, a mixer has its time to mute before the delay jumps, and its time to settle before it unmutes, however long
// its queue is.
func TestDipOnSlowMixer(t *testing.T) {
	for _, rate := range []int{100, 200, 1000} {
		p := benchShow("glide")
		p.Show.Rig.Delay.Moves = cue.AtCues
		for i := range p.Show.Cues[1].Channels { // another delay, which rests while the pan moves
			c := &p.Show.Cues[1].Channels[i]
			c.DelayMS = 45
			for k := range c.Glide {
				c.Glide[k].DelayMS = 45
			}
		}
		p.Mixer = readMixer(t, "")
		p.Mixer.Rate, p.Mixer.Channels = rate, 64
		m := virtual.New(p.Mixer)
		w := simulate.New(run.New(p, run.Options{To: []string{"mixer"}}, start), start, virtual.Faults{}, 1, m)
		w.Run(10 * time.Second)
		last := map[string]osc.Arg{}
		at := map[string]time.Time{}
		jumps := 0
		m.Changed = func(x osc.Message) {
			kind, n := x.Address[:3], x.Address[3:]
			if last[x.Address] == x.Args[0] {
				return
			}
			last[x.Address], at[x.Address] = x.Args[0], w.Now
			muted, worn := last["/m/"+n] == osc.Int32(1), last["/m/"+n] != (osc.Arg{})
			switch {
			case jumps < 0 || !worn: // the first cue opens, and what is closed has no click
			case kind == "/d/" && (!muted || w.Now.Sub(at["/m/"+n]) < 20*time.Millisecond):
				t.Errorf("rate %d: %s jumps %v after its mute %v", rate, x, w.Now.Sub(at["/m/"+n]), last["/m/"+n])
			case kind == "/d/":
				jumps++
			case kind == "/m/" && !muted && w.Now.Sub(at["/d/"+n]) < 40*time.Millisecond:
				t.Errorf("rate %d: %s opens %v after its delay", rate, x, w.Now.Sub(at["/d/"+n]))
			}
		}
		for n, line := range []string{"go", "go", "jump 1", "jump 2"} {
			if jumps = 0; n < 2 {
				jumps = -1
			}
			if _, err := w.Do(line); err != nil {
				t.Fatal(err)
			}
			w.Run(3 * time.Second)
			if jumps == 0 {
				t.Errorf("rate %d: no delay jumps after %s", rate, line)
			}
		}
	}
}

// A mixer that clicks has its time to mute a channel that closes before its delay jumps, however the channel closes.
func TestDelayRestsUntilMuted(t *testing.T) {
	for _, lines := range [][]string{{"jump 2", "jump 4"}, {"jump 1", "jump 4"}, {"jump 3", "go"}} {
		for _, rate := range []int{50, 1000} {
			s := glideShow(cue.Closed)
			for i := range 2 {
				s.Cues[3].Channels[i].DelayMS = 12
			}
			g := beginGlide(t, s, "", virtual.Faults{})
			g.mixer.Rate = rate
			g.start(run.New(g.plan, run.Options{To: []string{"mixer"}}, g.Now), g.Now, virtual.Faults{}, g.Mixers[0].Mixer)
			g.settle()
			g.do(lines[0])
			g.Run(3 * time.Second)
			mutedAt, jumps := time.Time{}, 0
			g.Mixers[0].Mixer.Changed = func(x osc.Message) {
				switch x.String() {
				case "/m/1 i 1":
					mutedAt = g.Now
				case "/d/1 f 12":
					if jumps++; mutedAt.IsZero() || g.Now.Sub(mutedAt) < 20*time.Millisecond {
						t.Errorf("%v, rate %d: the delay jumps %v after the mute", lines, rate, g.Now.Sub(mutedAt))
					}
				}
			}
			g.do(lines[1])
			g.Run(3 * time.Second)
			if jumps == 0 || g.value("/d/1") != 12 {
				t.Errorf("%v, rate %d: %d jumps, and the delay is %g", lines, rate, jumps, g.value("/d/1"))
			}
		}
	}
}

// While paths move, a mixer whose echoes lag is calm: nothing is unconfirmed or manual, no channel waits.
func TestGlideIsCalm(t *testing.T) {
	slow := virtual.Faults{Delay: 60 * time.Millisecond, Jitter: 40 * time.Millisecond}
	for _, talk := range talks[1:] {
		s := glideShow(cue.Glides)
		s.Cues[0].Channels[0].Glide = []cue.Knot{{Movement: 1, TimeS: 10, DelayMS: 40, Pan: 0.1}}
		s.Cues[0].Channels[1].Open, s.Cues[0].Channels[1].LevelDB = true, -6 // B: so slow that a value is confirmed between
		s.Cues[0].Channels[1].Glide = []cue.Knot{{Movement: 1, TimeS: 10, DelayMS: 40.5, Pan: 0.02}}
		g := beginGlide(t, s, talk, slow)
		g.do("go")
		g.Run(2500 * time.Millisecond)
		g.follow(6*time.Second, func() {
			v := g.Engine.View(g.Now)
			if m := v.Mixers[0]; m.Unconfirmed > 0 || len(m.Manual) > 0 || m.NoReply {
				t.Fatalf("%q at %.2f s: %+v", talk, v.ShowS, m)
			}
			for _, r := range v.Rows {
				if r.Sign != feed.ChannelOK {
					t.Fatalf("%q at %.2f s: channel %d is %s", talk, v.ShowS, r.Channel, r.Sign)
				}
			}
		})
	}
}

// pausing is a score whose counts stand still from 10 s to 20 s, as in a pause.
type pausing struct{ timeline }

func (pausing) Counts(fromS, toS float64) float64 {
	at := func(s float64) float64 { return 2 * (s - max(0, min(s-10, 10))) }
	return at(toS) - at(fromS)
}

// In a pause the path stands with the counts. In a wait between movements it goes on, straight in seconds.
func TestGlidePauseAndWait(t *testing.T) {
	s := glideShow(cue.Glides)
	s.Cues = s.Cues[:1]
	c := &s.Cues[0].Channels[0]
	c.Glide = []cue.Knot{
		{Movement: 1, TimeS: 24, DelayMS: 66, Pan: 0.2}, // 28 counts: half a millisecond each
		{Movement: 2, TimeS: 34, DelayMS: 26, Pan: 0.6}, // a wait of 10 s
		{Movement: 2, TimeS: 36, DelayMS: 28, Pan: 0.6},
	}
	g := beginGlide(t, s, "", virtual.Faults{})
	g.plan.Time = pausing{}
	g.start(run.New(g.plan, run.Options{To: []string{"mixer"}}, g.Now), g.Now, virtual.Faults{}, virtual.New(g.mixer))
	g.do("go")
	began := g.Now.Add(-500 * time.Millisecond)
	for _, x := range []struct{ s, delayMS float64 }{
		{5, 75}, {10, 70}, {12, 70}, {19.5, 70}, {22, 68}, {24, 66}, {29, 46}, {33, 30}, {35, 27}, {40, 28},
	} {
		g.Run(began.Add(time.Duration(x.s * 1e9)).Sub(g.Now))
		if v := g.value("/d/1"); math.Abs(v-x.delayMS) > slewMSPS*0.02+0.05+1e-6 {
			t.Errorf("at %g s the delay is %g ms, want %g", x.s, v, x.delayMS)
		}
	}
	g.checkSteps("pause and wait")
}
