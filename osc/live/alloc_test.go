//go:build !race

package live

import (
	"fmt"
	"net"
	"testing"
	"time"

	"backfield/osc/run"
	"backfield/osc/wire"
)

// A tick of a fade of 64 channels, from the levels to the socket, takes no memory. (The race detector's own is why this
// is not run under it.)
func TestTickAllocatesNothing(t *testing.T) {
	for _, bundle := range []bool{false, true} {
		p := plan(t, 2, fmt.Sprintf("rate = 2147483647\nbundle = %t\nrepeat = false\ntick = 100\n", bundle), 10)
		for i := range p.Show.Cues[1].Channels { // all open in both, so that all of them fade
			for n := range p.Show.Cues {
				c := &p.Show.Cues[n].Channels[i]
				c.Open, c.LevelDB = true, -30
			}
			p.Show.Cues[1].Channels[i].LevelDB = -1
		}
		ear, err := net.ListenUDP("udp", &net.UDPAddr{IP: net.IPv4(127, 0, 0, 1)})
		if err != nil {
			t.Fatal(err)
		}
		defer ear.Close()
		link, err := wire.Open(ear.LocalAddr().String())
		if err != nil {
			t.Fatal(err)
		}
		defer link.Close()
		now := time.Now()
		s := New(run.New(p, run.Options{To: []string{"ear"}, Guard: time.Nanosecond}, now), p.Mixer, []string{"ear"})
		s.links[0] = link
		s.engine.LinkUp(0, now)
		messages := 0
		tick := func() {
			now = now.Add(10 * time.Millisecond)
			s.engine.Advance(now)
			s.send(0, now)
			messages += len(s.batch.Packets())
			s.batch.Reset()
		}
		for range 2 {
			if _, err := s.engine.Do(run.Command{Verb: run.Go}, now); err != nil {
				t.Fatal(err)
			}
			for range 400 {
				tick()
			}
		}
		messages = 0
		const runs = 500
		if n := testing.AllocsPerRun(runs, tick); n > 0 {
			t.Errorf("bundles %t: %v objects a tick", bundle, n)
		}
		if want := (runs + 1) * 64; !bundle && messages != want {
			t.Errorf("%d messages were sent, not %d", messages, want)
		}
	}
}
