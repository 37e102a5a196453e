package live

import (
	"context"
	"encoding/binary"
	"errors"
	"flag"
	"fmt"
	"math/rand/v2"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"backfield/cue"
	"backfield/layout/source"
	"backfield/osc"
	"backfield/osc/glance"
	"backfield/osc/journal"
	"backfield/osc/mixer"
	"backfield/osc/run"
	"backfield/osc/virtual"
	"backfield/osc/wire"
)

// mixerFile is a mixer that echoes, with four addresses a channel. Address and law are invented.
const mixerFile = `to = "127.0.0.1:9000"
channels = 64
[mute]
address = "/in/{channel}/mute"
[level]
address = "/in/{channel}/level"
scale = { table = [[-70, 0], [0, 0.8], [6, 1]] }
off = 0
[pan]
address = "/in/{channel}/pan"
[delay]
address = "/in/{channel}/delay"
max = 500
`

// plan is a show of 64 channels and the given number of cues, 256 values each, most of which differ from one cue to the
// next.
func plan(t testing.TB, cues int, more string, fadeS float64) run.ShowSetup {
	t.Helper()
	var p source.Problems
	d := mixer.Read(&source.File{Name: "mixer.toml", Text: more + mixerFile}, &p)
	if p.Errors() > 0 {
		t.Fatal(p.All())
	}
	s := &cue.Show{}
	for i := range cues {
		c := cue.Snapshot{ID: fmt.Sprint(i + 1), TimeS: float64(1000 * i), FadeS: fadeS}
		for n := 1; n <= 64; n++ {
			ch := cue.Channel{
				Channel: n, Player: fmt.Sprint("Tpt ", n), Kind: cue.Worn, Open: (n+i)%2 == 0,
				LevelDB: cue.Level(-20 + i%2*10), Pan: float64(n%10)/10 - float64(i%2),
				DelayMS: float64(n + 10*(i%2)),
			}
			if !ch.Open {
				ch.LevelDB = cue.Silent
			}
			c.Channels = append(c.Channels, ch)
		}
		s.Cues = append(s.Cues, c)
	}
	return run.ShowSetup{Show: s, Mixer: d}
}

// begin starts a stage; end ends it, and returns when it has.
func begin(e *run.Engine, d *mixer.Mixer, to string) (s *Driver, end func()) {
	ctx, cancel := context.WithCancel(context.Background())
	s = New(e, d, []string{to})
	var running sync.WaitGroup
	running.Go(func() { s.Run(ctx, []string{to}) })
	return s, func() { cancel(); running.Wait() }
}

// answering has a mixer take what comes in, and reply, until that is closed. It works the mixer with mu held.
func answering(l *wire.Listener, mixer *virtual.Device, mu *sync.Mutex) {
	for {
		packet, from, err := l.Receive()
		if err != nil {
			return
		}
		mu.Lock()
		replies := mixer.Handle(time.Now(), from.String(), packet)
		mu.Unlock()
		for _, r := range replies {
			from.Reply(r.Packet)
		}
	}
}

// settles waits until the mixer holds what is meant.
func settles(t testing.TB, s *Driver, most time.Duration) {
	t.Helper()
	for deadline := time.Now().Add(most); !s.Settled(); time.Sleep(2 * time.Millisecond) {
		if time.Now().After(deadline) {
			v, _ := s.View()
			t.Fatalf("not settled after %v:\n%s", most, glance.Status(v))
		}
	}
}

// fewer waits until there are no more goroutines than before.
func fewer(t testing.TB, before int) {
	t.Helper()
	for deadline := time.Now().Add(5 * time.Second); runtime.NumGoroutine() > before; time.Sleep(5 * time.Millisecond) {
		if time.Now().After(deadline) {
			buffer := make([]byte, 1<<16)
			t.Fatalf(
				"%d goroutines, %d before:\n%s", runtime.NumGoroutine(), before, buffer[:runtime.Stack(buffer, true)],
			)
		}
	}
}

// A run that ends at any moment of its beginning leaves nothing behind.
func TestRunLeavesNothing(t *testing.T) {
	l, err := wire.Listen("udp://127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	p := plan(t, 2, "", 0)
	before := runtime.NumGoroutine()
	for i := range 200 {
		_, end := begin(run.New(p, run.Options{To: []string{"mixer"}}, time.Now()), p.Mixer, l.Addr().String())
		time.Sleep(time.Duration(i) * 2 * time.Microsecond)
		end()
	}
	fewer(t, before)
}

// Close lists each mixer that may not have received it.
func TestCloseListsMixersThatMayNotKnow(t *testing.T) {
	p := plan(t, 2, "", 0)
	mixer := virtual.New(p.Mixer)
	l, err := wire.Listen("udp://127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	var mu sync.Mutex
	go answering(l, mixer, &mu)
	for _, to := range [][]string{{l.Addr().String()}, {l.Addr().String(), "tcp://127.0.0.1:1"}} {
		ctx, cancel := context.WithCancel(context.Background())
		s := New(run.New(p, run.Options{To: to}, time.Now()), p.Mixer, to)
		var running sync.WaitGroup
		running.Go(func() { s.Run(ctx, to) })
		if _, err := s.Do(run.Command{Verb: run.Go}); err != nil {
			t.Fatal(err)
		}
		for end := time.Now().Add(5 * time.Second); !s.Settled() && time.Now().Before(end); {
			time.Sleep(time.Millisecond)
		}
		open := s.Close(500 * time.Millisecond)
		if len(open) != len(to)-1 || len(open) == 1 && open[0].To != to[1] {
			t.Errorf("%v: not closed are %v", to, open)
		}
		cancel()
		running.Wait()
	}
	time.Sleep(20 * time.Millisecond)
	mu.Lock()
	defer mu.Unlock()
	for n := 1; n <= 64; n++ {
		if v, _ := mixer.Value(fmt.Sprintf("/in/%d/mute", n)); v != osc.Int32(1) {
			t.Errorf("channel %d is open", n)
		}
	}
}

// That the links close at the end is not a problem and is not in the journal.
func TestEndIsNotAProblem(t *testing.T) {
	l, err := wire.Listen("udp://127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	p := plan(t, 2, "rate = 100000\n", 5) // something to send at every moment
	for i := range 100 {
		var problems []string
		e := run.New(p, run.Options{To: []string{"mixer"}, Record: func(x journal.Entry) {
			if x.Kind == "problem" {
				problems = append(problems, x.Text)
			}
		}}, time.Now())
		s, end := begin(e, p.Mixer, l.Addr().String())
		s.Do(run.Command{Verb: run.Go})
		time.Sleep(5*time.Millisecond + time.Duration(i)*10*time.Microsecond)
		end()
		if len(problems) > 0 {
			t.Fatalf("run %d: %q", i, problems)
		}
	}
}

// A message that no packet can hold is reported once, and the rest goes on; a channel whose level is among it stays
// closed. A mixer file cannot lead here, since it is refused.
func TestTooLongToSend(t *testing.T) {
	l, err := wire.Listen("udp://127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	var mu sync.Mutex
	opened := map[string]bool{}
	go func() {
		for {
			packet, _, err := l.Receive()
			if err != nil {
				return
			}
			ms, _ := wire.Decode(packet)
			mu.Lock()
			for _, m := range ms {
				if len(m.Args) == 1 && m.Args[0] == osc.Int32(0) {
					opened[m.Address] = true
				}
			}
			mu.Unlock()
		}
	}()
	p := plan(t, 1, "rate = 20000\n", 0)
	p.Mixer.MaxPacket = 20 // "/in/9/level" with its type and value fits, "/in/10/level" does not
	problems := make(chan string, 1000)
	e := run.New(p, run.Options{To: []string{"mixer"}, Record: func(e journal.Entry) {
		if e.Kind == "problem" && strings.Contains(e.Text, "cannot send") {
			problems <- e.Text
		}
	}}, time.Now())
	s, end := begin(e, p.Mixer, l.Addr().String())
	if _, err := s.Do(run.Command{Verb: run.Go}); err != nil {
		t.Fatal(err)
	}
	settles(t, s, 10*time.Second)
	time.Sleep(200 * time.Millisecond)
	end()
	if n := len(problems); n != 2*55 { // level and delay of 55 channels
		t.Errorf("%d problems, the first %s", n, <-problems)
	}
	mu.Lock()
	defer mu.Unlock()
	if !opened["/in/2/mute"] || opened["/in/12/mute"] { // both are open in the cue
		t.Errorf("opened: %v", opened)
	}
}

var floods = flag.Int("flood", 30_000, "how many hostile packets TestFlood sends each way")

// rubbish is a packet that a run and a mixer must bear: never one for an address of the show.
func rubbish(r *rand.Rand) []byte {
	bytes := func(n int) []byte {
		b := make([]byte, n)
		for i := range b {
			b[i] = byte(r.Uint32())
		}
		return b
	}
	text := func(s string) []byte { return append([]byte(s), make([]byte, 4-len(s)%4)...) }
	bundle := func(inside ...[]byte) []byte {
		b := append(text("#bundle"), bytes(8)...)
		for _, x := range inside {
			b = append(binary.BigEndian.AppendUint32(b, uint32(len(x))), x...)
		}
		return b
	}
	odd := []osc.Arg{osc.Int32(int32(r.Uint32())), osc.Int64(int64(r.Uint64())), osc.Float32(float32(r.NormFloat64())),
		osc.Float64(r.NormFloat64()), osc.String(""), osc.String("x\ny"), osc.Bool(true), osc.Bool(false)}
	m := osc.Message{
		Address: fmt.Sprintf(
			"/%s/%d/%s", []string{"out", "IN", "in", "in*", "strange"}[r.IntN(5)], 65+r.IntN(1_000_000),
			[]string{"mute", "level", "pan", "color"}[r.IntN(4)],
		),
	}
	for range r.IntN(4) {
		m.Args = append(m.Args, odd[r.IntN(len(odd))])
	}
	whole := wire.Encode(m)
	switch r.IntN(9) {
	case 0:
		return bytes(r.IntN(200))
	case 1: // of an address of the show, and cut off
		of := wire.Encode(osc.Message{Address: "/in/1/level", Args: []osc.Arg{osc.Float32(1)}})
		return of[:1+r.IntN(len(of)-1)]
	case 2:
		return bundle(whole, whole, whole)
	case 3: // bundles in bundles, too deep
		for range 1 + r.IntN(40) {
			whole = bundle(whole)
		}
		return whole
	case 4: // sizes that lie
		b := bundle(whole)
		binary.BigEndian.PutUint32(b[16:], r.Uint32())
		return b
	case 5: // as long as a datagram may be, now and then
		if r.IntN(50) == 0 {
			return bytes(60_000)
		}
		return bundle()
	case 6: // type tags that promise more than there is
		return append(append(text("/in/1/mute"), text(",iiiiiiiiiiiiiiiiiiiiihdsb[]")...), bytes(4*r.IntN(4))...)
	case 7: // an address of the show with too many arguments
		return wire.Encode(osc.Message{Address: "/in/1/mute", Args: []osc.Arg{osc.Int32(0), osc.Int32(0)}})
	}
	return whole
}

// TestFlood has a run play while both its mixer and a stranger send rubbish: the mixer to the run, the stranger to the
// mixer. Every go is at the mixer at once in the median, the mixer ends as the last cue has it, and neither memory nor
// goroutines grow. -flood sends more.
func TestFlood(t *testing.T) {
	n := *floods
	if testing.Short() {
		n = min(n, 5000)
	}
	p := plan(t, 60, "repeat = true\n", 0)
	p.Mixer.Echo = &mixer.Echo{Tolerance: 0.002}
	mixer := virtual.New(p.Mixer)
	l, err := wire.Listen("udp://127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	before := runtime.NumGoroutine()
	var mu sync.Mutex
	moved := make(chan struct{}, 1) // the delay of channel 1, which every cue moves
	mixer.Changed = func(m osc.Message) {
		if m.Address == "/in/1/delay" {
			select {
			case moved <- struct{}{}:
			default:
			}
		}
	}
	var toRun wire.Peer
	known := make(chan struct{})
	var working, flooding sync.WaitGroup
	ended := make(chan struct{})
	working.Go(func() {
		for first := true; ; {
			packet, from, err := l.Receive()
			select {
			case <-ended:
				return
			default:
			}
			if err != nil {
				continue
			}
			if first { // before the flood there is only the run
				first, toRun = false, from
				close(known)
			}
			mu.Lock()
			replies := mixer.Handle(time.Now(), from.String(), packet)
			mu.Unlock()
			for _, r := range replies {
				if r.To == toRun.String() {
					toRun.Reply(r.Packet)
				}
			}
		}
	})
	var problems []string
	e := run.New(p, run.Options{To: []string{"mixer"}, Guard: time.Nanosecond, Record: func(x journal.Entry) {
		if x.Kind == "problem" {
			problems = append(problems, x.Text)
		}
	}}, time.Now())
	stage, end := begin(e, p.Mixer, l.Addr().String())
	<-known
	if _, err := stage.Do(run.Command{Verb: run.Go}); err != nil { // the first cue has the delays that are there already
		t.Fatal(err)
	}
	settles(t, stage, 20*time.Second)
	heap := func() int64 {
		runtime.GC()
		var m runtime.MemStats
		runtime.ReadMemStats(&m)
		return int64(m.HeapAlloc)
	}
	heapBefore := heap()

	stranger, err := wire.Open(l.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	flooding.Go(func() {
		for r, i := rand.New(rand.NewPCG(1, 1)), 0; i < n; i++ {
			toRun.Reply(rubbish(r))
			if i%16 == 0 {
				time.Sleep(100 * time.Microsecond)
			}
		}
	})
	flooding.Go(func() {
		for r, i := rand.New(rand.NewPCG(2, 2)), 0; i < n; i++ {
			stranger.Write(rubbish(r))
			if i%16 == 0 {
				time.Sleep(100 * time.Microsecond)
			}
		}
	})
	flooded := make(chan struct{})
	go func() { flooding.Wait(); close(flooded) }()
	var took []time.Duration
	for flood := true; flood || len(took) < 3; {
		select {
		case <-moved:
		default:
		}
		at := time.Now()
		next := run.Command{Verb: run.Go}
		if (len(took)+1)%len(p.Show.Cues) == 0 { // from the last cue on to the first
			next = run.Command{Verb: run.Jump, Name: "1"}
		}
		if _, err := stage.Do(next); err != nil {
			t.Fatal(err)
		}
		select {
		case <-moved:
		case <-time.After(5 * time.Second):
			t.Fatal("a go does not arrive within 5 s")
		}
		took = append(took, time.Since(at))
		select {
		case <-flooded:
			flood = false
		case <-time.After(time.Until(at.Add(200 * time.Millisecond))):
		}
	}
	<-flooded
	slices.Sort(took)
	t.Logf(
		"%d packets each way, %d gos among them: at the mixer after %v in the median, %v at most", n, len(took),
		took[len(took)/2], took[len(took)-1],
	)
	if took[len(took)/2] > 100*time.Millisecond {
		t.Errorf("a go takes %v in the median", took[len(took)/2])
	}
	settles(t, stage, 20*time.Second)
	v, _ := stage.View()
	if len(v.Mixers[0].Manual) > 0 {
		t.Errorf("manual: %v", v.Mixers[0].Manual)
	}
	mu.Lock()
	held := map[string]any{}
	for _, a := range mixer.State().Addresses {
		held[a.Address] = a.Value
	}
	counts := mixer.State().Counts
	mu.Unlock()
	step, _ := p.Show.Find(v.Step)
	for _, x := range p.Mixer.Settings(step) {
		if held[x.Message.Address] != x.Message.Args[0] {
			t.Errorf("%s is %v, wanted %v", x.Message.Address, held[x.Message.Address], x.Message.Args[0])
		}
	}
	if counts.Malformed == 0 || counts.Unknown == 0 || counts.Refused == 0 {
		t.Errorf("the flood did not reach the mixer: %+v", counts)
	}
	if grown := heap() - heapBefore; grown > 50<<20 {
		t.Errorf("%d bytes more are in use", grown)
	}
	end()
	stranger.Close()
	close(ended)
	l.Close()
	working.Wait()
	fewer(t, before)
	if len(problems) > 0 {
		t.Errorf("problems: %q", problems[:min(len(problems), 5)])
	}
}

// A command that the run does not take up in time is taken back: it is not carried out later.
func TestDoWithin(t *testing.T) {
	p := plan(t, 3, "", 0)
	s, end := begin(
		run.New(p, run.Options{To: []string{"mixer"}, Guard: time.Nanosecond}, time.Now()), p.Mixer, "127.0.0.1:9",
	)
	release := make(chan struct{})
	working := make(chan struct{})
	go s.withEngine(func(time.Time) { close(working); <-release }) // the run hangs
	<-working
	if _, err := s.DoWithin(run.Command{Verb: run.Go}, 20*time.Millisecond); !errors.Is(err, ErrLate) {
		t.Errorf("a go to a run that hangs: %v", err)
	}
	close(release)
	if said, err := s.DoWithin(run.Command{Verb: run.Status}, 5*time.Second); err != nil ||
		!strings.Contains(said, "before the first cue") {
		t.Errorf("then: %v\n%s", err, said)
	}
	if said, err := s.DoWithin(run.Command{Verb: run.Go}, 5*time.Second); err != nil || said != "cue 1" {
		t.Errorf("go: %q, %v", said, err)
	}
	end()
	if _, err := s.DoWithin(run.Command{Verb: run.Go}, 5*time.Second); !errors.Is(err, ErrEnded) {
		t.Errorf("after the end: %v", err)
	}
}
