package live

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	model "github.com/hypebeast/go-osc/osc"

	"backfield/cue"
	"backfield/layout/source"
	"backfield/osc"
	"backfield/osc/journal"
	"backfield/osc/mixer"
	"backfield/osc/run"
)

// benchShow is a show of two snapshots, all channels closed and all open, of four values a channel which all differ,
// and a mixer for it that has nothing repeated.
func benchShow(b testing.TB, channels int, fadeS float64, settings string) (*cue.Show, *mixer.Mixer) {
	b.Helper()
	var p source.Problems
	d := mixer.Read(&source.File{Name: "mixer.toml", Text: settings + `repeat = false
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
			c := cue.Channel{
				Channel: n, Player: fmt.Sprint("P", n), Kind: cue.Worn, LevelDB: cue.Silent, Pan: float64(i) / 2,
				DelayMS: float64(n + i),
			}
			if i == 1 {
				c.Open, c.Role, c.LevelDB = true, "r", 0
			}
			s.Channels = append(s.Channels, c)
		}
		show.Cues = append(show.Cues, s)
	}
	return show, d
}

// stageFor runs a show at a port of this computer; record takes its journal.
func stageFor(b testing.TB, show *cue.Show, d *mixer.Mixer, port int, record func(journal.Entry)) *Driver {
	b.Helper()
	to := []string{fmt.Sprintf("udp://127.0.0.1:%d", port)}
	stage := New(
		run.New(run.ShowSetup{Show: show, Mixer: d}, run.Options{To: to, Guard: time.Nanosecond, Record: record}, time.Now()),
		d, to,
	)
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

// unwritten is a journal that nobody keeps.
func unwritten(journal.Entry) {}

func do(b testing.TB, s *Driver, line string) {
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
// plain messages and as bundles, no rate holding them back; after a rest, in which others have used the processor's
// caches, and again at once. Beside it the same messages through go-osc's own client, which dials for each. In turn,
// medians. Read x-plain, x-bundles and the same again. The client keeps no journal, and theirs is not written;
// x-journal is bundles with one in a file, as the run command keeps it, where a step is before it is sent.
func BenchmarkGo(b *testing.B) {
	e := listenTo(b)
	file, err := os.Create(filepath.Join(b.TempDir(), "journal"))
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { file.Close() })
	kinds := []struct {
		name, settings string
		record         func(journal.Entry)
		stage          *Driver
		took, again    []float64 // us
		datagrams      int
	}{
		{name: "plain", settings: "rate = 2147483647\n", record: unwritten},
		{name: "bundles", settings: "rate = 2147483647\nbundle = true\n", record: unwritten},
		{
			name: "journal", settings: "rate = 2147483647\nbundle = true\n",
			record: func(e journal.Entry) { file.Write(e.Line()) },
		},
	}
	var list []osc.Message
	for k := range kinds {
		show, d := benchShow(b, 64, 0, kinds[k].settings)
		kinds[k].stage = stageFor(b, show, d, e.port, kinds[k].record)
		list = list[:0]
		for _, s := range d.Settings(&show.Cues[0]) {
			list = append(list, s.Message)
		}
	}
	e.hear(b, 1<<20, 200*time.Millisecond)
	// What came with more or fewer messages than it has does not count: the machine was away for so long that levels
	// began to rise in between, or datagrams were lost.
	strays := 0
	heard := func(start time.Time, list *[]float64, all int) (datagrams int) {
		n, datagrams, at := e.hear(b, all, time.Second)
		more, _, _ := e.hear(b, 1<<20, time.Millisecond)
		if n != all || more > 0 {
			strays++
			return datagrams
		}
		*list = append(*list, float64(at.Sub(start.Round(0)).Nanoseconds())/1e3)
		return datagrams
	}
	var client []float64
	open, closed := run.Command{Verb: run.Jump, Name: "open"}, run.Command{Verb: run.Jump, Name: "closed"}
	send := func(s *Driver, c run.Command) (start time.Time) {
		start = time.Now()
		if _, err := s.Do(c); err != nil {
			b.Fatal(err)
		}
		return start
	}
	for b.Loop() {
		for k := range kinds {
			x := &kinds[k]
			send(x.stage, open)
			for !x.stage.Settled() { // levels rise over a while
				time.Sleep(5 * time.Millisecond)
			}
			e.hear(b, 1<<20, 10*time.Millisecond)
			x.datagrams = heard(send(x.stage, closed), &x.took, len(list))
			for range 3 {
				send(x.stage, open)
				e.hear(b, len(list), time.Second)
				heard(send(x.stage, closed), &x.again, len(list))
			}
		}
		theirs := model.NewClient("127.0.0.1", e.port)
		start := time.Now()
		for _, m := range list {
			theirs.Send(model.NewMessage(m.Address, m.Args[0].Any()))
		}
		heard(start, &client, len(list))
	}
	b.ReportMetric(float64(strays), "not-counted")
	b.ReportMetric(median(client), "us/go-osc-client")
	for _, x := range kinds {
		b.ReportMetric(median(x.took), "us/"+x.name)
		b.ReportMetric(float64(x.datagrams), "datagrams/"+x.name)
		b.ReportMetric(median(client)/median(x.took), "x-"+x.name)
		b.ReportMetric(median(x.again), "us/"+x.name+"-again")
		b.ReportMetric(median(client)/median(x.again), "x-"+x.name+"-again")
	}
}

func median(list []float64) float64 {
	list = slices.Sorted(slices.Values(list))
	return list[len(list)/2]
}
