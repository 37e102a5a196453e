package run_test

import (
	"math"
	"strings"
	"testing"
	"time"

	"backfield/cue"
	"backfield/osc"
	"backfield/osc/run"
	"backfield/osc/run/simulate"
	"backfield/osc/virtual"
)

const sendText = "[send]\naddress = \"/s/{channel}/{zone}\"\noff = -120\nmin = -90\n"

// zonesShow has three stacks and two cues, at 0 and 20 s. A is open in both, and walks from the left stack to the right
// one from 2 s to 8 s. At 20 s it is somewhere else, in a show that has no places.
func zonesShow(moves cue.Moves) *cue.Show {
	s := &cue.Show{Title: "t"}
	s.Rig.Reference = cue.Location{Y: -40}
	s.Rig.Delay = cue.Settings{Moves: moves, SlewMSPS: slewMSPS}
	for i, x := range []float64{20, -20, 0} { // zone 1 is on the right, 2 on the left
		s.Rig.Stacks = append(s.Rig.Stacks, cue.UsedStack{Zone: i + 1, Location: cue.Location{X: x}})
	}
	place := func(v float64) *float64 { return &v }
	for n := range 2 {
		c := channel(1, "A", -6, true, 0, 30)
		c.Sends = []cue.Send{{Zone: 1, LevelDB: cue.Silent}, {Zone: 2, LevelDB: 0}, {Zone: 3, LevelDB: cue.Silent}}
		if n == 1 {
			c.Sends = []cue.Send{{Zone: 1, LevelDB: 0}, {Zone: 2, LevelDB: cue.Silent}, {Zone: 3, LevelDB: cue.Silent}}
		}
		if moves != cue.Stepped {
			c.Place = place(2 * float64(n))
			if n == 0 {
				c.Glide = []cue.Knot{
					{Movement: 1, TimeS: 2, DelayMS: 30, Place: place(0)}, {Movement: 1, TimeS: 8, DelayMS: 30, Place: place(2)},
				}
			}
		}
		s.Cues = append(s.Cues, cue.Snapshot{
			ID: string(rune('1' + n)), Movement: 1, Count: 1, TimeS: 20 * float64(n), FadeS: 1, Channels: []cue.Channel{c},
		})
	}
	return s
}

// sends are the levels of A's sends at the mixer, by zone.
func (g *glideWorld) sends() (dB [3]float64) {
	for i := range dB {
		dB[i] = g.value("/s/1/" + string(rune('1'+i)))
	}
	return dB
}

// A place glides as one number: at every instant the powers of the sends add up to 1, and two stacks are on at most.
func TestGlidePlace(t *testing.T) {
	g := beginGlide(t, zonesShow(cue.Glides), sendText, virtual.Faults{})
	g.do("go")
	g.Run(time.Second)
	for range 100 {
		g.Run(50 * time.Millisecond)
		s := g.Engine.View(g.Now).ShowS
		want := cue.PlaceSends(min(max((s-2)/3, 0), 2), 3) // from left to right: zones 2, 3, 1
		power, got := 0.0, g.sends()
		for i, zone := range []int{2, 3, 1} {
			amplitude := math.Pow(10, got[zone-1]/20)
			power += amplitude * amplitude
			if math.Abs(amplitude-want[i]) > 0.03 {
				t.Errorf("at %.2f s zone %d is at %.3f, want %.3f", s, zone, amplitude, want[i])
			}
		}
		if math.Abs(power-1) > 0.005 {
			t.Errorf("at %.2f s the powers add up to %.4f", s, power)
		}
	}
	g.Run(3 * time.Second)
	g.holds(0, "/s/1/1 0", "/s/1/2 -120", "/s/1/3 -120")
	g.do("back", "jump 1:1", "start") // and back to the left, at one place a second
	g.Run(100 * time.Millisecond)
	g.do("jump 1:30")
	g.Run(100 * time.Millisecond)
	if got := g.sends(); got[0] > -0.01 && got[1] < -100 {
		t.Errorf("the place jumps: %v", got)
	}
}

// A step of place is at most what one place a second allows: a bridge of two places takes two seconds.
func TestGlidePlaceBridge(t *testing.T) {
	g := beginGlide(t, zonesShow(cue.Glides), sendText, virtual.Faults{})
	g.do("go", "jump 1:1")
	g.Run(time.Second)
	g.do("jump 1:17") // 8 s: at the right stack
	g.Run(500 * time.Millisecond)
	if got, want := math.Pow(10, g.sends()[2]/20), 1.0; math.Abs(got-want) > 0.05 {
		t.Errorf("after 1 s of the bridge the middle stack is at %.3f, want %.3f", got, want)
	}
	g.Run(1100 * time.Millisecond)
	g.holds(0, "/s/1/1 0", "/s/1/2 -120", "/s/1/3 -120")
}

// Sends without a place fade like levels, and one that rises from off takes the ramp at least.
func TestSendsFade(t *testing.T) {
	s := zonesShow(cue.Stepped)
	for _, fadeS := range []float64{1, 0} {
		s.Cues[1].FadeS = fadeS
		g := beginGlide(t, s, sendText, virtual.Faults{})
		g.do("go")
		g.Run(time.Second)
		var steps []float64
		from, ended := g.Now, time.Duration(0)
		g.Mixers[0].Mixer.Changed = func(x osc.Message) {
			if v, _ := x.Args[0].Number(); strings.HasPrefix(x.Address, "/s/1/1") {
				steps = append(steps, v)
				if v == 0 && ended == 0 {
					ended = g.Now.Sub(from)
				}
			}
		}
		g.do("go")
		g.Run(time.Second)
		least, count := 90*time.Millisecond, 5
		if fadeS > 0 {
			least, count = 990*time.Millisecond, 45
		}
		if ended < least || len(steps) < count {
			t.Errorf("fade %g s: a send from off is at 0 dB after %v, in %d steps", fadeS, ended, len(steps))
		}
		g.holds(0, "/s/1/1 0", "/s/1/2 -120")
	}
}

// A cue's fade also closes: down to off, then the mute; fade_out where it is another. Hush, jump and another player on
// the channel close at once.
func TestFadeOut(t *testing.T) {
	s := glideShow(cue.Stepped)
	s.Cues[3].FadeOut = &cue.FadeTime{Counts: 4, S: 2}
	closing := func(lines ...string) (mutedAfter time.Duration, softest float64, steps int) {
		g := beginGlide(t, s, "", virtual.Faults{})
		g.do("jump 3")
		g.settle()
		from := g.Now
		g.Mixers[0].Mixer.Changed = func(x osc.Message) {
			v, _ := x.Args[0].Number()
			switch {
			case x.Address == "/m/1" && v == 1 && mutedAfter == 0:
				mutedAfter = g.Now.Sub(from)
			case x.Address == "/l/1" && mutedAfter == 0:
				softest = v
				steps++
			}
		}
		for _, line := range lines {
			g.do(line)
		}
		g.Run(3 * time.Second)
		g.holds(0, "/m/1 1", "/l/1 -120")
		return mutedAfter, softest, steps
	}
	if after, softest, steps := closing("go"); after < 1990*time.Millisecond || after > 2050*time.Millisecond ||
		softest > -50 || steps < 80 {
		t.Errorf("it is muted after %v, at %g dB, in %d steps", after, softest, steps)
	}
	for _, line := range []string{"hush", "jump 4"} {
		if after, _, _ := closing(line); after > 20*time.Millisecond {
			t.Errorf("%s mutes after %v", line, after)
		}
		if after, _, _ := closing("go", line); after > 520*time.Millisecond {
			t.Errorf("%s in a fade mutes after %v", line, after)
		}
	}
	if after, _, _ := closing("go", "nudge C +1"); after < 1990*time.Millisecond {
		t.Errorf("a nudge of another cuts the fade after %v", after)
	}
	s.Cues[3].Channels[0].Player = "D" // who has the pack from here on
	if after, _, _ := closing("go"); after > 20*time.Millisecond {
		t.Errorf("a channel that gets another player is muted after %v", after)
	}
}

// A mic that opens early opens by the clock before its cue, and the cue itself changes nothing.
func TestOpensEarly(t *testing.T) {
	s := glideShow(cue.Glides)
	s.Cues[0].Channels[1].Early = &cue.EarlyOpening{Movement: 1, Count: 19, TimeS: 9, Player: "B", LevelDB: -6, FadeS: 0.5}
	g := beginGlide(t, s, "", virtual.Faults{})
	g.do("go")
	g.Run(8400 * time.Millisecond)
	g.holds(0, "/m/2 1")
	g.Run(800 * time.Millisecond)
	g.holds(0, "/m/2 0", "/d/2 40")
	g.Run(300 * time.Millisecond)
	g.holds(0, "/l/2 -6")
	g.taken = nil
	g.do("go")
	for _, x := range g.taken {
		if strings.HasPrefix(x, "/m/2 i 1") || strings.HasPrefix(x, "/l/2 ") && x != "/l/2 f -6" {
			t.Errorf("the cue sends %s", x)
		}
	}
	g.do("back")
	g.do("hush", "stop")
	g.Run(time.Second)
	g.holds(0, "/m/2 1")
	g.do("unhush")
	g.Run(time.Second)
	g.holds(0, "/m/2 0")
	g.do("jump 1:19") // at 9 s: it is open
	g.Run(time.Second)
	g.holds(0, "/m/2 0")
	g.do("jump 1:18")
	g.Run(time.Second)
	g.holds(0, "/m/2 1")
	state := g.Engine.State()
	e, err := run.Resume(g.plan, run.Options{To: []string{"mixer"}}, state, g.Now)
	if err != nil {
		t.Fatal(err)
	}
	g.World = simulate.New(e, g.Now, virtual.Faults{}, 7, virtual.New(g.mixer))
	g.do("start")
	g.Run(1200 * time.Millisecond)
	g.holds(0, "/m/2 0")
}
