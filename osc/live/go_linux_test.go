package live

import (
	"context"
	"fmt"
	"slices"
	"testing"
	"time"

	model "github.com/hypebeast/go-osc/osc"

	"backfield/cue"
	"backfield/layout/source"
	"backfield/osc"
	"backfield/osc/desk"
	"backfield/osc/run"
)

// benchShow is a show of two snapshots, all channels closed and all open, of four values a channel which all differ, and a
// desk for it that has nothing repeated.
func benchShow(b testing.TB, channels int, fadeS float64, settings string) (*cue.Show, *desk.Desk) {
	b.Helper()
	var p source.Problems
	d := desk.Read(&source.File{Name: "desk.toml", Text: settings + `repeat = false
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
[safety]
ramp = "10 ms"
`}, &p)
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
	return show, d
}

// stageFor runs a show at a port of this computer.
func stageFor(b testing.TB, show *cue.Show, d *desk.Desk, port int) *Stage {
	b.Helper()
	to := []string{fmt.Sprintf("udp://127.0.0.1:%d", port)}
	stage := New(run.New(run.Plan{Show: show, Desk: d}, run.Options{To: to, Guard: time.Nanosecond, Record: func(run.Entry) {}}, time.Now()), d, to)
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
	return stage
}

func do(b testing.TB, s *Stage, line string) {
	b.Helper()
	c, err := run.Parse(line)
	if err == nil {
		_, err = s.Do(c)
	}
	if err != nil {
		b.Fatal(err)
	}
}

// BenchmarkGo times a snapshot of 64 channels and 256 values from the command to the arrival of its last datagram: as
// plain messages and as bundles, no rate holding them back, with a journal; beside the same messages through go-osc's own
// client, which dials for each. In turn, medians. Read x-plain and x-bundles.
func BenchmarkGo(b *testing.B) {
	e := listenTo(b)
	kinds := []struct {
		name, settings string
		stage          *Stage
		took           []float64 // us
		datagrams      int
	}{
		{name: "plain", settings: "rate = 2147483647\n"},
		{name: "bundles", settings: "rate = 2147483647\nbundle = true\n"},
	}
	var list []osc.Message
	for k := range kinds {
		show, d := benchShow(b, 64, 0, kinds[k].settings)
		kinds[k].stage = stageFor(b, show, d, e.port)
		list = list[:0]
		for _, s := range d.Settings(&show.Cues[0]) {
			list = append(list, s.Message)
		}
	}
	e.hear(b, 1<<20, 200*time.Millisecond)
	heard := func(what string, start time.Time) (us float64, datagrams int) {
		n, datagrams, at := e.hear(b, len(list), 2*time.Second)
		if n != len(list) {
			b.Fatalf("%s: %d of %d messages came", what, n, len(list))
		}
		return float64(at.Sub(start.Round(0)).Nanoseconds()) / 1e3, datagrams
	}
	var client []float64
	closed, err := run.Parse("to closed")
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		for k := range kinds {
			x := &kinds[k]
			do(b, x.stage, "to open")
			for !x.stage.Settled() { // levels rise over a while
				time.Sleep(5 * time.Millisecond)
			}
			e.hear(b, 1<<20, 10*time.Millisecond)
			start := time.Now()
			if _, err := x.stage.Do(closed); err != nil {
				b.Fatal(err)
			}
			us, n := heard(x.name, start)
			x.took, x.datagrams = append(x.took, us), n
		}
		theirs := model.NewClient("127.0.0.1", e.port)
		start := time.Now()
		for _, m := range list {
			theirs.Send(model.NewMessage(m.Address, m.Args...))
		}
		us, _ := heard("go-osc", start)
		client = append(client, us)
	}
	b.ReportMetric(median(client), "us/go-osc-client")
	for _, x := range kinds {
		b.ReportMetric(median(x.took), "us/"+x.name)
		b.ReportMetric(float64(x.datagrams), "datagrams/"+x.name)
		b.ReportMetric(median(client)/median(x.took), "x-"+x.name)
	}
}

func median(list []float64) float64 {
	list = slices.Sorted(slices.Values(list))
	return list[len(list)/2]
}
