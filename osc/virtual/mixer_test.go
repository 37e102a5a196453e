package virtual

import (
	"bytes"
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"backfield/cue"
	"backfield/layout/source"
	"backfield/osc"
	"backfield/osc/mixer"
	"backfield/osc/wire"
)

var update = flag.Bool("update", false, "write the golden texts again")

const plain = `
channels = 6
[mute]
address = "/in/{channel}/mute"
[level]
address = "/in/{channel}/level"
scale = { table = [[-70, 0], [-25, 0.3], [0, 0.8], [6, 1]] }
[delay]
address = "/in/{channel}/delay"
max = 500
[pan]
address = "/in/{channel}/pan"
scale = { from = [-1, 1], to = [0, 1] }
[send]
address = "/in/{channel}/zone/{zone}"
scale = { table = [[-70, 0], [0, 1]] }
`

const talking = plain + `
[echo]
[query]
address = "{address}"
[[keepalive]]
address = "/alive"
every = "12 s"
[store]
address = "/scene/store"
args = ["{slot}", "{name}"]
first = 2
slots = 3
[recall]
address = "/scene/{slot}/recall"
`

func read(t testing.TB, text string) *mixer.Mixer {
	t.Helper()
	var p source.Problems
	d := mixer.Read(&source.File{Name: "mixer.toml", Text: text}, &p)
	if p.Errors() > 0 {
		source.Print(os.Stderr, p.All())
		t.Fatal("the mixer has errors")
	}
	return d
}

var start = time.Date(2030, 10, 5, 19, 30, 0, 0, time.UTC)

// talk is a test that exchanges messages with a mixer.
type talk struct {
	t   *testing.T
	m   *Device
	now time.Time
}

func (k *talk) says(from string, list ...osc.Message) string {
	packets, err := wire.Pack(list, true, 1<<16)
	if err != nil {
		k.t.Fatal(err)
	}
	var out []Reply
	for _, p := range packets {
		out = append(out, k.m.Handle(k.now, from, p)...)
	}
	return lineOf(k.t, out)
}

func lineOf(t testing.TB, list []Reply) string {
	t.Helper()
	var out []string
	for _, r := range list {
		ms, err := wire.Decode(r.Packet)
		if err != nil || len(ms) != 1 {
			t.Fatalf("the mixer sends %x: %v, %v", r.Packet, ms, err)
		}
		out = append(out, r.To+" "+ms[0].String())
	}
	return strings.Join(out, ", ")
}

func m(address string, args ...osc.Arg) osc.Message { return osc.Message{Address: address, Args: args} }

func (k *talk) expect(want string, got string) {
	k.t.Helper()
	if got != want {
		k.t.Errorf("it sends %q, want %q", got, want)
	}
}

func TestConversation(t *testing.T) {
	k := &talk{t, New(read(t, talking)), start}
	k.expect("a /in/3/level f 0.8", k.says("a", m("/in/3/level", osc.Float32(0.8))))
	k.expect("a /in/3/level f 0.8", k.says("a", m("/in/3/level", osc.Float32(0.8)))) // echoed again, which a repeat relies on
	k.expect("a /in/3/level f 0.8", k.says("a", m("/in/3/level")))
	k.expect("b /in/1/mute i 1", k.says("b", m("/in/1/mute")))   // the value of the start, only to the one who asks
	k.expect("b /in/1/delay f 0", k.says("b", m("/in/1/delay"))) //
	k.expect("b /in/1/pan f 0.5", k.says("b", m("/in/1/pan")))
	k.expect("b /in/1/zone/64 f 0", k.says("b", m("/in/1/zone/64")))
	k.expect("a /in/2/mute T, b /in/2/mute T, a /in/2/pan d 0.25, b /in/2/pan d 0.25",
		k.says("b", m("/in/2/mute", osc.Bool(true)), m("/in/2/pan", osc.Float64(0.25))))
	k.expect("", k.says("c", m("/alive"), m("/in/7/level", osc.Float32(1)), m("/in/7/level"), m("/reset"),
		m("/in/1/level", osc.String("loud")),
		m("/in/1/mute", osc.Float64(0.5)), m("/in/1/level", osc.Float32(1), osc.Float32(1)),
		m("/in/1/level", osc.Float64(math.NaN())),
		m("/in/1/level", osc.Float32(float32(math.Inf(-1))))))

	out, err := k.m.Move(k.now, "/in/3/level", osc.Float32(0.5))
	if k.expect("a /in/3/level f 0.5, b /in/3/level f 0.5, c /in/3/level f 0.5", lineOf(t, out)); err != nil {
		t.Error(err)
	}
	for _, x := range []osc.Message{m("/in/7/level", osc.Float32(0.5)), m("/in/3/level", osc.String("x")),
		m("/in/3/mute", osc.Int32(2)), m("/", osc.Int32(2))} {
		if out, err := k.m.Move(k.now, x.Address, x.Args[0]); err == nil || out != nil ||
			!strings.Contains(err.Error(), x.Address) {
			t.Errorf("a move at %v: %v, %v", x, out, err)
		}
	}

	k.now = start.Add(echoFor)
	k.expect("a /in/3/level f 0.6, b /in/3/level f 0.6, c /in/3/level f 0.6",
		k.says("b", m("/in/3/level", osc.Float32(0.6))))
	k.now = k.now.Add(time.Nanosecond)
	k.expect("b /in/3/level f 0.7", k.says("b", m("/in/3/level", osc.Float32(0.7)))) // a and c were silent for too long
	if c := k.m.counts; c.Taken != 6 || c.Unknown != 3 || c.Refused != 5 || c.Keepalives != 1 || c.Queries != 5 ||
		c.Moves != 1 {
		t.Errorf("%+v", c)
	}
	k.m.Handle(k.now, "b", []byte("garbage!"))
	if c := k.m.counts; c.Malformed != 1 {
		t.Errorf("%+v", c)
	}
}

func TestMixerWithoutEchoes(t *testing.T) {
	k := &talk{t, New(read(t, plain)), start}
	k.expect("", k.says("a", m("/in/3/level", osc.Float32(0.8)), m("/in/3/level"), m("/alive"), m("/scene/2/recall"),
		m("/scene/store", osc.Int32(2), osc.String("x"))))
	if out, err := k.m.Move(k.now, "/in/3/level", osc.Float32(0.5)); len(out) > 0 || err != nil {
		t.Error(out, err)
	}
	if c := k.m.counts; c.Taken != 1 || c.Refused != 1 || c.Unknown != 3 {
		t.Errorf("%+v", c)
	}
}

func TestScenes(t *testing.T) {
	k := &talk{t, New(read(t, talking)), start}
	store := func(slot int, name string) string { return k.says("a", k.m.mixer.Store.Message(slot, name)) }
	recall := func(slot int) string { return k.says("a", k.m.mixer.Recall.Message(slot, "")) }
	k.says("a", m("/in/1/level", osc.Float32(0.8)), m("/in/1/mute", osc.Int32(0)), m("/in/2/zone/1", osc.Float32(1)))
	k.expect("", store(2, "first"))
	k.says("a", m("/in/1/level", osc.Float32(0.5)), m("/in/3/pan", osc.Float32(1)))
	k.expect("", store(3, strings.Repeat("x", 300)))
	k.expect("a /in/1/level f 0.8, a /in/3/pan f 0.5", recall(2)) // only what changes; the pan as at the start
	k.expect("a /in/3/pan f 0.5", k.says("a", m("/in/3/pan")))
	k.expect("", recall(2))
	k.expect("a /in/1/level f 0.5, a /in/3/pan f 1", recall(3))
	k.expect("", store(1, "too low"))
	k.expect("", store(5, "too high"))
	k.expect("", recall(4))
	want := []SceneSlot{{2, "first", 3}, {3, strings.Repeat("x", maxNameBytes), 4}}
	if got := k.m.Slots(); !slices.Equal(got, want) {
		t.Errorf("slots %v, want %v", got, want)
	}
	if c := k.m.counts; c.Stores != 2 || c.Recalls != 3 || c.NoSlot != 3 || c.Unsettled == 0 {
		t.Errorf("%+v", c)
	}
	unsettled := k.m.counts.Unsettled
	k.now = k.now.Add(k.m.mixer.Store.Settle)
	if recall(2); k.m.counts.Unsettled != unsettled {
		t.Error("a message after the settle time counts as too soon")
	}

	// A stored scene survives a reboot and brings back its values.
	k.m.WakeOpen = true
	k.m.Reboot(k.now)
	k.expect("a /in/2/mute i 0", k.says("a", m("/in/2/mute")))
	k.expect("a /in/5/level f 0.8", k.says("a", m("/in/5/level")))
	if got := recall(2); strings.Count(got, "mute i 1") != 5 || strings.Count(got, "level f 0,") != 5 ||
		strings.Contains(got, "/in/1/") {
		t.Errorf("a recall after it started open sends %s", got)
	}
	k.expect("a /in/2/mute i 1", k.says("a", m("/in/2/mute")))
	if c := k.m.State().Channels; c[0].LevelDB != 0 || !c[0].Open || c[4].Open || c[4].LevelDB != cue.Silent {
		t.Errorf("%+v", c)
	}
}

func TestReboot(t *testing.T) {
	k := &talk{t, New(read(t, talking)), start}
	k.m.Boot = 5 * time.Second
	k.says("a", m("/in/1/level", osc.Float32(0.8)))
	k.says("b", m("/in/1/mute", osc.Int32(0)))
	k.m.Reboot(k.now)
	k.now = k.now.Add(5*time.Second - 1)
	k.expect("", k.says("a", m("/in/1/mute")))
	k.now = k.now.Add(1)
	k.expect("a /in/1/mute i 1, a /in/1/pan f 0.75", k.says("a", m("/in/1/mute"),
		m("/in/1/pan", osc.Float32(0.75)))) // b is forgotten
	if s := k.m.State(); len(s.Addresses) != 1 || s.Channels[0].Open || s.Channels[0].LevelDB != cue.Silent ||
		s.Counts.Asleep != 1 || s.Counts.Reboots != 1 {
		t.Errorf("%+v", s)
	}
	k.m.WakeOpen = true
	k.m.Reboot(k.now)
	for _, c := range k.m.State().Channels {
		if !c.Open || c.LevelDB != 0 || *c.Pan != 0 || *c.DelayMS != 0 || c.Wire["mute"] != osc.Int32(0) ||
			c.Wire["level"] != osc.Float32(0.8) {
			t.Errorf("it starts with %+v", c)
		}
	}
}

func TestChanged(t *testing.T) {
	k := &talk{t, New(read(t, talking)), start}
	var changed []string
	k.m.Changed = func(x osc.Message) { changed = append(changed, x.String()) }
	k.says("a", m("/in/1/level", osc.Float32(0.8)), m("/nowhere", osc.Int32(1)))
	k.m.Move(k.now, "/in/1/mute", osc.Int32(0))
	k.says("a", k.m.mixer.Store.Message(2, ""), m("/in/1/level", osc.Float32(0.5)), k.m.mixer.Recall.Message(2, ""))
	want := "/in/1/level f 0.8, /in/1/mute i 0, /in/1/level f 0.5, /in/1/level f 0.8"
	if got := strings.Join(changed, ", "); got != want {
		t.Errorf("called with %s, want %s", got, want)
	}
}

// After a full state is sent, the mixer holds the values of the snapshot.
func TestSnapshotArrives(t *testing.T) {
	d := read(t, talking)
	r := rand.New(rand.NewPCG(3, 4))
	for range 100 {
		x := New(d)
		s := picture(r, d.Channels)
		packets, err := wire.Pack(d.Messages(nil, s), r.IntN(2) == 0, 1472)
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range packets {
			x.Handle(start, "a", p)
		}
		held := x.State()
		for i, c := range s.Channels {
			got := held.Channels[i]
			back := cue.Channel{Channel: got.Channel, Open: got.Open, LevelDB: got.LevelDB, Pan: *got.Pan,
				DelayMS: *got.DelayMS, Sends: got.Sends}
			if !reflect.DeepEqual(back, c) {
				t.Fatalf("%+v was sent, and the mixer holds %+v", c, back)
			}
		}
		if want := len(d.Settings(s)); len(held.Addresses) != want || held.Counts.Taken != want ||
			held.Counts.Refused+held.Counts.Unknown > 0 {
			t.Fatalf("%d settings are held as %d: %+v", want, len(held.Addresses), held.Counts)
		}
	}
}

// picture is a random snapshot of values that need no rounding.
func picture(r *rand.Rand, channels int) *cue.Snapshot {
	s := &cue.Snapshot{}
	for i := range channels {
		c := cue.Channel{Channel: i + 1, Open: r.IntN(2) == 0, LevelDB: cue.Silent,
			Pan: float64(r.IntN(201)-100) / 100, DelayMS: float64(r.IntN(5000)) / 10}
		if c.Open {
			c.LevelDB = cue.Level(r.IntN(60) - 60)
		}
		for zone := 1; zone <= 2; zone++ {
			c.Sends = append(c.Sends, cue.Send{Zone: zone, LevelDB: []cue.Level{cue.Silent, -12, 0}[r.IntN(3)]})
		}
		s.Channels = append(s.Channels, c)
	}
	return s
}

func TestStateGolden(t *testing.T) {
	k := &talk{t, New(read(t, talking)), start}
	k.says("a", m("/in/1/mute", osc.Int32(0)), m("/in/1/level", osc.Float32(0.55)), m("/in/1/pan", osc.Float32(0.35)),
		m("/in/1/delay", osc.Float32(62.3)),
		m("/in/2/mute", osc.Bool(false)), m("/in/2/level", osc.Int64(1)), m("/in/2/zone/2", osc.Float64(0.5)),
		m("/in/2/zone/1", osc.Float32(0)), m("/in/6/level", osc.Float32(0.05)))
	k.says("b", m("/other/1"), m("/other/1", osc.Int32(2)), m("/in/99/level", osc.Int32(2)),
		m("/"+strings.Repeat("long", 300)), m("/alive"), m("/in/1/pan"), m("/in/1/pan", osc.String("left")))
	k.says("b", k.m.mixer.Store.Message(3, "a \"name\""), k.m.mixer.Recall.Message(4, ""))
	k.m.Move(k.now, "/in/6/level", osc.Float32(1))
	got, err := k.m.State().Encode()
	if err != nil {
		t.Fatal(err)
	}
	golden := filepath.Join("testdata", "state.json")
	if *update {
		if err := os.WriteFile(golden, got, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(golden)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		t.Errorf("the state is\n%s\nwant\n%s", got, want)
	}
}

// No flood makes it grow beyond its limits.
func TestBounds(t *testing.T) {
	k := &talk{t, New(read(t, "channels = 10000\n"+strings.Replace(talking, "channels = 6\n", "", 1))), start}
	for n := range 1000 {
		k.says(fmt.Sprint(n), m(fmt.Sprintf("/unknown/%d", n)))
	}
	if len(k.m.unknown) != maxUnknown || len(k.m.senders) != maxSenders || k.m.counts.Unknown != 1000 {
		t.Errorf("%d unknown, %d senders, %+v", len(k.m.unknown), len(k.m.senders), k.m.counts)
	}
	k.now = k.now.Add(echoFor + 1)
	k.says("late", m("/alive"))
	if len(k.m.senders) != 1 {
		t.Errorf("%d senders, although all but one should be forgotten", len(k.m.senders))
	}
	k.m.mixer.Echo = nil
	for zone := 1; zone <= 12; zone++ {
		k.now = k.now.Add(time.Second)
		for channel := 1; channel <= 10000; channel++ {
			k.m.Handle(k.now, "late", wire.Encode(m(fmt.Sprintf("/in/%d/zone/%d", channel, zone), osc.Float32(1))))
		}
	}
	if len(k.m.now.held) != maxHeld || k.m.counts.Full != 20_000 {
		t.Errorf("%d are held, %+v", len(k.m.now.held), k.m.counts)
	}
	k.m.Handle(k.now, "late", wire.Encode(m("/in/1/zone/1", osc.Float32(0.5)))) // one that it has is still taken
	if k.m.now.held["/in/1/zone/1"] != osc.Float32(0.5) || k.m.counts.Full != 20_000 {
		t.Errorf("%v, %+v", k.m.now.held["/in/1/zone/1"], k.m.counts)
	}
	if _, err := k.m.Move(k.now, "/in/1/mute", osc.Int32(0)); err == nil {
		t.Error("a move works although there is no room")
	}

	k = &talk{t, New(read(t, talking)), start}
	for range maxPerSecond + 7 {
		k.m.Handle(k.now, "a", wire.Encode(m("/alive")))
	}
	k.now = k.now.Add(time.Second)
	k.says("a", m("/alive"))
	if c := k.m.counts; c.Flooded != 7 || c.Keepalives != maxPerSecond+1 {
		t.Errorf("%+v", c)
	}
	k.m.stored = maxStored - 2
	k.says("a", m("/in/1/mute", osc.Int32(0)), m("/in/2/mute", osc.Int32(0)), m("/in/3/mute", osc.Int32(0)),
		k.m.mixer.Store.Message(2, ""))
	if c := k.m.counts; c.Stores != 0 || c.Full != 1 {
		t.Errorf("a scene is stored although there is no room: %+v", c)
	}
}

// FuzzMixer sends it anything, from several senders, between moves and reboots. The fuzzer's bytes are cut into
// packets: a byte for what to do, a byte for the length, then the packet.
func FuzzMixer(f *testing.F) {
	d := read(f, talking)
	script := func(list ...osc.Message) []byte {
		var out []byte
		for i, x := range list {
			p := wire.Encode(x)
			out = append(append(out, byte(i), byte(len(p))), p...)
		}
		return out
	}
	f.Add(script(m("/in/1/level", osc.Float32(0.8)), m("/in/1/level"), d.Store.Message(2, "x"),
		m("/in/1/mute", osc.Int32(0)), d.Recall.Message(2, ""), m("/alive"), m("/x")))
	f.Add(script(m("/in/6/mute", osc.Bool(true)), m("/in/6/pan", osc.Float64(1e300)),
		m("/in/6/level", osc.Int64(math.MinInt64)), m("/in/6/zone/64", osc.Float32(-1)), d.Recall.Message(3, "")))
	f.Add([]byte("\x00\x10#bundle\x00\x00\x00\x00\x00\x00\x00\x00\x01\xff\x00\xfe\x02ab"))
	f.Fuzz(func(t *testing.T, script []byte) {
		x, again := New(d), New(d)
		now := start
		for len(script) >= 2 {
			do, n := script[0], min(int(script[1]), len(script)-2)
			packet := script[2 : 2+n]
			script = script[2+n:]
			now = now.Add(time.Duration(do) * time.Millisecond)
			if do == 255 {
				x.WakeOpen, again.WakeOpen = !x.WakeOpen, !again.WakeOpen
				x.Reboot(now)
				again.Reboot(now)
				continue
			}
			from := fmt.Sprint(do % 3)
			out := x.Handle(now, from, packet)
			lineOf(t, out)
			if !reflect.DeepEqual(out, again.Handle(now, from, packet)) {
				t.Fatal("the same packets have other replies")
			}
			if ms, err := wire.Decode(packet); err == nil && len(ms) == 1 && len(ms[0].Args) == 1 && do%5 == 0 {
				x.Move(now, ms[0].Address, ms[0].Args[0])
				again.Move(now, ms[0].Address, ms[0].Args[0])
			}
		}
		s := x.State()
		text, err := s.Encode()
		if err != nil {
			t.Fatal(err)
		}
		if other, _ := again.State().Encode(); !bytes.Equal(text, other) {
			t.Fatalf("the same packets give\n%s\nand\n%s", text, other)
		}
		if len(s.Channels) != d.Channels || len(s.Slots) > d.Store.Slots || len(s.Unknown) > maxUnknown {
			t.Errorf("%s", text)
		}
		for _, a := range s.Addresses {
			if _, ok := d.Find(a.Address); !ok {
				t.Errorf("it holds %s", a.Address)
			}
		}
	})
}
