package run_test

import (
	"fmt"
	"testing"
	"time"

	"backfield/cue"
	"backfield/osc/run"
)

// BenchmarkMotion is what a tick costs at the demo's size, 24 open channels of 64: all levels fade, or all paths move
// (with pan, or with a place over four stacks). It is the whole tick, with what a mixer is sent. Run it with
// -benchtime 2000x: the show is as long as that.
func BenchmarkMotion(b *testing.B) {
	for _, kind := range []string{"fade", "glide", "zones"} {
		b.Run(kind, func(b *testing.B) {
			more := ""
			if kind == "zones" {
				more = sendText
			}
			p := benchShow(kind)
			p.Mixer = readMixer(b, more)
			p.Mixer.Rate, p.Mixer.Channels = 1_000_000, 64
			now := start
			e := run.New(p, run.Options{To: []string{"mixer"}}, now)
			e.LinkUp(0, now)
			play := func(d time.Duration) (messages int) {
				for end := now.Add(d); now.Before(end); {
					next, _ := e.Next(now)
					if now = now.Add(time.Microsecond); next.After(now) {
						now = next
					}
					e.Advance(now)
					for list := e.Take(0, now); len(list) > 0; list = e.Take(0, now) {
						messages += len(list)
						e.Sent(0, now)
					}
				}
				return messages
			}
			play(time.Second)
			for _, line := range []string{"go", "go"} {
				do(b, e, line, now)
				play(time.Second)
			}
			ticks, messages := 0, 0
			b.ReportAllocs()
			b.ResetTimer()
			for range b.N {
				messages += play(20 * time.Millisecond)
				ticks++
			}
			b.ReportMetric(float64(messages)/float64(ticks), "messages/tick")
		})
	}
}

// benchShow has 64 channels of which 24 are open, for 45 s.
func benchShow(kind string) run.ShowSetup {
	const long = 45.0
	s := &cue.Show{}
	if kind != "fade" {
		s.Rig.Delay = cue.Settings{Moves: cue.Glides, SlewMSPS: slewMSPS}
	}
	if kind == "zones" {
		for i := range 4 {
			s.Rig.Stacks = append(s.Rig.Stacks, cue.UsedStack{Zone: i + 1, Location: cue.Location{X: float64(10 * i)}})
		}
	}
	for n := range 2 {
		x := cue.Snapshot{ID: fmt.Sprint(n + 1), Movement: 1, Count: 1, TimeS: float64(n)}
		if kind == "fade" && n == 1 {
			x.FadeS = long
		}
		for i := range 64 {
			c := channel(i+1, fmt.Sprint("P", i), float64(-6-20*n), i < 24, 0, 30)
			if kind == "zones" {
				place := 0.0
				c.Place, c.Sends = &place, []cue.Send{{Zone: 1}, {Zone: 2, LevelDB: cue.Silent}, {Zone: 3, LevelDB: cue.Silent}, {Zone: 4, LevelDB: cue.Silent}}
			}
			if kind != "fade" && n == 1 && i < 24 {
				for at := 2.0; at < long; at += 5 { // back and forth at 4 ms/s
					k := cue.Knot{Movement: 1, TimeS: at, DelayMS: 30, Pan: 0}
					if int(at/5)%2 == 0 {
						k.DelayMS, k.Pan = 50, 0.5
					}
					if kind == "zones" {
						place := 4 * k.Pan
						k.Place = &place
					}
					c.Glide = append(c.Glide, k)
				}
			}
			x.Channels = append(x.Channels, c)
		}
		s.Cues = append(s.Cues, x)
	}
	return run.ShowSetup{Show: s, Time: timeline{}}
}
