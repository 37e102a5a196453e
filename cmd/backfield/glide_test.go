package main

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"backfield/cmd/backfield/show"
	"backfield/cue"
	"backfield/osc"
	"backfield/osc/mixer"
	"backfield/osc/run"
	"backfield/osc/run/simulate"
	"backfield/osc/virtual"
)

// glidePlan is the demo for a run, with one mix or with its zones.
func glidePlan(zones bool) run.ShowSetup {
	if !zones {
		return demoPlan()
	}
	s := zonedOnce()
	return run.ShowSetup{Show: s.Show, Mixer: s.Mixer, Time: show.Timeline{Clock: s.Clock}}
}

// glideMeter measures what the mixer gets of open channels.
type glideMeter struct {
	w        *simulate.World
	mixer    *mixer.Mixer
	last     map[string]float64
	mostMS   float64 // the greatest step of an open delay
	atMost   string
	second   int64
	inSecond int
	worst    int // messages in the worst second
	all      int
}

func (g *glideMeter) changed(m *virtual.Device, x osc.Message) {
	g.all++
	if s := g.w.Now.Unix(); s != g.second {
		g.second, g.inSecond = s, 0
	}
	g.inSecond++
	g.worst = max(g.worst, g.inSecond)
	place, _ := g.mixer.Find(x.Address)
	if place.Param != cue.ParamDelay {
		return
	}
	v, _ := g.mixer.Value(place.Param, x.Args[0])
	was, known := g.last[x.Address]
	g.last[x.Address] = v
	mute, _ := m.Value(g.mixer.Address(mixer.Control{Channel: place.Channel, Param: cue.ParamMute}))
	muted, _ := g.mixer.Value(cue.ParamMute, mute)
	level, _ := m.Value(g.mixer.Address(mixer.Control{Channel: place.Channel, Param: cue.ParamLevel}))
	dB, _ := g.mixer.Value(cue.ParamLevel, level)
	if step := math.Abs(v - was); known && muted == 0 && !math.IsInf(dB, -1) && step > g.mostMS {
		g.mostMS, g.atMost = step, fmt.Sprintf("%s at %v", x, g.w.Engine.View(g.w.Now).Step)
	}
}

// offPath is how far the mixer's open delays and pans are from the paths, in ms and in units of pan.
func (g *glideMeter) offPath(plan run.ShowSetup, m *virtual.Device) (ms, pan float64) {
	v := g.w.Engine.View(g.w.Now)
	at, ok := plan.Show.Find(v.Step)
	if !ok {
		return 0, 0
	}
	for i := range at.Channels {
		c := &at.Channels[i]
		if !c.Open {
			continue
		}
		want := at.GlideAt(c, v.ShowS, plan.Show.Rig.Delay.Moves, plan.Time.Counts)
		value := func(param string) float64 {
			arg, _ := m.Value(plan.Mixer.Address(mixer.Control{Channel: c.Channel, Param: param}))
			v, _ := plan.Mixer.Value(param, arg)
			return v
		}
		ms = max(ms, math.Abs(value(cue.ParamDelay)-want.DelayMS))
		if c.Place == nil {
			pan = max(pan, math.Abs(value(cue.ParamPan)-want.Pan))
		}
	}
	return ms, pan
}

// TestDemoGlides plays the demo at its mixer: with one mix and every go in time, and with zones and each go up to half a
// second off. No open delay makes a step over the slew for a tick and a step of the mixer. In time, it is on its path at
// every instant. With -short it is the first ten cues.
func TestDemoGlides(t *testing.T) {
	t.Parallel()
	for _, zones := range []bool{false, true} {
		plan, offS := glidePlan(zones), 0.0
		if zones {
			offS = 0.5
		}
		t.Run(fmt.Sprintf("zones %t", zones), func(t *testing.T) {
			t.Parallel()
			r := rand.New(rand.NewPCG(1, 1))
			start := time.Unix(1_700_000_000, 0)
			m := virtual.New(plan.Mixer)
			w := simulate.New(run.New(plan, run.Options{To: []string{"mixer"}}, start), start, virtual.Faults{}, 1, m)
			w.Run(time.Second)
			g := &glideMeter{w: w, mixer: plan.Mixer, last: map[string]float64{}}
			m.Changed = func(x osc.Message) { g.changed(m, x) }
			began, mostMS, mostPan, steady := w.Now, 0.0, 0.0, time.Time{}
			for i := range plan.Show.Cues {
				if testing.Short() && i == 10 {
					break
				}
				s := &plan.Show.Cues[i]
				for at := began.Add(time.Duration((s.TimeS + offS*(2*r.Float64()-1)) * 1e9)); w.Now.Before(at); {
					w.Run(min(73*time.Millisecond, at.Sub(w.Now)))
					if offS == 0 && w.Now.After(steady) && w.Now.Before(at) {
						ms, pan := g.offPath(plan, m)
						mostMS, mostPan = max(mostMS, ms), max(mostPan, pan)
					}
				}
				if s.Auto {
					continue
				}
				if _, err := w.Do("go"); err != nil {
					t.Fatalf("cue %s: %v", s.ID, err)
				}
				steady = w.Now.Add(time.Second) // what the cue sends is on its way
			}
			slew, step := plan.Show.Rig.Delay.SlewMSPS, plan.Mixer.Limits(cue.ParamDelay).Step
			if most := slew/float64(plan.Mixer.Tick) + step + 1e-6; g.mostMS > most {
				t.Errorf("%s moves by %.3g ms at once, at most %.3g", g.atMost, g.mostMS, most)
			}
			if most := slew/float64(plan.Mixer.Tick) + step; mostMS > most || mostPan > 0.03 {
				t.Errorf("a mixer is %.3g ms and %.3g off the path", mostMS, mostPan)
			}
			t.Logf("greatest step %.2f ms; off the path by %.2f ms and %.3f at most; %d messages, %d in the worst second",
				g.mostMS, mostMS, mostPan, g.all, g.worst)
		})
	}
}
