package simulated

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"strings"
	"sync"
	"testing"
	"time"

	"backfield/layout/source"
	"backfield/osc"
	"backfield/osc/mixer"
	"backfield/osc/virtual"
	"backfield/osc/waiting"
	"backfield/osc/wire"
)

func TestMain(m *testing.M) { os.Exit(waiting.Run(m)) }

const echoing = `
channels = 4
[mute]
address = "/in/{channel}/mute"
[level]
address = "/in/{channel}/level"
off = -120
[pan]
address = "/in/{channel}/pan"
[delay]
address = "/in/{channel}/delay"
max = 500
[echo]
[query]
address = "{address}"
[store]
address = "/scene/{slot}/store"
slots = 5
[recall]
address = "/scene/{slot}/recall"
`

// mixerUnderTest is the simulated mixer, running in this process.
type mixerUnderTest struct {
	t        *testing.T
	at       string
	commands io.Writer
	ends     func() (stdout, stderr string) // sends quit, and waits
}

func startMixer(t *testing.T, at string, o MixerOptions) *mixerUnderTest {
	t.Helper()
	var p source.Problems
	described := mixer.Read(&source.File{Name: "mixer.toml", Text: echoing}, &p)
	if p.Errors() > 0 {
		t.Fatal(p.All())
	}
	l, err := wire.Listen(at)
	if err != nil {
		t.Fatal(err)
	}
	in, commands := io.Pipe()
	talkOut, talkIn := io.Pipe()
	var out, talk strings.Builder
	if o.Seed == 0 {
		o.Seed = 1
	}
	ctx, cancel := context.WithTimeout(context.Background(), 20*time.Second)
	ended := make(chan error, 1)
	go func() {
		defer talkIn.Close()
		defer l.Close()
		ended <- Serve(ctx, l, described, o, in, &out, talkIn)
	}()
	lines := bufio.NewReader(talkOut)
	first, _ := lines.ReadString('\n')
	listens, ok := strings.CutPrefix(strings.TrimSpace(first), "listening at ")
	if !ok {
		t.Fatalf("its first line is %q", first)
	}
	done := make(chan bool)
	go func() {
		io.Copy(&talk, lines)
		close(done)
	}()
	ends := sync.OnceValues(func() (string, string) {
		fmt.Fprintln(commands, "quit")
		if err := <-ended; err != nil {
			t.Errorf("it ends with %v", err)
		}
		<-done
		commands.Close()
		cancel()
		return out.String(), talk.String()
	})
	t.Cleanup(func() { ends() })
	return &mixerUnderTest{t, listens, commands, ends}
}

// dial opens a link to it. What it sends comes out of the channel.
func (d *mixerUnderTest) dial() (wire.Link, <-chan string) {
	d.t.Helper()
	link, err := wire.Open(d.at)
	if err != nil {
		d.t.Fatal(err)
	}
	heard := make(chan string, 1000)
	var reading sync.WaitGroup
	reading.Go(func() {
		defer close(heard)
		for buffer := make([]byte, wire.MaxPacket); ; {
			n, err := link.Read(buffer)
			if err != nil {
				return
			}
			if list, err := wire.Decode(buffer[:n]); err == nil && len(list) == 1 {
				heard <- list[0].String()
			}
		}
	})
	d.t.Cleanup(func() { link.Close(); reading.Wait() })
	return link, heard
}

func (d *mixerUnderTest) send(link wire.Link, list ...osc.Message) {
	d.t.Helper()
	for _, m := range list {
		if err := link.Write(wire.Encode(m)); err != nil {
			d.t.Fatal(err)
		}
	}
}

// hears waits for the messages, in this order.
func (d *mixerUnderTest) hears(heard <-chan string, want ...string) {
	d.t.Helper()
	for _, w := range want {
		select {
		case got := <-heard:
			if got != w {
				d.t.Errorf("it sends %s, want %s", got, w)
			}
		case <-time.After(5 * time.Second):
			d.t.Fatalf("it does not send %s", w)
		}
	}
}

// Two senders get echoes of every value and of every move. A reply goes only to the one that asked.
func TestMixerEchoesToAll(t *testing.T) {
	t.Parallel()
	for _, at := range []string{"127.0.0.1:0", "tcp://127.0.0.1:0", "slip://127.0.0.1:0"} {
		d := startMixer(t, at, MixerOptions{JSON: true})
		a, toA := d.dial()
		b, toB := d.dial()
		d.send(a, osc.Message{Address: "/in/1/mute"})
		d.hears(toA, "/in/1/mute i 1")
		d.send(b, osc.Message{Address: "/in/2/mute", Args: []osc.Arg{osc.Int32(0)}})
		d.hears(toA, "/in/2/mute i 0")
		d.hears(toB, "/in/2/mute i 0")
		fmt.Fprintln(d.commands, "move /in/2/level -6.5")
		d.hears(toA, "/in/2/level f -6.5")
		d.hears(toB, "/in/2/level f -6.5")
		d.send(a, osc.Message{Address: "/scene/3/store"},
			osc.Message{Address: "/in/2/mute", Args: []osc.Arg{osc.Int32(1)}}, osc.Message{Address: "/scene/3/recall"})
		d.hears(toA, "/in/2/mute i 1", "/in/2/mute i 0")
		d.hears(toB, "/in/2/mute i 1", "/in/2/mute i 0")
		stdout, _ := d.ends()
		var state struct {
			Slots    []struct{ Slot, Values int }
			Channels []struct {
				Open    bool
				LevelDB float64 `json:"level_db"`
			}
		}
		if err := json.Unmarshal([]byte(stdout), &state); err != nil {
			t.Fatalf("%v in\n%s", err, stdout)
		}
		if len(state.Channels) != 4 || !state.Channels[1].Open || state.Channels[1].LevelDB != -6.5 ||
			len(state.Slots) != 1 || state.Slots[0].Slot != 3 {
			t.Errorf("%s ends as\n%s", at, stdout)
		}
	}
}

// As many numbered packets come back as the faults let through, and the same ones on every run.
func TestMixerOnABadNetwork(t *testing.T) {
	t.Parallel()
	faults := map[string]virtual.Faults{
		"all": {Delay: 5 * time.Millisecond}, "none": {Drop: 1}, "some": {Drop: 0.3}, "some again": {Drop: 0.3},
		"twice": {Duplicate: 1}, "mixed": {Reorder: 0.2},
	}
	var mu sync.Mutex
	back := map[string]string{}
	t.Run("faults", func(t *testing.T) {
		for name, f := range faults {
			t.Run(name, func(t *testing.T) {
				t.Parallel()
				got := comesBack(t, f)
				mu.Lock()
				defer mu.Unlock()
				back[name] = got
			})
		}
	})
	count := func(text string) int { return len(strings.Fields(text)) }
	if all := back["all"]; count(all) != 40 || !strings.HasPrefix(all, "0 1 2 ") {
		t.Errorf("a good network returns %s", all)
	}
	if back["none"] != "" {
		t.Errorf("with 100 %% packet loss %s comes back", back["none"])
	}
	if n := count(back["some"]); n < 8 || n > 32 { // 0.7 * 0.7 * 40 is about 20
		t.Errorf("%d of 40 come back: %s", n, back["some"])
	}
	if back["some again"] != back["some"] {
		t.Errorf("the same seed returns\n%s and\n%s", back["some"], back["some again"])
	}
	if count(back["twice"]) != 160 {
		t.Errorf("duplicated both ways, 40 are %d: %s", count(back["twice"]), back["twice"])
	}
	if count(back["mixed"]) != 40 || back["mixed"] == back["all"] {
		t.Errorf("reordered, %s comes back", back["mixed"])
	}
}

// comesBack sends 40 numbers to a mixer behind a network with faults, and returns those that it echoes.
func comesBack(t *testing.T, faults virtual.Faults) string {
	d := startMixer(t, "127.0.0.1:0", MixerOptions{Faults: faults, Seed: 5})
	link, heard := d.dial()
	for i := range 40 {
		d.send(link, osc.Message{Address: "/in/1/delay", Args: []osc.Arg{osc.Int32(int32(i))}})
		time.Sleep(time.Millisecond)
	}
	var got []string
	for last := false; !last; {
		select {
		case x := <-heard:
			got = append(got, strings.TrimPrefix(x, "/in/1/delay i "))
		case <-time.After(500 * time.Millisecond):
			last = true
		}
	}
	d.ends()
	return strings.Join(got, " ")
}

func TestMixerReboots(t *testing.T) {
	t.Parallel()
	d := startMixer(t, "127.0.0.1:0", MixerOptions{RebootAfter: 300 * time.Millisecond, Boot: time.Millisecond,
		WakeOpen: true})
	link, heard := d.dial()
	d.send(link, osc.Message{Address: "/in/1/mute"}, osc.Message{Address: "/in/1/mute", Args: []osc.Arg{osc.Int32(1)}},
		osc.Message{Address: "/in/1/mute"})
	d.hears(heard, "/in/1/mute i 0", "/in/1/mute i 1", "/in/1/mute i 1")
	for deadline := time.Now().Add(5 * time.Second); ; time.Sleep(20 * time.Millisecond) {
		d.send(link, osc.Message{Address: "/in/1/mute"})
		select {
		case got := <-heard:
			if got == "/in/1/mute i 0" {
				if _, stderr := d.ends(); strings.Count(stderr, "rebooted\n") != 1 {
					t.Errorf("it prints\n%s", stderr)
				}
				return
			}
		case <-time.After(20 * time.Millisecond): // it is booting
		}
		if time.Now().After(deadline) {
			t.Fatal("it does not reboot")
		}
	}
}

// A seventeenth sender is reported, and nothing else goes wrong, not even with garbage.
func TestMixerSurvives(t *testing.T) {
	t.Parallel()
	d := startMixer(t, "127.0.0.1:0", MixerOptions{})
	first, heard := d.dial()
	d.send(first, osc.Message{Address: "/in/1/mute"})
	d.hears(heard, "/in/1/mute i 1")
	for range maxSenders + 15 {
		link, _ := d.dial()
		d.send(link, osc.Message{Address: "/anything"})
	}
	first.Write([]byte("#bundle garbage"))
	d.send(first, osc.Message{Address: "/in/1/pan"})
	d.hears(heard, "/in/1/pan f 0")
	fmt.Fprintln(d.commands, strings.Repeat("long ", 5000))
	_, stderr := d.ends()
	if n := strings.Count(stderr, "is ignored: 16 others are sending\n"); n != maxErrors {
		t.Errorf("%d of %d are printed:\n%s", n, 16, stderr)
	}
}
