package main

import (
	"cmp"
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"backfield/cmd/backfield/show"
	"backfield/layout/source"
	"backfield/layout/stands"
)

// grown is the size of a show that is made up to measure with.
type grown struct {
	players, channels  int // of the players, so many wear a mic
	open               int // of the channels, in each cue, taking turns
	cues, countsPerCue int
	seats              int
	zones              bool
	panBy              string // stands or tangent
}

// files writes the show: a field of players who walk from dot to dot, four stacks and one stand.
func (g grown) files() files {
	r := rand.New(rand.NewPCG(7, uint64(g.players)))
	const perSet = 32
	sets := (g.cues*g.countsPerCue)/perSet + 1
	var setRows, dots, roster, cues strings.Builder
	setRows.WriteString("set,movement,counts,hold\n1,1,0,0\n")
	dots.WriteString("set,player,lateral,depth\n")
	type home struct{ side, line, depth int }
	homes := make([]home, g.players)
	for p := range homes {
		homes[p] = home{1 + r.IntN(2), 15 + 5*r.IntN(7), r.IntN(70)}
	}
	roster.WriteString("player,section,pack,channel\n")
	for s := 1; s <= sets+1; s++ {
		if s > 1 {
			fmt.Fprintf(&setRows, "%d,1,%d,16\n", s, perSet)
		}
		for p, h := range homes {
			fmt.Fprintf(&dots, "%d,Tpt %d,\"side %d, %g outside %d\",%g behind front sideline\n", s, p+1, h.side,
				float64(1+r.IntN(15))/4, h.line, float64(h.depth)+float64(1+r.IntN(40))/4)
		}
	}
	for p := range g.players {
		if p < g.channels {
			fmt.Fprintf(&roster, "Tpt %d,trumpet,P%d,%d\n", p+1, p+1, p+1)
		} else {
			fmt.Fprintf(&roster, "Tpt %d,trumpet,,\n", p+1)
		}
	}
	for c := range g.cues {
		names := make([]string, g.open)
		for i := range names {
			names[i] = fmt.Sprintf("%q", fmt.Sprintf("Tpt %d", (c*g.open+i)%g.channels+1))
		}
		fmt.Fprintf(&cues, "[[cue]]\nid = \"%d\"\nat = \"1:%d\"\nname = \"%d\"\nopen.feature = [%s]\n", c+1,
			1+c*g.countsPerCue, c+1, strings.Join(names, ", "))
	}
	feed, bus := "stereo", func(int) string { return "" }
	if g.zones {
		feed, bus = "zones", func(i int) string { return fmt.Sprintf("zone = %d\n", i+1) }
	}
	rig := fmt.Sprintf("field = \"college\"\nair = \"20 C\"\nlatency = \"4 ms\"\nfeed = %q\n[reference]\nx = 0\ny = "+
		"-36\nz = 18\n", feed)
	if g.seats > 0 {
		perRow := max(1, min(200, g.seats/5))
		rig += fmt.Sprintf("[[stands]]\nname = \"home\"\nfront = { y = -12, z = 2, width = 60 }\nback = { y = -45, z "+
			"= 19, width = 100 }\nrows = %d\nseats = %d\n", g.seats/perRow, perRow)
	}
	for i, x := range []int{-24, -8, 8, 24} {
		rig += fmt.Sprintf("[[stack]]\nname = \"stack %d\"\nat = { x = %d, y = -2, z = 2.5 }\n%s", i+1, x, bus(i))
	}
	mixer := "to = \"udp://127.0.0.1:9000\"\nchannels = 64\n"
	for _, param := range []string{
		"level]\naddress = \"/in/{channel}/level\"\nscale = { table = [[-70, 0], [0, 0.8], [6, 1]] " +
			"}", "mute]\naddress = \"/in/{channel}/mute\"\nscale = { on = 1, off = 0 }",
		"pan]\naddress = \"/in/{channel}/pan\"\nscale = { from = [-1, 1], to = [0, 1] }", "delay]\naddress = " +
			"\"/in/{channel}/delay\"\nmax = 500\nstep = 0.1",
		"send]\naddress = \"/in/{channel}/zone/{zone}\"\nscale = { table = [[-70, 0], [0, 0.8], [6, 1]] }",
	} {
		mixer += "[" + param + "\n"
	}
	panBy := ""
	if g.panBy != "" {
		panBy = fmt.Sprintf("[pan]\nby = %q\n", g.panBy)
	}
	return files{
		"show.toml": "title = \"Grown\"\ndrill = { sets = \"sets.csv\", dots = \"dots.csv\" }\nroster = " +
			"\"roster.csv\"\nrig = \"rig.toml\"\nmixer = \"mixer.toml\"\n" + panBy +
			"[mix]\nfeature = 0\n[[movement]]\nname = \"One\"\ntempo = 120\n" + cues.String(),
		"sets.csv": setRows.String(), "dots.csv": dots.String(), "roster.csv": roster.String(),
		"rig.toml": rig, "mixer.toml": mixer,
	}
}

// compile compiles the show in memory and returns how many channels it worked out, and how many seats times channels
// times quarter counts these were.
func (g grown) compile(b *testing.B, f files) (workings int, samples float64) {
	var p source.Problems
	s, err := show.Load(f, "show.toml", show.LoadOptions{}, &p)
	if err != nil || s.Show == nil {
		source.Print(os.Stderr, p.All())
		b.Fatal("the show does not compile: ", err)
	}
	for i, c := range s.Show.Cues {
		counts := float64(g.countsPerCue)
		if i+1 < len(s.Show.Cues) {
			counts = s.Show.Cues[i+1].Count - c.Count
		}
		for _, ch := range c.Channels {
			if ch.Open {
				workings++
				samples += 4 * counts
			}
		}
	}
	return workings, samples
}

// BenchmarkCurves shows what a whole compile costs by the number of seats, of channels and of cues, one at a time,
// from files to snapshots: in ns a seat, open channel and quarter count that is looked at. Half of the counts are held.
// The curve is good where the last column stays or falls.
func BenchmarkCurves(b *testing.B) {
	show := grown{players: 64, channels: 64, open: 4, cues: 20, countsPerCue: 16, seats: 1000, panBy: "stands"}
	curve := func(name string, g grown) {
		b.Run(name, func(b *testing.B) {
			f := g.files()
			workings, samples := 0, 0.0
			best := time.Duration(1<<63 - 1)
			for b.Loop() {
				begun := processorTime()
				workings, samples = g.compile(b, f)
				best = min(best, processorTime()-begun)
			}
			b.ReportMetric(float64(workings), "workings")
			b.ReportMetric(best.Seconds()*1000, "cpu-ms")
			b.ReportMetric(float64(best.Nanoseconds())/samples/float64(max(1, g.seats)), "ns/seat/channel/sample")
		})
	}
	for _, n := range []int{100, 1000, 10_000, 100_000} {
		g := show
		g.seats = n
		curve(fmt.Sprintf("seats=%d", n), g)
	}
	for _, n := range []int{4, 8, 16, 32, 64} {
		g := show
		g.open = n
		curve(fmt.Sprintf("channels=%d", n), g)
	}
	for _, n := range []int{10, 50, 200, 1000, 2000} {
		g := show
		g.cues, g.countsPerCue = n, 4
		curve(fmt.Sprintf("cues=%d", n), g)
	}
}

// built is this command, and a program that says hello and nothing else, both built here and now.
func built(b *testing.B) (backfield, hello string) {
	dir := b.TempDir()
	backfield, hello = filepath.Join(dir, "backfield"), filepath.Join(dir, "hello")
	source := filepath.Join(dir, "hello.go")
	if err := os.WriteFile(source, []byte("package main\n\nimport \"fmt\"\n\nfunc main() { fmt.Println(\"hello\") }\n"),
		0o644); err != nil {
		b.Fatal(err)
	}
	for _, args := range [][]string{{"-o", backfield, "."}, {"-o", hello, source}} {
		if out, err := exec.Command("go", append([]string{"build"}, args...)...).CombinedOutput(); err != nil {
			b.Skipf("left out: no go to build with: %v\n%s", err, out)
		}
	}
	return backfield, hello
}

// watched runs a command to its end and returns what it took of the processor and the most memory that it held, which
// is 0 where the system has no /proc. What the system reports after the end is no use: it counts this process's own
// memory, from before the command took its place.
func watched(b *testing.B, cmd *exec.Cmd) (cpu time.Duration, peakMB float64) {
	var out strings.Builder
	cmd.Stdout, cmd.Stderr = &out, &out
	if err := cmd.Start(); err != nil {
		b.Fatal(err)
	}
	ended := make(chan error)
	go func() { ended <- cmd.Wait() }()
	for {
		if status, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", cmd.Process.Pid)); err == nil {
			if _, after, ok := strings.Cut(string(status), "VmHWM:"); ok {
				var kib float64
				fmt.Sscan(after, &kib)
				peakMB = max(peakMB, kib*1024/1e6)
			}
		}
		select {
		case err := <-ended:
			if err != nil {
				b.Fatalf("%v: %v\n%s", cmd.Args, err, out.String())
			}
			return cmd.ProcessState.UserTime() + cmd.ProcessState.SystemTime(), peakMB
		case <-time.After(5 * time.Millisecond):
		}
	}
}

// median is the median of some times, in ms.
func median(list []time.Duration) float64 {
	list = slices.Sorted(slices.Values(list))
	return list[len(list)/2].Seconds() * 1000
}

// BenchmarkProcess is the command as a whole, beside a program that only says hello: how long it takes to start, the
// most memory that a compile of the demo needs, and how large the program is.
func BenchmarkProcess(b *testing.B) {
	backfield, hello := built(b)
	size := func(path string) float64 {
		info, err := os.Stat(path)
		if err != nil {
			b.Fatal(err)
		}
		return float64(info.Size()) / 1e6
	}
	demo, err := filepath.Abs("../../examples/harbor/show.toml")
	if err != nil {
		b.Fatal(err)
	}
	run := func(name string, args ...string) time.Duration {
		begun := time.Now()
		if out, err := exec.Command(name, args...).CombinedOutput(); err != nil {
			b.Fatalf("%v: %v\n%s", args, err, out)
		}
		return time.Since(begun)
	}
	for b.Loop() {
		var ours, theirs []time.Duration
		for range 41 {
			ours, theirs = append(ours, run(backfield, "--help")), append(theirs, run(hello))
		}
		b.ReportMetric(median(ours), "start-ms")
		b.ReportMetric(median(ours)/median(theirs), "x_hello")
		_, peakMB := watched(b, exec.Command(backfield, "compile", demo, "-o", b.TempDir()))
		b.ReportMetric(peakMB, "peak-MB")
	}
	b.ReportMetric(size(backfield), "program-MB")
	b.ReportMetric(size(backfield)/size(hello), "x_hello_size")
}

var monster = flag.Bool("monster", false, "BenchmarkMonster compiles its show, which takes minutes")

// BenchmarkMonster compiles a show far over what anybody marches: 400 players of whom 64 wear mics, 2,000 cues in over
// an hour, 100,000 seats. It must finish; what it takes and the most memory that it needs is printed.
func BenchmarkMonster(b *testing.B) {
	if !*monster {
		b.Skip("minutes: ask for it by -monster")
	}
	backfield, _ := built(b)
	for _, g := range []grown{
		{players: 400, channels: 64, open: 4, cues: 2000, countsPerCue: 4, seats: stands.Limit},
		{players: 400, channels: 64, open: 4, cues: 2000, countsPerCue: 4, seats: stands.Limit,
			panBy: "stands"},
		{players: 400, channels: 64, open: 4, cues: 2000, countsPerCue: 4, seats: stands.Limit,
			zones: true},
	} {
		name := g.panBy
		if g.zones {
			name = "zones"
		}
		b.Run(cmp.Or(name, "tangent"), func(b *testing.B) {
			dir := b.TempDir()
			for name, text := range g.files() {
				if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
					b.Fatal(err)
				}
			}
			for b.Loop() {
				cpu, peakMB := watched(b, exec.Command(backfield, "compile", dir))
				b.ReportMetric(cpu.Seconds(), "cpu-s")
				b.ReportMetric(peakMB, "peak-MB")
			}
		})
	}
}
