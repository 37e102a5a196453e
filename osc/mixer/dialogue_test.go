package mixer

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"backfield/cue"
	"backfield/osc"
)

// talking is a mixer with everything that a mixer can echo, reply to and store.
const talking = `also = ["udp://127.0.0.1:9001"]
tick = 100
repeat = false
` + demo + `
[echo]
tolerance = 0.01
[query]
address = "{address}"
[[keepalive]]
address = "/subscribe"
args    = [1, 0.5, "all", true]
every   = "20 s"
[[keepalive]]
address = "/alive"
every   = 2.5
[store]
address = "/scene/{slot:02}/store"
args    = ["{slot}", "{name}"]
settle  = "250 ms"
first   = 3
slots   = 20
[recall]
address = "/scene/{slot:02}/recall"
[safety]
rise    = "9 dB"
ramp    = "80 ms"
ceiling = "3 dB"
[[safety.channel]]
channel = 14
ceiling = "-3 dB"
`

func TestDialogueDefaults(t *testing.T) {
	d := mustRead(t, demo)
	if d.Also != nil || d.Tick != 50 || !d.Repeat || d.Echo != nil || d.Query != nil || d.Keepalives != nil ||
		d.Store != nil || d.Recall != nil {
		t.Errorf("a mixer without these tables: %+v", d)
	}
	if d.Safety != (Safety{12, 100 * time.Millisecond}) || d.CeilingDB(14) != 6 {
		t.Errorf("safety %+v, ceiling %v", d.Safety, d.CeilingDB(14))
	}
	d = mustRead(t, demo+"[echo]\n[store]\naddress = \"/s/{slot}\"\nslots = 1\n")
	if d.Echo.Tolerance != 0.002 || d.Store.First != 1 || d.Store.Settle != 300*time.Millisecond || d.Recall != nil {
		t.Errorf("echo %+v, store %+v", d.Echo, d.Store)
	}
}

func TestDialogue(t *testing.T) {
	d := mustRead(t, talking)
	got := fmt.Sprint(d.Also[0].V, " ", d.Tick, d.Repeat, *d.Echo, d.Ask("/in/3/pan"), d.Keepalives,
		d.Store.Message(7, "Hafen é\x00"), d.Store.Settle, d.Store.First, d.Store.Slots, d.Recall.Message(7, "x"),
		d.Safety)
	want := `udp://127.0.0.1:9001 100 false {0.01} /in/3/pan [{/subscribe ifsT 1 0.5 "all" 20s} {/alive 2.5s}] ` +
		`/scene/07/store is 7 "Hafen ??" 250ms 3 20 /scene/07/recall {9 80ms}`
	if got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
	d = mustRead(t, demo+"[query]\naddress = \"/ask\"\nargs = [\"{address}\", 1]\n")
	if got := d.Ask("/in/3/pan").String(); got != `/ask si "/in/3/pan" 1` {
		t.Errorf("the query is %s", got)
	}
	d = mustRead(t, demo+"[query]\naddress = \"/get{address}/now\"\n")
	if got := d.Ask("/in/3/pan").String(); got != `/get/in/3/pan/now` {
		t.Errorf("the query is %s", got)
	}
}

// What a message asks for can be read from the message.
func TestDialogueMatches(t *testing.T) {
	d := mustRead(t, talking)
	for slot := range 200 {
		for name, s := range map[string]*SceneMessage{"it's \"12\"": &d.Store.SceneMessage, "": d.Recall} {
			got, back, ok := s.Match(s.Message(slot, name))
			if !ok || got != slot || back != name {
				t.Errorf("slot %d, %q comes back as %d, %q, %t", slot, name, got, back, ok)
			}
		}
	}
	for _, m := range []osc.Message{
		{Address: "/scene/7/store", Args: []osc.Arg{osc.Int32(7), osc.String("x")}},
		{Address: "/scene/07/store", Args: []osc.Arg{osc.Int32(8), osc.String("x")}},
		{Address: "/scene/07/store", Args: []osc.Arg{osc.Float64(7.5), osc.String("x")}},
		{Address: "/scene/07/store", Args: []osc.Arg{osc.Float64(math.NaN()), osc.String("x")}},
		{Address: "/scene/07/store", Args: []osc.Arg{osc.Int32(7), osc.Int32(1)}},
		{Address: "/scene/07/store", Args: []osc.Arg{osc.Int32(7)}},
		{Address: "/scene/07/recall", Args: []osc.Arg{osc.Int32(7), osc.String("x")}},
		{Address: "/scene//store"},
	} {
		if slot, name, ok := d.Store.Match(m); ok {
			t.Errorf("%v matches slot %d, %q", m, slot, name)
		}
	}
	for _, query := range []string{"address = \"{address}\"", "address = \"{address}/get\"\nargs = [\"?\"]",
		"address = \"/ask{address}\"", "address = \"/ask\"\nargs = [2, \"{address}\"]",
		"address = \"/ask{address}\"\nargs = [\"{address}\"]"} {
		d := mustRead(t, demo+"[query]\n"+query)
		if got, ok := d.Query.Match(d.Ask("/in/3/pan")); !ok || got != "/in/3/pan" {
			t.Errorf("%s: %v matches a query for %q, %t", query, d.Ask("/in/3/pan"), got, ok)
		}
		if got, ok := d.Query.Match(osc.Message{Address: "/in/3/pan", Args: []osc.Arg{osc.Float32(1)}}); ok {
			t.Errorf("%s: a message that sets matches a query for %q", query, got)
		}
	}
}

// The settings are the messages of the full state, for any snapshot, always with the same addresses in the same order.
// A single level has the same argument.
func TestSettings(t *testing.T) {
	d := mustRead(t, talking+zones)
	r := rand.New(rand.NewPCG(11, 12))
	var addresses []string
	for range 200 {
		s := randomSnapshot(r, 16)
		var sent, set, now []string
		for _, m := range d.Messages(nil, s) {
			sent = append(sent, m.String())
		}
		for _, x := range d.Settings(s) {
			set, now = append(set, x.Message.String()), append(now, x.Message.Address)
			if place, ok := d.Find(x.Message.Address); !ok || place != x.Control {
				t.Fatalf("%s is found as %+v, %t; it is %+v", x.Message.Address, place, ok, x.Control)
			}
			c := s.Channels[x.Channel-1]
			if x.Param == cue.ParamLevel {
				if got := d.levelMessage(x.Channel, float64(c.LevelDB), c.Open); got.String() != x.Message.String() {
					t.Fatalf("the level of %+v is sent as %v, and alone as %v", c, x.Message, got)
				}
			}
		}
		if addresses == nil {
			addresses = now
		}
		if !slices.Equal(now, addresses) {
			t.Fatalf("addresses %v, and before %v", now, addresses)
		}
		slices.Sort(sent)
		slices.Sort(set)
		if !slices.Equal(sent, set) {
			t.Fatalf("sent %v\nset  %v", sent, set)
		}
	}
	if len(addresses) != 16*(4+4) || addresses[8] != "/in/2/mute" {
		t.Errorf("%d addresses: %v", len(addresses), addresses)
	}
}

// levelMessage is the message of one moment of a fade.
func (d *Mixer) levelMessage(channel int, dB float64, open bool) osc.Message {
	if !open {
		dB = math.Inf(-1)
	}
	arg, _ := d.Arg(Control{Channel: channel, Param: cue.ParamLevel}, dB)
	return osc.Message{Address: d.Address(Control{Channel: channel, Param: cue.ParamLevel}), Args: []osc.Arg{arg}}
}

func TestLevel(t *testing.T) {
	d := mustRead(t, talking)
	for _, c := range []struct {
		channel int
		dB      float64
		open    bool
		want    string
	}{
		{3, 0, true, "/in/3/level f 0.8"},
		{3, -0.004, true, "/in/3/level f 0.8"}, // on the grid
		{3, 0, false, "/in/3/level f 0"},
		{3, math.Inf(-1), true, "/in/3/level f 0"},
		{3, math.NaN(), true, "/in/3/level f 0"},
		{3, -90, true, "/in/3/level f 0"},
		{3, 9, true, "/in/3/level f 0.9"},    // the ceiling of 3 dB
		{14, 9, true, "/in/14/level f 0.74"}, // its own, of -3 dB
		{14, -12.5, true, "/in/14/level f 0.55"},
	} {
		if got := d.levelMessage(c.channel, c.dB, c.open).String(); got != c.want {
			t.Errorf("%v dB on %d: %s, want %s", c.dB, c.channel, got, c.want)
		}
	}
	if got := d.Limits(cue.ParamLevel).Max; got != 3 || d.CeilingDB(1) != 3 || d.CeilingDB(14) != -3 {
		t.Errorf("limit %v, ceilings %v and %v", got, d.CeilingDB(1), d.CeilingDB(14))
	}
	none := &Mixer{}
	if arg, ok := none.Arg(Control{Channel: 1, Param: cue.ParamLevel}, 0); ok || !math.IsInf(none.CeilingDB(1), 1) {
		t.Errorf("a mixer without a level: %v", arg)
	}
}

// The values of a snapshot can be read back from what the mixer holds.
func TestValue(t *testing.T) {
	inf := math.Inf(-1)
	for _, c := range []struct {
		param, keys string
		arg         osc.Arg
		want        float64
		ok          bool
	}{
		{"mute", "address = \"/m/{channel}\"", osc.Int32(1), 1, true},
		{"mute", "address = \"/m/{channel}\"", osc.Bool(false), 0, true},
		{"mute", "address = \"/m/{channel}\"", osc.Float64(0.5), 0, false},
		{"mute", "address = \"/m/{channel}\"\nscale = { on = \"ON\", off = \"\" }", osc.String("ON"), 1, true},
		{"mute", "address = \"/m/{channel}\"\nscale = { on = \"ON\", off = \"\" }", osc.String("on"), 0, false},
		{"level", "address = \"/l/{channel}\"\nscale = { table = [[-70, 0], [-25, 0.3], [0, 0.8], [6, 1]] }",
			osc.Float32(0.55), -12.5, true},
		{"level", "address = \"/l/{channel}\"\nscale = { table = [[-70, 0], [-25, 0.3], [0, 0.8], [6, 1]] }",
			osc.Float32(0), inf, true},
		{"level", "address = \"/l/{channel}\"\nscale = { table = [[-70, 0], [-25, 0.3], [0, 0.8], [6, 1]] }",
			osc.Float64(1.5), 6, true},
		{"level", "address = \"/l/{channel}\"\nscale = { table = [[-70, 0], [0, 0.8], [3, 0.8], [6, 1]] }\noff = -1",
			osc.Float64(0.8), 0, true},
		{"level", "address = \"/l/{channel}\"\nscale = { table = [[-70, 9], [0, 3], [6, 1]] }", osc.Int32(2), 3, true},
		{"level", "address = \"/l/{channel}\"\nscale = \"amplitude\"", osc.Float32(0.1), -20, true},
		{"level", "address = \"/l/{channel}\"\nscale = \"amplitude\"", osc.Float32(-0.1), inf, true},
		{"level", "address = \"/l/{channel}\"\nscale = \"amplitude\"", osc.String("x"), 0, false},
		{"level", "address = \"/l/{channel}\"\noff = -120", osc.Float64(math.NaN()), 0, false},
		{"level", "address = \"/l/{channel}\"\noff = -120", osc.Bool(true), 0, false},
		{"level", "address = \"/l/{channel}\"\noff = -120", osc.Float64(math.Inf(-1)), inf, true},
		{"level", "address = \"/l/{channel}\"\noff = -120", osc.Float64(math.Inf(1)), 0, false},
		{"level", "address = \"/l/{channel}\"\noff = -120", osc.Float64(1e308), 0, false},
		{"pan", "address = \"/p/{channel}\"", osc.Float64(math.Inf(-1)), 0, false},
		{"pan", "address = \"/p/{channel}\"\nscale = { from = [-1, 1], to = [0, 127] }\ntype = \"i\"", osc.Int32(64),
			0.01, true},
		{"delay", "address = \"/d/{channel}\"\nunit = \"samples\"\nsample_rate = 48000\nmax = 24000\ntype = \"i\"",
			osc.Int32(590), 12.291667, true},
	} {
		d := mustRead(t, mixerWith(c.param, c.keys))
		got, ok := d.Value(c.param, c.arg)
		if ok != c.ok || ok && got != c.want {
			t.Errorf("[%s] %s\n%v means %v, %t; want %v, %t", c.param, c.keys, c.arg, got, ok, c.want, c.ok)
		}
	}

	d := mustRead(t, demo+zones)
	r := rand.New(rand.NewPCG(13, 14))
	for range 300 {
		s := randomSnapshot(r, 8)
		for _, x := range d.Settings(s) {
			want, _ := d.param(x.Param).value(&s.Channels[x.Channel-1], x.Zone)
			step := d.Limits(x.Param).Step
			if got, ok := d.Value(x.Param, x.Message.Args[0]); !ok || got != want &&
				!(math.Abs(got-want) <= step/2+1e-9) {
				t.Fatalf("%v is %v, and was %v", x.Message, got, want)
			}
		}
	}
	if _, ok := d.Value("presence", osc.Float64(1)); ok {
		t.Error("an unknown parameter has a value")
	}
}

func TestFind(t *testing.T) {
	d := mustRead(t, demo+zones)
	for address, want := range map[string]Control{
		"/in/1/mute": {1, "mute", 0}, "/in/64/pan": {64, "pan", 0}, "/in/3/zone/07": {3, "send", 7},
		"/in/3/zone/64": {3, "send", 64},
	} {
		if got, ok := d.Find(address); !ok || got != want {
			t.Errorf("%s is %+v, %t", address, got, ok)
		}
	}
	for _, address := range []string{"", "/", "/in/0/mute", "/in/65/mute", "/in/01/mute", "/in/1/mute/", "/in/1/mutes",
		"/in//mute", "/in/-1/mute", "/in/99999999999999999999/mute",
		"/in/3/zone/7", "/in/3/zone/00", "/in/3/zone/65", "/in/3/zone/007", strings.Repeat("/in/1", 1000)} {
		if got, ok := d.Find(address); ok {
			t.Errorf("%s matches %+v", address, got)
		}
	}
}

func TestParse(t *testing.T) {
	for _, c := range []struct{ keys, text, want string }{
		{"", "1", "/m/1 i 1"}, {"", "1.0", "/m/1 i 1"}, {"", "0.5", `"0.5" is not a whole number`},
		{"", "on", `"on" is not a number`}, {"", "nan", `"nan" is not a number`}, {"", "inf", `"inf" is not a number`},
		{"", "1e16", `"1e16" is not a number`},
		{"\ntype = \"f\"", "0.5", "/m/1 f 0.5"}, {"\ntype = \"d\"", "-1e3", "/m/1 d -1000"},
		{"\ntype = \"h\"", "7", "/m/1 h 7"},
		{"\ntype = \"T\"", "true", "/m/1 T"}, {"\ntype = \"T\"", "0", "/m/1 F"},
		{"\ntype = \"T\"", "off", `"off" is neither true nor false`},
		{"\nscale = { on = \"ON\", off = \"\" }", "ON", `/m/1 s "ON"`},
		{"\nscale = { on = \"ON\", off = \"\" }", "", `/m/1 s ""`},
	} {
		d := mustRead(t, mixerWith("mute", "address = \"/m/{channel}\""+c.keys))
		arg, err := d.Parse(cue.ParamMute, c.text)
		got := fmt.Sprint(err)
		if err == nil {
			got = osc.Message{Address: "/m/1", Args: []osc.Arg{arg}}.String()
		}
		if err == nil && got != c.want || err != nil && !strings.HasPrefix(got, c.want) {
			t.Errorf("%q%s is %s, want %s", c.text, c.keys, got, c.want)
		}
	}
	if _, err := (&Mixer{}).Parse("mute", "1"); err == nil {
		t.Error("a mixer without a mute has an argument of one")
	}
}
