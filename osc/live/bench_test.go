package live_test

import (
	"context"
	"fmt"
	"net"
	"slices"
	"testing"
	"time"

	model "github.com/hypebeast/go-osc/osc"

	"backfield/cue"
	"backfield/layout/source"
	"backfield/osc"
	"backfield/osc/desk"
	"backfield/osc/live"
	"backfield/osc/run"
)

// ear counts and times what arrives at a port of this computer.
type ear struct {
	conn *net.UDPConn
	port int
	came chan time.Time
}

func listenTo(b *testing.B) *ear {
	b.Helper()
	conn, err := net.ListenUDP("udp", &net.UDPAddr{IP: net.IPv4(127, 0, 0, 1)})
	if err != nil {
		b.Fatal(err)
	}
	conn.SetReadBuffer(4 << 20)
	e := &ear{conn, conn.LocalAddr().(*net.UDPAddr).Port, make(chan time.Time, 1<<16)}
	go func() {
		for buffer := make([]byte, 2048); ; {
			if _, err := conn.Read(buffer); err != nil {
				return
			}
			e.came <- time.Now()
		}
	}()
	b.Cleanup(func() { conn.Close() })
	return e
}

// last waits for n datagrams and returns when the last of them came.
func (e *ear) last(b *testing.B, n int) (at time.Time) {
	b.Helper()
	for range n {
		select {
		case at = <-e.came:
		case <-time.After(5 * time.Second):
			b.Fatal("datagrams are missing")
		}
	}
	return at
}

func (e *ear) drain() {
	for {
		select {
		case <-e.came:
		case <-time.After(150 * time.Millisecond):
			return
		}
	}
}

// stageFor runs a show of two snapshots, all channels closed and all open, at the ear. Nothing is repeated, and no rate
// holds it back.
func stageFor(b *testing.B, e *ear, channels, tick int, fadeS float64) (*live.Stage, *desk.Desk, *cue.Show) {
	b.Helper()
	var p source.Problems
	d := desk.Read(&source.File{Name: "desk.toml", Text: fmt.Sprintf(`rate = 2000000
tick = %d
repeat = false
channels = 64
[mute]
address = "/in/{channel}/mute"
[level]
address = "/in/{channel}/level"
off = -120
[delay]
address = "/in/{channel}/delay"
max = 500
[pan]
address = "/in/{channel}/pan"
`, tick)}, &p)
	if p.Errors() > 0 {
		b.Fatal(p.All())
	}
	show := &cue.Show{}
	for i, id := range []string{"closed", "open"} {
		s := cue.Snapshot{ID: id, TimeS: float64(i), FadeS: fadeS}
		for n := 1; n <= channels; n++ {
			c := cue.Channel{Channel: n, Player: fmt.Sprint("P", n), Kind: cue.Worn, LevelDB: cue.Silent, Pan: float64(i) / 2, DelayMS: float64(n + i)}
			if i == 1 {
				c.Open, c.Role, c.LevelDB = true, "r", 0
			}
			s.Channels = append(s.Channels, c)
		}
		show.Cues = append(show.Cues, s)
	}
	to := []string{fmt.Sprintf("udp://127.0.0.1:%d", e.port)}
	stage := live.New(run.New(run.Plan{Show: show, Desk: d}, run.Options{To: to}, time.Now()), d, to)
	ctx, stop := context.WithCancel(context.Background())
	ended := make(chan struct{})
	go func() {
		stage.Run(ctx, to)
		close(ended)
	}()
	b.Cleanup(func() {
		stop()
		<-ended
	})
	return stage, d, show
}

func do(b *testing.B, s *live.Stage, line string) {
	b.Helper()
	c, err := run.Parse(line)
	if err == nil {
		_, err = s.Do(c)
	}
	if err != nil {
		b.Fatal(err)
	}
}

// baseline sends messages as go-osc's own client does: it dials for each of them.
func baseline(e *ear, list []osc.Message) {
	client := model.NewClient("127.0.0.1", e.port)
	for _, m := range list {
		client.Send(model.NewMessage(m.Address, m.Args...))
	}
}

// BenchmarkGo times a go to the arrival of the last datagram of a snapshot of 64 channels and 256 values, beside
// go-osc's own client with the same messages. Read x-faster.
func BenchmarkGo(b *testing.B) {
	e := listenTo(b)
	stage, d, show := stageFor(b, e, 64, 50, 0)
	var list []osc.Message
	for _, s := range d.Settings(&show.Cues[0]) {
		list = append(list, s.Message)
	}
	var ours, theirs time.Duration
	n := 0
	for b.Loop() {
		do(b, stage, "to open")
		e.drain()
		start := time.Now()
		do(b, stage, "to closed")
		ours += e.last(b, len(list)).Sub(start)
		start = time.Now()
		baseline(e, list)
		theirs += e.last(b, len(list)).Sub(start)
		n++
	}
	b.ReportMetric(float64(ours.Microseconds())/float64(n), "us/go")
	b.ReportMetric(float64(theirs.Microseconds())/float64(n), "us/go-osc")
	b.ReportMetric(float64(theirs)/float64(ours), "x-faster")
}

// BenchmarkTick plays fades of one channel's level and tells how late the ticks arrive against an even grid, beside a
// time.Ticker that sends through go-osc's client.
func BenchmarkTick(b *testing.B) {
	const ticks = 300
	for _, hz := range []int{50, 100} {
		b.Run(fmt.Sprint(hz, "Hz"), func(b *testing.B) {
			e := listenTo(b)
			period := time.Second / time.Duration(hz)
			stage, _, _ := stageFor(b, e, 1, hz, period.Seconds()*(ticks+40))
			var ours, theirs []time.Duration
			for b.Loop() {
				do(b, stage, "to closed")
				e.drain()
				do(b, stage, "go")
				e.last(b, 10)
				ours = append(ours, late(e, b, ticks, period)...)
				do(b, stage, "to closed")
				e.drain()
				ticker := time.NewTicker(period)
				go func() {
					client := model.NewClient("127.0.0.1", e.port)
					for range ticks {
						<-ticker.C
						client.Send(model.NewMessage("/in/1/level", float32(-3)))
					}
				}()
				theirs = append(theirs, late(e, b, ticks, period)...)
				ticker.Stop()
			}
			for name, list := range map[string][]time.Duration{"": ours, "-ticker": theirs} {
				slices.Sort(list)
				b.ReportMetric(float64(list[len(list)/2].Microseconds()), "us-p50"+name)
				b.ReportMetric(float64(list[len(list)*99/100].Microseconds()), "us-p99"+name)
			}
		})
	}
}

// late lists how much later than the earliest of them each tick came, on an even grid. Where one was left out because
// the machine was busy the next counts on.
func late(e *ear, b *testing.B, ticks int, period time.Duration) (list []time.Duration) {
	first := e.last(b, 1)
	for range ticks - 1 {
		off := e.last(b, 1).Sub(first) % period
		if off > period/2 {
			off -= period
		}
		list = append(list, off)
	}
	least := slices.Min(append(list, 0))
	for i := range list {
		list[i] -= least
	}
	return list
}
