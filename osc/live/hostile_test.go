package live_test

import (
	"context"
	"flag"
	"fmt"
	"math/rand/v2"
	"net"
	"runtime"
	"slices"
	"sync"
	"testing"
	"time"

	"backfield/cue"
	"backfield/layout/source"
	"backfield/osc"
	"backfield/osc/desk"
	"backfield/osc/live"
	"backfield/osc/run"
	"backfield/osc/virtual"
	"backfield/osc/wire"
)

var hostile = flag.Int("hostile-desk", 30_000, "how many bad packets a desk sends to the run that feeds it")

// badPacket is rubbish, a message that is cut off or changed, bundles in bundles, or news of addresses that there are not.
func badPacket(r *rand.Rand) []byte {
	random := func(n int) []byte {
		p := make([]byte, n)
		for i := range p {
			p[i] = byte(r.Uint32())
		}
		return p
	}
	good := wire.Encode(osc.Message{Address: fmt.Sprintf("/elsewhere/%d/level", r.IntN(1000)), Args: []any{float32(r.Float64()), "text", int32(r.Uint32())}})
	switch r.IntN(6) {
	case 0:
		return random(r.IntN(200))
	case 1:
		return random(r.IntN(60_000))
	case 2:
		return good[:r.IntN(len(good))]
	case 3:
		good[r.IntN(len(good))] ^= byte(1 + r.IntN(255))
		return good
	case 4:
		p := good
		for range r.IntN(40) {
			p = append(append([]byte("#bundle\x00\x00\x00\x00\x00\x00\x00\x00\x01"), byte(len(p)>>24), byte(len(p)>>16), byte(len(p)>>8), byte(len(p))), p...)
		}
		return p
	}
	return good
}

// TestHostileDesk plays while the desk floods the run with bad packets from its own port: cues still go at once, the
// desk is held right, nothing grows.
func TestHostileDesk(t *testing.T) {
	n := *hostile
	if testing.Short() {
		n = min(n, 3000)
	}
	var p source.Problems
	d := desk.Read(&source.File{Name: "desk.toml", Text: "channels = 16\n[mute]\naddress = \"/m/{channel}\"\n[level]\naddress = \"/l/{channel}\"\noff = -120\n[delay]\naddress = \"/d/{channel}\"\nmax = 500\n[echo]\n"}, &p)
	show := &cue.Show{}
	for i := range 40 {
		s := cue.Snapshot{ID: fmt.Sprint("c", i), TimeS: float64(i)}
		for c := 1; c <= 16; c++ {
			ch := cue.Channel{Channel: c, Player: fmt.Sprint("P", c), Kind: cue.Worn, LevelDB: cue.Silent, DelayMS: float64(i + c)}
			if (i+c)%2 == 0 {
				ch.Open, ch.LevelDB = true, cue.Level(-i)
			}
			s.Channels = append(s.Channels, ch)
		}
		show.Cues = append(show.Cues, s)
	}
	conn, err := net.ListenUDP("udp", &net.UDPAddr{IP: net.IPv4(127, 0, 0, 1)})
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	before := runtime.NumGoroutine()
	mixer := virtual.New(d)
	var mu sync.Mutex
	victim := make(chan *net.UDPAddr, 1)
	go func() {
		for buffer := make([]byte, 1<<16); ; {
			n, from, err := conn.ReadFromUDP(buffer)
			if err != nil {
				return
			}
			select {
			case victim <- from:
			default:
			}
			mu.Lock()
			replies := mixer.Handle(time.Now(), from.String(), buffer[:n])
			mu.Unlock()
			for _, r := range replies {
				conn.WriteToUDP(r.Packet, from)
			}
		}
	}()
	to := []string{"udp://" + conn.LocalAddr().String()}
	stage := live.New(run.New(run.Plan{Show: show, Desk: d}, run.Options{To: to}, time.Now()), d, to)
	ctx, stop := context.WithCancel(context.Background())
	ended := make(chan struct{})
	go func() {
		stage.Run(ctx, to)
		close(ended)
	}()
	at := <-victim
	flooded := make(chan struct{})
	go func() {
		defer close(flooded)
		r := rand.New(rand.NewPCG(1, 2))
		for range n {
			conn.WriteToUDP(badPacket(r), at)
		}
	}()
	heap := func() uint64 {
		runtime.GC()
		var m runtime.MemStats
		runtime.ReadMemStats(&m)
		return m.HeapAlloc
	}
	start := heap()
	var took []time.Duration
	for i := 0; ; i++ {
		s := &show.Cues[i%len(show.Cues)]
		began := time.Now()
		if _, err := stage.Do(run.Command{Verb: run.To, Name: s.ID}); err != nil {
			t.Fatal(err)
		}
		for done := false; !done; {
			mu.Lock()
			v, _ := mixer.Value("/d/1")
			mu.Unlock()
			if done = v == float32(s.Channels[0].DelayMS); !done && time.Since(began) > 5*time.Second {
				t.Fatalf("cue %s has not reached the desk after 5 s", s.ID)
			}
			time.Sleep(200 * time.Microsecond)
		}
		took = append(took, time.Since(began))
		select {
		case <-flooded:
		default:
			continue
		}
		if i >= len(show.Cues) {
			break
		}
	}
	for limit := time.Now().Add(20 * time.Second); !stage.Settled() && time.Now().Before(limit); {
		time.Sleep(5 * time.Millisecond)
	}
	v, _ := stage.View()
	mu.Lock()
	for _, x := range d.Settings(&show.Cues[slices.IndexFunc(show.Cues, func(s cue.Snapshot) bool { return s.ID == v.Step })]) {
		if got, _ := mixer.Value(x.Message.Address); got != x.Message.Args[0] {
			t.Errorf("%s is %v, wanted %v", x.Message.Address, got, x.Message.Args[0])
		}
	}
	mu.Unlock()
	slices.Sort(took)
	grown := int64(heap()) - int64(start)
	t.Logf("%d bad packets, %d cues: at the desk after %v in the median, %v at most; heap grown by %d KiB", n, len(took), took[len(took)/2], took[len(took)-1], grown/1024)
	if grown > 50<<20 {
		t.Errorf("the heap has grown by %d bytes", grown)
	}
	stop()
	<-ended
	conn.Close()
	for limit := time.Now().Add(3 * time.Second); runtime.NumGoroutine() > before+1 && time.Now().Before(limit); {
		time.Sleep(10 * time.Millisecond)
	}
	if got := runtime.NumGoroutine(); got > before+1 {
		t.Errorf("%d goroutines, %d before", got, before)
	}
}
