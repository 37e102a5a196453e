package mixer

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"backfield/cue"
	"backfield/layout/source"
	"backfield/layout/table"
	"backfield/osc"
)

// demo is a mixer with all four parameters.
const demo = `
to = "udp://127.0.0.1:9000"
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
`

// zones is the table that a rig with zones needs.
const zones = `[send]
address = "/in/{channel}/zone/{zone:02}"
scale = { table = [[-70, 0], [0, 1]] }
`

func read(text string) (*Mixer, []source.Problem) {
	var p source.Problems
	f := &source.File{Name: "mixer.toml", Text: text}
	d := Read(f, &p)
	d.WarnMissing(cue.ParamPan, f, &p)
	d.WarnMissing(cue.ParamDelay, f, &p)
	return d, p.All()
}

func mustRead(t testing.TB, text string) *Mixer {
	t.Helper()
	d, problems := read(text)
	if len(problems) > 0 {
		var b strings.Builder
		source.Print(&b, problems)
		t.Fatalf("unexpected problems:\n%s\nin\n%s", b.String(), text)
	}
	return d
}

func TestDefaults(t *testing.T) {
	d := mustRead(t, demo)
	got := fmt.Sprintf("%s %d %d %s %t %d", d.To.V, d.Rate, d.Channels, d.PanLaw.V, d.Bundle, d.MaxPacket)
	if want := "udp://127.0.0.1:9000 2000 64 constant-power false 1472"; got != want {
		t.Errorf("defaults are %s, want %s", got, want)
	}
	d = mustRead(t, "to = \"10.0.0.7:1\"\nrate = 10\nchannels = 10000\npan_law = \"linear\"\nbundle = true\n"+
		"max_packet = 64\n"+demo[len("\nto = \"udp://127.0.0.1:9000\""):])
	got = fmt.Sprintf("%s %d %d %s %t %d", d.To.V, d.Rate, d.Channels, d.PanLaw.V, d.Bundle, d.MaxPacket)
	if want := "10.0.0.7:1 10 10000 linear true 64"; got != want {
		t.Errorf("as written they are %s, want %s", got, want)
	}
	var names []string
	for _, p := range d.Params {
		names = append(names, p.Name)
	}
	if want := "mute level delay pan"; strings.Join(names, " ") != want {
		t.Errorf("sending order %v, want %s", names, want)
	}
}

// mixerWith makes a mixer.toml with the given keys in one parameter's table and plain tables for the others.
func mixerWith(param, keys string) string {
	tables := map[string]string{
		"mute":  `address = "/m/{channel}"`,
		"level": "address = \"/l/{channel}\"\nscale = \"amplitude\"",
		"delay": "address = \"/d/{channel}\"\nmax = 500",
		"pan":   `address = "/p/{channel}"`,
	}
	tables[param] = keys
	var b strings.Builder
	for _, name := range []string{"mute", "level", "delay", "pan"} {
		fmt.Fprintf(&b, "[%s]\n%s\n", name, tables[name])
	}
	return b.String()
}

func channel(open bool, level, pan, delay float64) cue.Channel {
	c := cue.Channel{Channel: 3, Open: open, LevelDB: cue.Level(level), Pan: pan, DelayMS: delay}
	if !open {
		c.LevelDB = cue.Silent
	}
	return c
}

func TestScales(t *testing.T) {
	level := func(db float64) cue.Channel { return channel(true, db, 0, 0) }
	delay := func(ms float64) cue.Channel { return channel(true, 0, 0, ms) }
	pan := func(v float64) cue.Channel { return channel(true, 0, v, 0) }
	open, closed := level(0), channel(false, 0, 0, 0)
	const a = "address = \"/x/{channel}\"\n"
	const curve = a + "scale = { table = [[-70, 0], [-25, 0.3], [0, 0.8], [6, 1]] }\n"
	for _, c := range []struct {
		param, keys string
		in          cue.Channel
		want        string
	}{
		{"mute", a, closed, "/x/3 i 1"},
		{"mute", a, open, "/x/3 i 0"},
		{"mute", a + "scale = { on = 0, off = 1 }", closed, "/x/3 i 0"},
		{"mute", a + "scale = { on = 0, off = 1 }", open, "/x/3 i 1"},
		{"mute", a + "scale = { on = 1.0, off = 0.0 }", closed, "/x/3 f 1"},
		{"mute", a + "scale = { on = 1, off = 0.5 }", open, "/x/3 f 0.5"},
		{"mute", a + "scale = { on = true, off = false }", closed, "/x/3 T"},
		{"mute", a + "scale = { on = true, off = false }\ntype = \"F\"", open, "/x/3 F"},
		{"mute", a + "scale = { on = false, off = true }\ntype = \"T\"", open, "/x/3 T"},
		{"mute", a + "type = \"T\"", closed, "/x/3 T"},
		{"mute", a + "type = \"F\"", open, "/x/3 F"},
		{"mute", a + "scale = { on = \"ON\", off = \"\" }", closed, `/x/3 s "ON"`},
		{"mute", a + "scale = { on = \"ON\", off = \"\" }", open, `/x/3 s ""`},
		{"mute", a + "type = \"h\"", closed, "/x/3 h 1"},
		{"mute", a + "type = \"d\"", closed, "/x/3 d 1"},

		{"level", curve, level(0), "/x/3 f 0.8"},
		{"level", curve, level(6), "/x/3 f 1"},
		{"level", curve, level(20), "/x/3 f 1"},
		{"level", curve, level(-70), "/x/3 f 0"},
		{"level", curve, level(-90), "/x/3 f 0"},
		{"level", curve + "type = \"d\"", level(-47.5), "/x/3 d 0.15"}, // half way from -70 to -25
		{"level", curve + "type = \"d\"", level(-12.5), "/x/3 d 0.55"}, // half way from -25 to 0
		{"level", curve + "type = \"d\"", level(3), "/x/3 d 0.9"},
		{"level", curve + "type = \"d\"\nstep = 1", level(2.6), "/x/3 d 0.9"},
		{"level", curve + "type = \"d\"\nmax = 3", level(5), "/x/3 d 0.9"},
		{"level", curve, closed, "/x/3 f 0"},
		{"level", curve + "off = -1", closed, "/x/3 f -1"},
		{"level", a + "scale = { from = [-60, 10], to = [0, 700] }\ntype = \"i\"", level(-0.04), "/x/3 i 600"},
		{"level", a + "scale = { from = [-60, 10], to = [0, 700] }\ntype = \"i\"", level(-0.05), "/x/3 i 600"},
		// 599.5: half away from zero
		{"level", a + "scale = { from = [-60, 10], to = [0, 700] }\ntype = \"i\"", level(-0.06), "/x/3 i 599"},
		{"level", a + "scale = { from = [-60, 10], to = [-700, 0] }\ntype = \"h\"", level(-0.05), "/x/3 h -101"},
		// -100.5
		{"level", a + "scale = { from = [-60, 10], to = [-700, 0] }\ntype = \"h\"", level(-0.04), "/x/3 h -100"},
		{"level", a + "scale = { from = [-60, 10], to = [700, 0] }\ntype = \"i\"", closed, "/x/3 i 700"},
		{"level", a + "scale = \"amplitude\"", level(0), "/x/3 f 1"},
		{"level", a + "scale = \"amplitude\"", level(-20), "/x/3 f 0.1"},
		{"level", a + "scale = \"amplitude\"", closed, "/x/3 f 0"},
		{"level", a + "scale = { amplitude = 0.5 }\ntype = \"d\"", level(20), "/x/3 d 5"},
		{"level", a + "scale = { amplitude = 0.5 }", level(20000), "/x/3 f 340282350000000000000000000000000000000"},
		{"level", a + "off = -120", level(-7.256), "/x/3 f -7.26"},
		{"level", a + "off = -120", closed, "/x/3 f -120"},
		{"level", a + "off = -120", level(math.NaN()), "/x/3 f -120"},
		{"level", a + "off = -120", level(math.Inf(-1)), "/x/3 f -120"},
		{"level", a + "min = -80", closed, "/x/3 f -80"},
		{"level", a + "min = \"-80 dB\"\nmax = \"10 dB\"", level(11), "/x/3 f 10"},

		{"pan", a, pan(-0.25), "/x/3 f -0.25"},
		{"pan", a, pan(-2), "/x/3 f -1"},
		{"pan", a + "step = 0.1", pan(0.25), "/x/3 f 0.3"},
		{"pan", a + "step = 0.1", pan(-0.25), "/x/3 f -0.3"}, // mirrored
		{"pan", a + "scale = { from = [-1, 1], to = [0, 1] }", pan(0), "/x/3 f 0.5"},
		{"pan", a + "scale = { from = [-1, 1], to = [1, 0] }", pan(-1), "/x/3 f 1"},
		{"pan", a + "scale = { from = [-1, 1], to = [-100, 100] }\ntype = \"i\"", pan(0.17), "/x/3 i 17"},
		{"pan", a + "scale = { from = [-1, 1], to = [0, 127] }\ntype = \"i\"", pan(0), "/x/3 i 64"}, // 63.5
		{"pan", a + "max = 0.5", pan(0.9), "/x/3 f 0.5"},

		{"delay", a + "max = 500", delay(12.34), "/x/3 f 12.3"},
		{"delay", a + "max = 500", delay(12.35), "/x/3 f 12.4"},
		{"delay", a + "max = 500", delay(600), "/x/3 f 500"},
		{"delay", a + "max = 500", delay(-1), "/x/3 f 0"},
		{"delay", a + "max = \"0.5 s\"\nstep = \"500 us\"", delay(12.3), "/x/3 f 12.5"},
		{"delay", a + "unit = \"s\"\nmax = 0.5\ntype = \"d\"", delay(12.3), "/x/3 d 0.0123"},
		{"delay", a + "unit = \"us\"\nmax = 500000\ntype = \"i\"", delay(12.3), "/x/3 i 12300"},
		{"delay", a + "unit = \"samples\"\nsample_rate = 48000\nmax = 24000\ntype = \"i\"", delay(12.3), "/x/3 i 590"},
		// 590.4
		{"delay", a + "unit = \"samples\"\nsample_rate = 48000\nmax = \"1 ms\"\ntype = \"i\"", delay(12.3),
			"/x/3 i 48"},
		{"delay", a + "scale = { from = [0, 400], to = [0, 1] }", delay(100), "/x/3 f 0.25"},
		{"delay", a + "scale = { from = [0, 400], to = [0, 1] }", delay(1000), "/x/3 f 1"},
	} {
		d := mustRead(t, mixerWith(c.param, c.keys))
		var got string
		for _, m := range d.Messages(nil, &cue.Snapshot{Channels: []cue.Channel{c.in}}) {
			if strings.HasPrefix(m.Address, "/x/") {
				got = m.String()
			}
		}
		if got != c.want {
			t.Errorf("[%s] %s\n%+v is sent as %q, want %q", c.param, c.keys, c.in, got, c.want)
		}
	}
}

func TestParamLimits(t *testing.T) {
	inf := math.Inf(1)
	const a = "address = \"/x/{channel}\"\n"
	for _, c := range []struct {
		param, keys string
		want        ParamLimits
	}{
		{"mute", a, ParamLimits{0, 1, 1}},
		{"level", a + "scale = \"amplitude\"", ParamLimits{-inf, inf, 0.01}},
		{"level", a + "scale = { table = [[-70, 0], [6, 1]] }", ParamLimits{-70, 6, 0.01}},
		{"level", a + "scale = { table = [[-70, 0], [6, 1]] }\nmin = -60\nmax = 0\nstep = 0.5", ParamLimits{-60, 0, 0.5}},
		{"pan", a, ParamLimits{-1, 1, 0.01}},
		{"pan", a + "scale = { from = [-0.5, 3], to = [0, 1] }\nstep = 0.05", ParamLimits{-0.5, 1, 0.05}},
		{"delay", a + "max = 500", ParamLimits{0, 500, 0.1}},
		{"delay", a + "unit = \"s\"\nmin = 0.25\nmax = 0.5\nstep = 0.125", ParamLimits{250, 500, 125}},
		{"delay", a + "unit = \"samples\"\nsample_rate = 96000\nmax = 48000", ParamLimits{0, 500, 1. / 96}},
		{"delay", a + "scale = { from = [0, 400], to = [0, 1] }", ParamLimits{0, 400, 0.1}},
	} {
		d := mustRead(t, mixerWith(c.param, c.keys))
		got := d.Limits(c.param)
		if got.Min != c.want.Min || got.Max != c.want.Max || math.Abs(got.Step-c.want.Step) > 1e-12 {
			t.Errorf("[%s] %s\nlimits %v, want %v", c.param, c.keys, got, c.want)
		}
	}
	d, _ := read("[mute]\naddress = \"/m/{channel}\"\n[level]\naddress = \"/l/{channel}\"\noff = -90\n")
	if got, want := d.Limits("pan"), (ParamLimits{-1, 1, 0.01}); got != want {
		t.Errorf("pan of a mixer without one: %v, want %v", got, want)
	}
	if got, want := d.Limits("delay"), (ParamLimits{0, inf, 0.1}); got != want {
		t.Errorf("delay of a mixer without one: %v, want %v", got, want)
	}
	if got, want := d.Limits("presence"), (ParamLimits{-inf, inf, 0}); got != want {
		t.Errorf("an unknown parameter: %v, want %v", got, want)
	}
}

// faults lists mixer files with marks around the text that the problem must point at, and the start of the problem's
// text.
var faults = []struct{ text, code, what string }{
	{"", "missing-key", `the key "mute" is missing`},
	{"mute = 5\n" + demoWithout("mute"), "wrong-type", "this must be a table"},
	{"to = «5»\n" + demoWithout("to"), "wrong-type", "this must be a string"},
	{demo + "[send]\naddress = \"«/in/{channel}/send»\"\noff = 0\n", "mixer-address",
		"this address is the same for every zone"},
	{demo + "[send]\naddress = \"/in/{zone}/{channel}\"\nscale = { table = [[-70, 0], [0, 1]] }\n[«sends»]\n",
		"unknown-key", `unknown key "sends"`},
	{"rate = «0»\n" + demo, "mixer-range", "rate = 0 is out of range (1 to 2147483647)"},
	{"channels = «10001»\n" + demo, "mixer-range", "channels = 10001 is out of range (1 to 10000)"},
	{"max_packet = «63»\n" + demo, "mixer-range", "max_packet = 63 is out of range (64 to 65507)"},
	{"«»[mute]\naddress = \"/m/{channel}\"\n[level]\naddress = \"/l/{channel}\"\noff = -90\n[delay]\n" +
		"address = \"/d/{channel}\"\nmax = 1\n", "mixer-no-pan", "mixer.toml has no [pan], so the mixer is sent no pan"},
	{"«»[mute]\naddress = \"/m/{channel}\"\n[level]\naddress = \"/l/{channel}\"\noff = -90\n[pan]\n" +
		"address = \"/p/{channel}\"\n", "mixer-no-delay", "mixer.toml has no [delay], so the mixer is sent no delay"},
	{"also = [\"10.0.0.7:9000\", «\"UDP://10.0.0.7:9000\"»]\n" + demoWithout("to"), "mixer-twice",
		"UDP://10.0.0.7:9000 is listed twice"},
	{"also = [«\"127.0.0.1:9000\"»]\n" + demoWithout("to"), "mixer-twice", "127.0.0.1:9000 is listed twice"},
	{"also = «\"127.0.0.1:9000\"»\n" + demoWithout("to"), "wrong-type", "this must be a list of names"},
	{"tick = «9»\n" + demo, "mixer-range", "tick = 9 is out of range (10 to 200)"},
	{"«tik» = 9\n" + demo, "unknown-key", `unknown key "tik"`},
	{demo + "[echo]\n«tolerence» = 0.1\n", "unknown-key", `unknown key "tolerence"`},
	{demo + "[echo]\ntolerance = «-0.1»\n", "mixer-range", "a tolerance of -0.1 is out of range (0 to 0.1)"},
	{demo + "[echo]\ntolerance = «0.2»\n", "mixer-range", "a tolerance of 0.2 is out of range (0 to 0.1)"},
	{mixerWith("mute", "address = \"/m/{channel}\"\nscale = { on = 100, off = 101 }") + "«[echo]»\ntolerance = 0.01\n",
		"mixer-echo", "with a tolerance of 0.01, muted and open count as the same"},

	{demo + "[query]\naddress = «\"/ask\"»\n", "mixer-query", "this query does not say which value it asks for"},
	{demo + "[query]\naddress = «\"/ask\"»\nargs = [1, \"x\"]\n", "mixer-query",
		"this query does not say which value it asks for"},
	{demo + "[query]\naddress = \"{address}\"\nargs = [\"?\", «1.5»]\n", "mixer-query",
		"this query would set the value instead of asking for it"},
	{demo + "[query]\naddress = \"/ask«/»{address}\"\n", "mixer-address", "a part of the address is empty"},
	{demo + "[query]\naddress = \"/ask/{«slot»}\"\n", "mixer-address", "unknown placeholder {slot}"},
	{demo + "[query]\naddress = \"/ask{address«:02»}\"\n", "mixer-address", "{address} has no width"},
	{demo + "[query]\naddress = \"«a»sk{address}\"\n", "mixer-address", "an OSC address starts with a slash"},
	{demo + "[query]\naddress = \"/ask\"\nargs = [«\"{adress}\"»]\n", "mixer-argument",
		"unknown placeholder {adress}"},
	{demo + "[query]\naddress = \"/ask\"\nargs = [«\"of {address}\"»]\n", "mixer-argument",
		"{address} must be a whole argument"},
	{demo + "[query]\naddress = \"/ask\"\nargs = [\"{address}\", «\"é\"»]\n", "mixer-argument",
		`"é" is not allowed in an OSC string`},
	{demo + "[query]\naddress = \"/ask\"\nargs = [\"{address}\", «[1]»]\n", "wrong-type",
		"an argument is a number, a string"},
	{demo + "[query]\naddress = «\"/in/1/pan\"»\nargs = [\"{address}\"]\n", "mixer-same-address",
		"/in/1/pan is also the address of [pan]"},
	{demo + "«[query]»\nargs = [\"{address}\"]\n", "missing-key", `the key "address" is missing`},

	{demo + "«[[keepalive]]»\naddress = \"/x\"\n", "missing-key", `the key "every" is missing`},
	{demo + "[[keepalive]]\naddress = \"/x\"\nevery = «0.05»\n", "out-of-range", "an interval of 0.05 s"},
	{demo + "[[keepalive]]\naddress = \"/x\"\nevery = «\"8 dB\"»\n", "bad-quantity", `"dB" is not a unit for a duration`},
	{demo + "[[keepalive]]\naddress = \"/x\"\nargs = [«3000000000»]\nevery = 20\n", "mixer-overflow",
		"type i cannot hold 3e+09"},
	{demo + "[[keepalive]]\naddress = \"/x\"\nargs = [«1e300»]\nevery = 20\n", "mixer-overflow",
		"type f cannot hold 1e+300"},
	{demo + "[[keepalive]]\naddress = \"/x/{«channel»}\"\nevery = 20\n", "mixer-address",
		"unknown placeholder {channel}"},
	{demo + "[[keepalive]]\naddress = «\"/in/64/level\"»\nevery = 20\n", "mixer-same-address",
		"/in/64/level is also the address of [level]"},
	{demo + "[[keepalive]]\naddress = \"/in/65/level\"\nevery = 20\n«»", "", ""}, // no channel of this mixer

	{demo + "[store]\naddress = «\"/keep\"»\nslots = 5\n", "mixer-scene", "this message does not say which slot"},
	{demo + "[store]\naddress = «\"/keep\"»\nargs = [\"{name}\"]\nslots = 5\n", "mixer-scene",
		"this message does not say which slot"},
	{demo + "[store]\naddress = \"/keep/{«name»}\"\nslots = 5\n", "mixer-address", "unknown placeholder {name}"},
	{demo + "«[store]»\naddress = \"/keep/{slot}\"\n", "missing-key", `the key "slots" is missing`},
	{demo + "[store]\naddress = \"/keep/{slot}\"\nslots = «0»\n", "mixer-range",
		"slots = 0 is out of range (1 to 10000)"},
	{demo + "[store]\naddress = \"/keep/{slot}\"\nslots = 5\nfirst = «-1»\n", "mixer-range",
		"first = -1 is out of range (0 to 100000)"},
	{demo + "[store]\naddress = \"/keep/{slot}\"\nslots = 5\nsettle = «\"2 min\"»\n", "out-of-range",
		"a time to settle of 2 min"},
	{demo + "[store]\naddress = «\"/in/{slot}/mute\"»\nslots = 5\nfirst = 60\n", "mixer-same-address",
		"/in/60/mute is also the address of [mute]"},
	{demo + "«[recall]»\naddress = \"/take/{slot}\"\n", "mixer-scene", "[recall] has no [store]"},
	{demo + "[store]\naddress = \"/keep/{slot}\"\nslots = 5\n[recall]\naddress = «\"/take\"»\n", "mixer-scene",
		"this message does not say which slot"},
	{demo + "[store]\naddress = \"/scene\"\nargs = [\"{slot}\"]\nslots = 5\n[recall]\naddress = «\"/scene\"»\n" +
		"args = [\"{slot}\"]\n", "mixer-same-address", "the same message stores and recalls a scene"},
	{demo + "[store]\naddress = \"/scene\"\nargs = [\"{slot}\", \"{name}\"]\nslots = 5\n[recall]\n" +
		"address = \"/scene\"\nargs = [\"{slot}\"]\n«»", "", ""},

	{demo + "[safety]\nrise = «0»\n", "out-of-range", "a rise of 0 dB"},
	{demo + "[safety]\nramp = «\"1 min\"»\n", "out-of-range", "a ramp of 1 min"},
	{demo + "[safety]\nceiling = «7»\n", "mixer-range", "a ceiling of 7 dB is outside the range of the level"},
	{demo + "[safety]\nceiling = «-70»\n", "mixer-range", "a ceiling of -70 dB is outside the range of the level"},
	{demo + "[safety]\nceiling = 0\n[[safety.channel]]\nchannel = 3\nceiling = «3»\n", "mixer-range",
		"a ceiling of 3 dB is outside the range of the level"},
	{demo + "[[safety.channel]]\nchannel = «65»\nceiling = 3\n", "mixer-range", "this mixer has no channel 65"},
	{demo + "[[safety.channel]]\nchannel = 5\nceiling = 3\n[[safety.channel]]\nchannel = «5»\nceiling = 2\n",
		"mixer-twice", "channel 5 already has a ceiling"},
	{demo + "«[[safety.channel]]»\nchannel = 5\n", "missing-key", `the key "ceiling" is missing`},

	{mixerWith("pan", "address = «\"/l/{channel}\"»"), "mixer-same-address", "/l/1 is also the address of [level]"},
	{mixerWith("pan", "address = «\"/l/{channel:01}\"»"), "mixer-same-address", "/l/1 is"},

	{mixerWith("mute", "address = \"«x»/{channel}\""), "mixer-address", "an OSC address starts with a slash"},
	{mixerWith("mute", "address = \"«»\""), "mixer-address", "an OSC address starts with a slash"},
	{mixerWith("mute", "address = \"«/x/y»\""), "mixer-address", "this address is the same for every channel"},
	{mixerWith("mute", "address = \"/x/{«chanel»}\""), "mixer-address", "unknown placeholder {chanel}"},
	{mixerWith("mute", "address = \"/x/{«zone»}\""), "mixer-address", "only a send has a zone"},
	{mixerWith("mute", "address = \"/x/{channel:«2»}\""), "mixer-address", `"2" is not a width`},
	{mixerWith("mute", "address = \"/x/{channel:«00»}\""), "mixer-address", `"00" is not a width`},
	{mixerWith("mute", "address = \"/x/«{»channel\""), "mixer-address", "this brace is never closed"},
	{mixerWith("mute", "address = \"/x/«{»{channel}\""), "mixer-address", "this brace is never closed"},
	{mixerWith("mute", "address = \"/x/{channel}«}»\""), "mixer-address", "this brace closes nothing"},
	{mixerWith("mute", "address = \"/x«/»/{channel}\""), "mixer-address", "a part of the address is empty"},
	{mixerWith("mute", "address = \"/x/{channel}«/»\""), "mixer-address", "a part of the address is empty"},
	{mixerWith("mute", "address = \"/x«*»/{channel}\""), "mixer-address", `"*" is not allowed in an OSC address`},
	{mixerWith("mute", "address = \"/x« »/{channel}\""), "mixer-address", `" " is not allowed in an OSC address`},
	{mixerWith("mute", "address = \"/x«é»/{channel}\""), "mixer-address", `"é" is not allowed in an OSC address`},
	{mixerWith("mute", "address = «\"/\\u0078*/{channel}\"»"), "mixer-address", `"*" is not allowed in an OSC address`},
	{mixerWith("mute", "address = '''/x«»/{channel}'''"), "", ""},

	{mixerWith("mute", "address = \"/m/{channel}\"\ntype = «\"q\"»"), "mixer-type", `unknown OSC type "q"`},
	{mixerWith("mute", "address = \"/m/{channel}\"\ntype = «\"s\"»"), "mixer-type",
		"type s does not fit: on and off are numbers (1 and 0 unless `scale` says otherwise)"},
	{mixerWith("mute", "address = \"/m/{channel}\"\ntype = «\"i\"»\nscale = { on = true, off = false }"), "mixer-type",
		"type i does not fit: on and off are true and false"},
	{mixerWith("mute", "address = \"/m/{channel}\"\ntype = «\"T\"»\nscale = { on = 1, off = 0 }"), "mixer-type",
		"type T does not fit: on and off are numbers (1 and 0 unless `scale` says otherwise)"},
	{mixerWith("pan", "address = \"/p/{channel}\"\ntype = «\"s\"»\nscale = { from = [-1, 1], to = [0, 1] }"),
		"mixer-type", "type s does not fit: a pan is a number"},
	{mixerWith("pan", "address = \"/p/{channel}\"\ntype = «\"T\"»"), "mixer-type",
		"type T does not fit: a pan is a number"},
	{mixerWith("mute", "address = \"/m/{channel}\"\nscale = «{ table = [[0, 0], [1, 1]] }»"), "mixer-scale",
		"a mute is a switch"},
	{mixerWith("mute", "address = \"/m/{channel}\"\nscale = { on = 1, off = «\"x\"» }"), "mixer-switch",
		"on is a number and off is a string"},
	{mixerWith("mute", "address = \"/m/{channel}\"\nscale = «{ on = 1, off = 1 }»"), "mixer-switch",
		"on and off are sent as the same"},
	{mixerWith("mute", "address = \"/m/{channel}\"\nscale = { on = «\"é\"», off = \"x\" }"), "mixer-switch",
		"'é' is not allowed in an OSC string"},
	{mixerWith("mute", "address = \"/m/{channel}\"\nscale = { on = «[1]», off = \"x\" }"), "wrong-type",
		"this must be a number, a string"},
	{mixerWith("mute", "address = \"/m/{channel}\"\nscale = «{ on = 1 }»"), "mixer-scale", `this scale has no "off"`},
	{mixerWith("mute", "address = \"/m/{channel}\"\ntype = \"i\"\nscale = { on = «0.5», off = 0 }"), "mixer-overflow",
		"type i cannot hold 0.5"},
	{mixerWith("mute", "address = \"/m/{channel}\"\nscale = { on = «3000000000», off = 0 }"), "mixer-overflow",
		"type i cannot hold 3e+09"},

	{mixerWith("pan", "address = \"/p/{channel}\"\nscale = «{ on = 1, off = 0 }»"), "mixer-scale",
		"a pan is not a switch"},
	{mixerWith("pan", "address = \"/p/{channel}\"\nscale = «\"amplitude\"»"), "mixer-scale", "a pan is not in dB"},
	{mixerWith("level", "address = \"/l/{channel}\"\nscale = «\"amplitud\"»"), "mixer-scale",
		`unknown scale "amplitud"`},
	{mixerWith("level", "address = \"/l/{channel}\"\nscale = «3»"), "wrong-type", "a scale is a table or a word"},
	{mixerWith("level", "address = \"/l/{channel}\"\nscale = «{}»"), "mixer-scale", "this scale is empty"},
	{mixerWith("level", "address = \"/l/{channel}\"\nscale = { «frm» = [0, 1], to = [0, 1] }"), "unknown-key",
		`unknown key "frm"`},
	{mixerWith("level", "address = \"/l/{channel}\"\nscale = «{ from = [0, 1] }»"), "mixer-scale",
		`this scale has no "to"`},
	{mixerWith("level", "address = \"/l/{channel}\"\nscale = «{ from = [-9, 1], to = [0, 1], amplitude = 1 }»"),
		"mixer-scale", "this scale mixes from and to, and amplitude"},
	{mixerWith("level", "address = \"/l/{channel}\"\nscale = { amplitude = «0» }"), "mixer-scale",
		"the amplitude at 0 dB cannot be 0"},
	{mixerWith("level", "address = \"/l/{channel}\"\nscale = { from = «[1, 0]», to = [0, 1] }"), "mixer-scale",
		"the numbers of `from` must go up"},
	{mixerWith("level", "address = \"/l/{channel}\"\nscale = { from = [0, 1], to = «[1, 1]» }"), "mixer-scale",
		"`to` sends the same"},
	{mixerWith("level", "address = \"/l/{channel}\"\nscale = { from = [0, 1], to = «[1, 2, 3]» }"), "wrong-type",
		"this must be two numbers"},
	{mixerWith("level", "address = \"/l/{channel}\"\nscale = «{ table = [[0, 1]] }»"), "mixer-scale",
		"a table needs at least two points"},
	{mixerWith("level", "address = \"/l/{channel}\"\nscale = { table = [[0, 1], «[0, 2]»] }"), "mixer-scale",
		"the first numbers of the table must go up, and 0 comes after 0"},
	{mixerWith("level", "address = \"/l/{channel}\"\nscale = { table = [[0, 1], [1, 2], «[2, 1]»] }"), "mixer-scale",
		"the second numbers of the table turn back at 1"},
	{mixerWith("level", "address = \"/l/{channel}\"\nscale = «{ table = [[0, 1], [1, 1]] }»"), "mixer-scale",
		"this table sends the same"},
	{mixerWith("level", "address = \"/l/{channel}\"\nscale = { table = [[0, 1], «[1, \"x\"]»] }"), "wrong-type",
		"this must be two numbers"},
	{mixerWith("level", "address = \"/l/{channel}\"\nscale = { table = [[0, 1], «[1, 1e16]»] }"), "mixer-range",
		"this number in the scale is too big (at most 1e+15)"},
	{mixerWith("level", "address = \"/l/{channel}\"\nscale = { table = [[0, 1], [1, «inf»]] }"), "not-finite",
		"this number must be finite"},
	{mixerWith("level", "address = \"/l/{channel}\"\ntype = «\"i\"»\nscale = { from = [-60, 0], to = [0, 3e9] }"),
		"mixer-overflow", "type i cannot hold 3e+09"},
	{mixerWith("level", "address = \"/l/{channel}\"\ntype = «\"i\"»\nscale = { from = [-60, 0], to = [0, 1] }"),
		"mixer-coarse", "sent as a whole number, this level has only 2 values"},
	{mixerWith("level", "address = \"/l/{channel}\"\ntype = «\"i\"»\nscale = \"amplitude\""), "mixer-coarse",
		"sent as a whole number, this level has only 4 values"},
	{mixerWith("pan", "address = \"/p/{channel}\"\ntype = «\"h\"»"), "mixer-coarse",
		"sent as a whole number, this pan has only 3 values"},

	{mixerWith("level", "address = \"/l/{channel}\"\nscale = { from = [-60, 0], to = [0, 1] }\nmax = «1»"),
		"mixer-range", "max = 1 is outside the range of this level and its scale"},
	{mixerWith("level", "address = \"/l/{channel}\"\nscale = { from = [-60, 0], to = [0, 1] }\nmin = «-61»"),
		"mixer-range", "min = -61 is outside the range of this level and its scale"},
	{mixerWith("level", "address = \"/l/{channel}\"\nmin = 0\nmax = «\"-3 dB\"»"), "mixer-range",
		"min 0 is not below max -3"},
	{mixerWith("level", "address = \"/l/{channel}\"\nscale = { from = [-60, 0], to = [0, 1] }\nmin = «0»"),
		"mixer-range", "min 0 is not below max 0"},
	{mixerWith("level", "address = \"/l/{channel}\"\nmin = -90\nmax = «\"3 ms\"»"), "bad-quantity",
		`"ms" is not a unit for a level`},
	{"[mute\n", "toml-syntax", ""},
	{mixerWith("mute", "address = «'''/x*/{channel}'''»"), "mixer-address", `"*" is not allowed in an OSC address`},
	{strings.Replace(mixerWith("level", "address = \"/l/{channel}\""), "[level]", "«[level]»", 1), "mixer-off",
		"nothing says what is sent for the level of a closed channel"},
	{mixerWith("level", "address = \"/l/{channel}\"\nmin = -80\noff = «-3»"), "mixer-loud-off", "off = -3 is louder"},
	{mixerWith("level", "address = \"/l/{channel}\"\nscale = { from = [-60, 0], to = [0, -90] }\noff = «-3»"),
		"mixer-loud-off", "off = -3 is louder"},
	{mixerWith("level", "address = \"/l/{channel}\"\ntype = \"i\"\noff = «-3.5»"), "mixer-overflow",
		"type i cannot hold -3.5"},
	{mixerWith("level", "address = \"/l/{channel}\"\ntype = \"i\"\noff = «-3e9»"), "mixer-overflow",
		"type i cannot hold -3e+09"},
	{mixerWith("level", "address = \"/l/{channel}\"\noff = «-1e16»"), "mixer-range",
		"off is out of range (1e+15 at most)"},
	{mixerWith("level", "address = \"/l/{channel}\"\noff = -90\nstep = «0»"), "mixer-range",
		"a step of 0 is out of range"},
	{mixerWith("level", "address = \"/l/{channel}\"\nmin = -90\nmax = 0\nstep = «91»"), "mixer-range",
		"a step of 91 is out of range"},
	{mixerWith("level", "address = \"/l/{channel}\"\noff = -90\n«unit» = \"ms\""), "unknown-key", `unknown key "unit"`},
	{mixerWith("pan", "address = \"/p/{channel}\"\nstep = «0.03»"), "mixer-step", "a pan step of 0.03"},
	{mixerWith("pan", "address = \"/p/{channel}\"\nmax = «\"3 ms\"»"), "bad-quantity", "a pan has no unit"},
	{mixerWith("pan", "address = \"/p/{channel}\"\nmax = «1.5»"), "mixer-range",
		"max = 1.5 is outside the range of this pan and its scale"},
	{mixerWith("pan", "address = \"/p/{channel}\"\nscale = «{ from = [1, 2], to = [0, 1] }»"), "mixer-range",
		"this scale covers 1 to 2, outside the range of a pan"},
	{strings.Replace(mixerWith("delay", "address = \"/d/{channel}\""), "[delay]", "«[delay]»", 1), "missing-key",
		`the key "max" is missing`},
	{mixerWith("delay", "address = \"/d/{channel}\"\nmax = «-1»"), "mixer-range",
		"max = -1 is outside the range of this delay and its scale"},
	{mixerWith("delay", "address = \"/d/{channel}\"\nmax = 1\nunit = «\"sec\"»"), "mixer-unit",
		`unknown unit of delay "sec"`},
	{mixerWith("delay", "address = \"/d/{channel}\"\nmax = 1\nsample_rate = «48000»"), "mixer-unit",
		"a delay in ms has no use for a sample rate"},
	{mixerWith("delay", "address = \"/d/{channel}\"\nmax = 1000\nunit = «\"samples\"»"), "missing-key",
		"a delay in samples needs"},
	{mixerWith("delay", "address = \"/d/{channel}\"\nmax = 1000\nunit = \"samples\"\nsample_rate = «48»"), "mixer-range",
		"a sample rate of 48 Hz is out of range (1000 to 1000000 Hz)"},

	{demo + "[param.presence]\naddress = \"/in/{channel}/eq\"\nscale = { from = [-12, 12], to = [0, 1] }\n" +
		"unit = \"dB\"\ndefault = 0\nfade = true\n", "", ""},
	{demo + "[param.program]\naddress = \"/in/{channel}/program\"\ntype = \"i\"\nmin = 1\nmax = 4\ndefault = 1\n", "",
		""}, // four values are not too coarse for a choice
	{demo + "[param.cut]\naddress = \"/in/{channel}/cut\"\nscale = { on = \"IN\", off = \"OUT\" }\ndefault = true\n",
		"", ""},
	{demo + "[param.echo]\naddress = \"/in/{channel}/echo\"\nscale = \"amplitude\"\nmin = -60\nmax = 0\n" +
		"default = -60\n", "", ""},
	{demo + "[param.«pan»]\naddress = \"/in/{channel}/p2\"\ndefault = 0\n", "mixer-param-name",
		`"pan" already means something else`},
	{demo + "[param.«zone_2»]\naddress = \"/in/{channel}/p2\"\ndefault = 0\n", "mixer-param-name",
		`"zone_2" already means something else`},
	{demo + "[param.«Air»]\naddress = \"/in/{channel}/air\"\ndefault = 0\n", "mixer-param-name",
		`"Air" cannot be the name of a parameter`},
	{demo + "«[param.air]»\naddress = \"/in/{channel}/air\"\n", "missing-key", `the key "default" is missing`},
	{demo + "[param.air]\naddress = \"«/in/air»\"\ndefault = 0\n", "mixer-address",
		"this address is the same for every channel"},
	{demo + "[param.air]\naddress = «\"/in/{channel}/mute\"»\ndefault = 0\n", "mixer-same-address",
		"/in/1/mute is also the address of [mute]"},
	{demo + "[param.air]\naddress = \"/in/{channel}/air\"\ndefault = «true»\n", "mixer-default",
		"the default of air is not a number"},
	{demo + "[param.air]\naddress = \"/in/{channel}/air\"\nscale = { on = 1, off = 0 }\ndefault = «1»\n",
		"mixer-default", "this parameter is a switch, and its default is 1"},
	{demo + "[param.air]\naddress = \"/in/{channel}/air\"\nscale = { on = 1, off = 0 }\ndefault = true\n" +
		"fade = «true»\n", "mixer-scale", "a switch has no fade"},
	{demo + "[param.air]\naddress = \"/in/{channel}/air\"\nmax = 6\ndefault = «7»\n", "mixer-range",
		"a default of 7 is out of range for air (-1e+06 to 6)"},
	{demo + "[param.air]\naddress = \"/in/{channel}/air\"\nmax = «\"6 dB\"»\ndefault = 0\n", "bad-quantity",
		"the numbers of this parameter are written without a unit"},
	{strings.Replace(demo, "max = 500", "max = 500\nmoves = «\"glides\"»", 1), "mixer-moves", "unknown way for a delay to move \"glides\""},
	{strings.Replace(demo, "max = 500", "max = 500\nstep = «0.25»\nmoves = \"glide\"", 1), "glide-coarse", "a delay that moves in steps of 0.25 ms clicks"},
	{"manual = «\"until relase\"»\n" + demo, "mixer-manual",
		`unknown end of manual "until relase"`},
	{demo + "[param.air]\naddress = \"/in/{channel}/air\"\nunit = «\"d B\"»\ndefault = 0\n", "mixer-unit",
		`"d B" cannot be a unit`},
	{demo + "[param.air]\naddress = \"/in/{channel}/air\"\ndefault = «\"high\"»\n", "wrong-type",
		"this must be a number, or true or false"},

	{demo + "[param.air]\naddress = \"/in/{channel}/air\"\nscale = { on = 0.001, off = 0.0 }\ndefault = true\n" +
		"«[echo]»\n", "mixer-echo", "with a tolerance of 0.002, on and off of air count as the same"},
	{"max_packet = 64\n" + strings.Replace(demo, "address = \"/in/{channel}/mute\"",
		"address = «\"/a/very/long/address/for/a/very/short/packet/of/channel/{channel}\"»", 1), "mixer-too-long",
		"the message to /a/very"},
	{"max_packet = 64\nbundle = true\n" + demo +
		"[[keepalive]]\nevery = 1\naddress = «\"/a/message/that/leaves/no/room/for/a/bundle\"»\n", "mixer-too-long",
		"the message to /a/message"},
	{"max_packet = 64\n" + demo +
		"[query]\naddress = «\"/a/question/that/leaves/no/room/for/an/address\"»\nargs = [\"{address}\"]\n",
		"mixer-too-long", "the query for /in/64/level takes 68 bytes, and a packet holds 64"},
}

// rawFaults are extra messages that this mixer must not be sent.
var extraFaults = []struct {
	address, types string
	args           []any
	code, what     string
}{
	{"/room/b/quiet", "i", []any{1.0}, "", ""},
	{"fx", "", nil, "raw-address", "an OSC address starts with a slash"},
	{"/room/*", "", nil, "raw-address", `"*" is not allowed in an OSC address`},
	{"/in/3/mute", "i", []any{1.0}, "raw-parameter", "/in/3/mute is the mute of channel 3"},
	{"/fx", "s", []any{strings.Repeat("x", 1500)}, "mixer-too-long", "the message to /fx takes 1512 bytes"},
	{"/scene/3/store", "s", []any{"x"}, "raw-scene", `/scene/3/store s "x" makes the mixer store`},
	{"/scene/3/recall", "", nil, "raw-scene", "/scene/3/recall makes the mixer recall"},
}

func TestCheckExtra(t *testing.T) {
	d := mustRead(t, demo+"[store]\naddress = \"/scene/{slot}/store\"\nargs = [\"{name}\"]\nslots = 9\n[recall]\n"+
		"address = \"/scene/{slot}/recall\"\n")
	for _, c := range extraFaults {
		var p source.Problems
		d.CheckExtra(cue.Extra{Address: c.address, Types: c.types, Args: c.args}, table.Text{V: c.address, Set: true}, &p,
			func(at source.Span, what, do string) {
				p.Warn("raw-scene", at, what, do)
			})
		all := p.All()
		if c.code == "" && len(all) == 0 {
			continue
		}
		if len(all) != 1 || all[0].Code != c.code || !strings.HasPrefix(all[0].What, c.what) {
			t.Errorf("%s: %v, want one %s that begins %q", c.address, all, c.code, c.what)
		}
	}
}

// A scene's message has the cue's name, and must fit into a packet.
func TestCheckSceneSize(t *testing.T) {
	d := mustRead(t, "max_packet = 64\n"+demo+"[store]\naddress = \"/scene/{slot}/store\"\nargs = [\"{name}\"]\n"+
		"slots = 9\n")
	for name, want := range map[string]int{"": 0, "the arc opens": 0, strings.Repeat("x", 64): 1} {
		var p source.Problems
		d.CheckSceneSize(name, source.Span{}, &p)
		if all := p.All(); len(all) != want || want > 0 && all[0].Code != "mixer-too-long" {
			t.Errorf("%q: %v", name, all)
		}
	}
}

// Extra messages go after everything that closes and before anything that moves or opens, and are not part of the
// state.
func TestGo(t *testing.T) {
	d := mustRead(t, demo+"[param.air]\naddress = \"/in/{channel}/air\"\ndefault = 3\n")
	s := &cue.Snapshot{
		Channels: []cue.Channel{{Channel: 1, Open: true, Params: []cue.ParamValue{{Name: "air", Value: 1.5}}},
			{Channel: 2, LevelDB: cue.Silent}},
		Also: []cue.Extra{{Address: "/b", Types: "fT", Args: []any{1.0, true}},
			{Address: "/a", Types: "h", Args: []any{7.0}}},
	}
	text := func(ms []osc.Message) string {
		var list []string
		for _, m := range ms {
			list = append(list, m.String())
		}
		return strings.Join(list, ", ")
	}
	rest := "/in/1/delay f 0, /in/2/delay f 0, /in/1/pan f 0.5, /in/2/pan f 0.5, /in/1/air f 1.5, /in/2/air f 3, " +
		"/in/1/level f 0.8, /in/1/mute i 0"
	closes := "/in/2/mute i 1, /in/2/level f 0, "
	if got := text(d.Go(nil, s)); got != closes+"/b fT 1, /a h 7, "+rest {
		t.Errorf("a go sends %s", got)
	}
	if got := text(d.Messages(nil, s)); got != closes+rest {
		t.Errorf("the state is %s", got)
	}
	if got := text(d.Go(s, s)); got != "/b fT 1, /a h 7" {
		t.Errorf("a go to the same state sends %s", got)
	}
}

// A parameter of the mixer's own can be read back, is found by its address, and has a different value.
func TestOwn(t *testing.T) {
	d := mustRead(t, demo+`
[param.presence]
address = "/in/{channel}/eq"
scale = { from = [-12, 12], to = [0, 1] }
step = 0.5
unit = "dB"
default = 1
fade = true
[param.cut]
address = "/in/{channel}/cut"
scale = { on = "IN", off = "OUT" }
default = true
[param.program]
address = "/in/{channel}/program"
type = "i"
default = 2
`)
	own := d.Own()
	if len(own) != 3 || own[0].Name != "presence" || own[0].Unit != "dB" || !own[0].Fade || own[0].Default != 1 ||
		!own[1].Switch || own[1].Default != 1 || own[2].Default != 2 {
		t.Fatalf("%+v", own)
	}
	if l := d.Limits("presence"); l != (ParamLimits{-12, 12, 0.5}) {
		t.Errorf("the limits of presence are %+v", l)
	}
	if l := d.Limits("program"); l != (ParamLimits{-1e6, 1e6, 1}) {
		t.Errorf("the limits of program are %+v", l)
	}
	for _, c := range []struct {
		param string
		v     float64
		want  string
		back  float64
	}{
		{"presence", 2.2, "/in/7/eq f 0.5833333", 2}, {"presence", -40, "/in/7/eq f 0", -12},
		{"cut", 1, `/in/7/cut s "IN"`, 1}, {"cut", 0, `/in/7/cut s "OUT"`, 0},
		{"program", 3, "/in/7/program i 3", 3},
	} {
		arg, _ := d.Arg(Control{7, c.param, 0}, c.v)
		m := osc.Message{Address: d.Address(Control{7, c.param, 0}), Args: []osc.Arg{arg}}
		if m.String() != c.want {
			t.Errorf("%s %v is sent as %s, want %s", c.param, c.v, m, c.want)
		}
		if place, ok := d.Find(m.Address); !ok || place != (Control{7, c.param, 0}) {
			t.Errorf("%s is %+v", m.Address, place)
		}
		if v, ok := d.Value(c.param, m.Args[0]); !ok || math.Abs(v-c.back) > 1e-9 {
			t.Errorf("%s means %v, want %v", m, v, c.back)
		}
		if other, _ := d.Arg(Control{7, c.param, 0}, d.DifferentValue(c.param, c.v)); other == arg {
			t.Errorf("%s has no value that differs from %v", c.param, c.v)
		}
	}
}

// demoWithout is the demo without the named key or table.
func demoWithout(name string) string {
	if name == "to" {
		return strings.Replace(demo, "to = \"udp://127.0.0.1:9000\"\n", "", 1)
	}
	return strings.Replace(demo, "["+name+"]\naddress = \"/in/{channel}/"+name+"\"\n", "", 1)
}

func TestFaults(t *testing.T) {
	for _, c := range faults {
		lo := strings.Index(c.text, "«")
		text := strings.Replace(c.text, "«", "", 1)
		hi := strings.Index(text, "»")
		text = strings.Replace(text, "»", "", 1)
		_, problems := read(text)
		if c.code == "" {
			if len(problems) > 0 {
				t.Errorf("%s\nis refused: %v", text, problems[0].What)
			}
			continue
		}
		found := false
		for _, x := range problems {
			if x.Code != c.code || !strings.HasPrefix(x.What, c.what) {
				continue
			}
			found = true
			if lo >= 0 && c.code != "toml-syntax" && (x.Span.Start != lo || x.Span.End != hi) {
				t.Errorf("%s\n%s points at %d-%d %q, want %d-%d", text, c.code, x.Span.Start, x.Span.End,
					text[x.Span.Start:x.Span.End], lo, hi)
			}
			if x.Do == "" {
				t.Errorf("%s: %s: it does not say what to do", c.code, x.What)
			}
		}
		if !found || lo >= 0 && len(problems) != 1 {
			t.Errorf("%s\ngives %d problems, want one %s that begins %q:", text, len(problems), c.code, c.what)
			for _, x := range problems {
				t.Logf("  %s %s", x.Code, x.What)
			}
		}
	}
}

func TestFaultsAreAllReported(t *testing.T) {
	_, problems := read("rate = 0\n[mute]\naddress = \"m\"\n[level]\naddress = \"/{chan}\"\n" +
		"scale = { table = [[0, 1], [0, 2]] }\n[pan]\nstep = 0.3\n")
	var got []string
	for _, x := range problems {
		got = append(got, fmt.Sprintf("%s %s", x.Span.Where(), x.Code))
	}
	want := []string{
		"mixer.toml:1:1 mixer-no-delay", "mixer.toml:1:8 mixer-range", "mixer.toml:3:12 mixer-address",
		"mixer.toml:5:14 mixer-address",
		"mixer.toml:6:28 mixer-scale", "mixer.toml:7:1 missing-key", "mixer.toml:8:8 mixer-step",
	}
	if !slices.Equal(got, want) {
		t.Errorf("got\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
}

// TestEveryCodeHasACase finds the problem codes in the sources of this package and of those that read forms and scales
// for it.
func TestEveryCodeHasACase(t *testing.T) {
	tested := map[string]bool{}
	for _, c := range faults {
		tested[c.code] = true
	}
	for _, c := range extraFaults {
		tested[c.code] = true
	}
	files, err := filepath.Glob("../*/problems.go")
	if err != nil || len(files) < 3 {
		t.Fatal(files, err)
	}
	code := regexp.MustCompile(`(?:Error|Warning)At\("([a-z-]+)"(\+name)?`)
	seen := 0
	for _, name := range files {
		text, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range code.FindAllStringSubmatch(string(text), -1) {
			codes := []string{m[1]}
			if m[2] != "" {
				codes = []string{m[1] + "pan", m[1] + "delay"}
			}
			for _, c := range codes {
				seen++
				if !tested[c] {
					t.Errorf("%s uses %q, which no case of TestFaults has", name, c)
				}
			}
		}
	}
	if seen < 30 {
		t.Errorf("found only %d codes in the sources", seen)
	}
}

// randomSnapshot makes a snapshot of n channels. It has few levels, so that some stay the same.
func randomSnapshot(r *rand.Rand, n int) *cue.Snapshot {
	s := &cue.Snapshot{}
	for i := range n {
		c := cue.Channel{Channel: i + 1, Open: r.IntN(2) == 0, LevelDB: cue.Silent,
			Pan: float64(r.IntN(5)-2) / 2, DelayMS: float64(r.IntN(8)) * 12.35}
		if c.Open {
			c.LevelDB = cue.Level(r.IntN(4) * -6)
		}
		for z := 1; z <= 4; z++ {
			c.Sends = append(c.Sends, cue.Send{Zone: z, LevelDB: []cue.Level{cue.Silent, -6, 0}[r.IntN(3)]})
		}
		s.Channels = append(s.Channels, c)
	}
	return s
}

// TestChangesLeadToTheFullState: the changes, applied to what the mixer held before, give the full state, and each of
// them changes something.
func TestChangesLeadToTheFullState(t *testing.T) {
	d := mustRead(t, demo+zones)
	r := rand.New(rand.NewPCG(1, 2))
	state := func(ms []osc.Message) map[string]any {
		m := map[string]any{}
		for _, x := range ms {
			m[x.Address] = x.Args[0]
		}
		return m
	}
	changed := 0
	for range 500 {
		n := r.IntN(12)
		prev, next := randomSnapshot(r, n), randomSnapshot(r, n)
		got, want := state(d.Messages(nil, prev)), state(d.Messages(nil, next))
		if len(want) != (4+4)*n { // mute, level, delay, pan, and four sends
			t.Fatalf("the full state of %d channels has %d addresses", n, len(want))
		}
		for _, m := range d.Messages(prev, next) {
			changed++
			if got[m.Address] == m.Args[0] {
				t.Fatalf("%v is sent although the mixer already holds it", m)
			}
			got[m.Address] = m.Args[0]
		}
		for address, v := range want {
			if got[address] != v {
				t.Fatalf("%s ends as %v, want %v", address, got[address], v)
			}
		}
	}
	if changed == 0 {
		t.Fatal("nothing ever changed")
	}
}

func TestOrder(t *testing.T) {
	d := mustRead(t, demo)
	r := rand.New(rand.NewPCG(3, 4))
	address := regexp.MustCompile(`^/in/(\d+)/(\w+)$`)
	for range 500 {
		n := 1 + r.IntN(12)
		prev, next := randomSnapshot(r, n), randomSnapshot(r, n)
		if r.IntN(4) == 0 {
			prev = nil
		}
		open := func(c int) bool { return next.Channels[c-1].Open }
		lastPhase, lastChannel := 0, 0
		for _, m := range d.Messages(prev, next) {
			parts := address.FindStringSubmatch(m.Address)
			var c int
			fmt.Sscan(parts[1], &c)
			// close: mute, level; move: delay, pan; open: mute, level, the other way round from nothing
			phase := map[string]int{"mute": 1, "level": 2, "delay": 3, "pan": 4}[parts[2]]
			if open(c) && parts[2] == "mute" {
				phase = 6
			}
			if open(c) && parts[2] == "level" {
				phase = 7
				if prev == nil {
					phase = 5
				}
			}
			if phase < lastPhase || phase == lastPhase && c <= lastChannel {
				t.Fatalf("%v comes too late: phase %d channel %d after phase %d channel %d", m, phase, c, lastPhase,
					lastChannel)
			}
			lastPhase, lastChannel = phase, c
		}
	}
}

func TestMessages(t *testing.T) {
	d := mustRead(t, demo+zones)
	sends := func(c cue.Channel, first, second cue.Level) cue.Channel {
		c.Sends = []cue.Send{{Zone: 1, LevelDB: first}, {Zone: 2, LevelDB: second}}
		return c
	}
	snap := func(cs ...cue.Channel) *cue.Snapshot { return &cue.Snapshot{Channels: cs} }
	closed := func(n int, pan, delay float64) cue.Channel {
		return cue.Channel{Channel: n, LevelDB: cue.Silent, Pan: pan, DelayMS: delay}
	}
	open := func(n int, level, pan, delay float64) cue.Channel {
		return cue.Channel{Channel: n, Open: true, LevelDB: cue.Level(level), Pan: pan, DelayMS: delay}
	}
	for _, c := range []struct {
		name       string
		prev, next *cue.Snapshot
		want       string
	}{
		{"full state", nil, snap(open(1, 0, 0, 10), closed(2, -1, 20)),
			"/in/2/mute i 1, /in/2/level f 0, /in/1/delay f 10, /in/2/delay f 20, /in/1/pan f 0.5, /in/2/pan f 0, " +
				"/in/1/level f 0.8, /in/1/mute i 0"},
		{"nothing changes", snap(open(1, 0, 0, 10), closed(2, -1, 20)), snap(open(1, 0, 0, 10), closed(2, -1, 20)), ""},
		{"less than a step changes", snap(open(1, 0, 0, 10)), snap(open(1, 0.004, 0.004, 10.04)), ""},
		{"beyond the scale nothing changes", snap(open(1, 7, 0, 600)), snap(open(1, 8, 0, 700)), ""},
		{"one closes, one moves, one opens", snap(open(1, 0, 0, 10), open(2, 0, 0, 10), closed(3, 0, 10)),
			snap(closed(1, 0, 10), open(2, 6, 1, 20), open(3, 6, -1, 30)),
			"/in/1/mute i 1, /in/1/level f 0, /in/2/delay f 20, /in/3/delay f 30, /in/2/pan f 1, /in/3/pan f 0, " +
				"/in/3/mute i 0, /in/2/level f 1, /in/3/level f 1"},
		{"a channel that is new", snap(open(1, 0, 0, 10)), snap(open(1, 0, 0, 10), open(4, 6, 0, 10)),
			"/in/4/delay f 10, /in/4/pan f 0.5, /in/4/level f 1, /in/4/mute i 0"},
		{"an open channel that is gone", snap(open(1, 0, 0, 10), open(2, 0, 0, 10), closed(3, 0, 0)),
			snap(open(1, 0, 0, 10)),
			"/in/2/mute i 1, /in/2/level f 0"},
		{"sends move before a channel opens, only those that change", snap(sends(closed(1, 0, 0), 0, cue.Silent)),
			snap(sends(open(1, 0, 0, 0), -7, cue.Silent)),
			"/in/1/zone/01 f 0.9, /in/1/mute i 0, /in/1/level f 0.8"},
		{"the full state has every send, off ones too", nil, snap(sends(closed(1, 0, 0), -7, cue.Silent)),
			"/in/1/mute i 1, /in/1/level f 0, /in/1/delay f 0, /in/1/pan f 0.5, /in/1/zone/01 f 0.9, /in/1/zone/02 f " +
				"0"},
	} {
		var got []string
		for _, m := range d.Messages(c.prev, c.next) {
			got = append(got, m.String())
		}
		if strings.Join(got, ", ") != c.want {
			t.Errorf("%s: %s\nwant %s", c.name, strings.Join(got, ", "), c.want)
		}
	}
}

// TestReferencePage checks that every key and every code of this package is on the help page.
func TestReferencePage(t *testing.T) {
	page, err := os.ReadFile("../../cmd/backfield/help/mixer.md")
	if err != nil {
		t.Fatal(err)
	}
	keys := Keys()
	if len(keys) < 30 {
		t.Fatalf("only %d keys: %v", len(keys), keys)
	}
	for _, key := range keys {
		name := key[strings.LastIndexByte(key, '.')+1:]
		if !regexp.MustCompile("`[^`]*\\b" + name + "\\b[^`]*`").Match(page) {
			t.Errorf("the page does not name %s", key)
		}
	}
	for _, c := range faults {
		if strings.HasPrefix(c.code, "mixer-") && !strings.Contains(string(page), "`"+c.code+"`") {
			t.Errorf("the page does not explain %s", c.code)
		}
	}
}

// TestExamplesOfTheReferencePage reads every TOML example on the help page: each is a whole mixer or one of its tables.
func TestExamplesOfTheReferencePage(t *testing.T) {
	page, err := os.ReadFile("../../cmd/backfield/help/mixer.md")
	if err != nil {
		t.Fatal(err)
	}
	whole := 0
	for _, m := range regexp.MustCompile("(?s)```toml\n(.*?)```").FindAllStringSubmatch(string(page), -1) {
		text := m[1]
		if !strings.Contains(text, "[mute]") || !strings.Contains(text, "[level]") {
			name := regexp.MustCompile(`(?m)^\[+([\w.]+)\]+\n`).FindStringSubmatch(text)
			if name == nil {
				t.Errorf("an example that names no table:\n%s", text)
				continue
			}
			if strings.Contains(mixerWith("", ""), name[0]) {
				text = mixerWith(name[1], strings.Replace(text, name[0], "", 1))
			} else {
				text = demo + text
			}
		}
		mustRead(t, text)
		whole++
	}
	if whole < 5 {
		t.Errorf("only %d examples", whole)
	}
}

func FuzzMixerFile(f *testing.F) {
	f.Add(demo)
	f.Add(talking)
	for _, c := range faults {
		f.Add(strings.NewReplacer("«", "", "»", "").Replace(c.text))
	}
	next := &cue.Snapshot{Channels: []cue.Channel{
		{Channel: 1, Open: true, LevelDB: -6.5, Pan: -0.3, DelayMS: 40.2},
		{Channel: 2, LevelDB: cue.Silent, Pan: 1, DelayMS: 0},
		{Channel: 3, Open: true, LevelDB: 1e6, Pan: math.NaN(), DelayMS: math.Inf(1)},
		{Channel: 10000, Open: true, LevelDB: cue.Level(math.NaN()), Pan: math.Inf(-1), DelayMS: -1e300},
	}}
	f.Fuzz(func(t *testing.T, text string) {
		file, err := source.Open("mixer.toml", []byte(text), 1<<16)
		if err != nil {
			return
		}
		var p source.Problems
		d := Read(file, &p)
		for _, x := range p.All() {
			if x.Span.File != file || x.Span.Start < 0 || x.Span.End < x.Span.Start || x.Span.End > len(file.Text) {
				t.Errorf("%s points at %d-%d of %d bytes", x.Code, x.Span.Start, x.Span.End, len(file.Text))
			}
			if x.Code == "" || x.What == "" || x.Do == "" {
				t.Errorf("half a problem: %+v", x)
			}
		}
		if d.Rate < 1 || d.Channels < 1 || d.Channels > 10000 || d.MaxPacket < 64 {
			t.Errorf("mixer %+v", d)
		}
		for _, name := range []string{cue.ParamMute, cue.ParamLevel, cue.ParamPan, cue.ParamDelay} {
			if l := d.Limits(name); !(l.Min < l.Max) || !(l.Step > 0) || math.IsInf(l.Step, 0) {
				t.Errorf("%s has the limits %v", name, l)
			}
		}
		for _, x := range d.Own() {
			if l := d.Limits(x.Name); !(l.Min < l.Max) || !(l.Step > 0) || !(x.Default >= l.Min && x.Default <= l.Max) {
				t.Errorf("%s has the limits %v, and is %v", x.Name, l, x.Default)
			}
		}
		if d.Tick < 10 || d.Tick > 200 || !(d.Safety.RiseDB > 0) || d.Safety.Ramp <= 0 ||
			d.CeilingDB(1) > d.Limits(cue.ParamLevel).Max {
			t.Errorf("mixer %+v", d)
		}
		for _, k := range d.Keepalives {
			if k.Every < 100*time.Millisecond || len(k.Message.Tags()) != len(k.Message.Args) {
				t.Errorf("keepalive %+v", k)
			}
		}
		if s := d.Store; s != nil {
			m := s.Message(s.First, "x")
			if slot, _, ok := s.Match(m); !ok || slot != s.First {
				t.Errorf("slot %d is stored by %v, which matches slot %d, %t", s.First, m, slot, ok)
			}
		}
		if d.Query != nil {
			if a, ok := d.Query.Match(d.Ask("/in/1/mute")); !ok || a != "/in/1/mute" {
				t.Errorf("%v matches a query for %q, %t", d.Ask("/in/1/mute"), a, ok)
			}
		}
		sent := d.Messages(nil, next)
		if set := d.Settings(next); len(set) != len(sent) {
			t.Errorf("%d settings, and %d messages", len(set), len(sent))
		}
		for _, m := range sent {
			if v, _ := m.Args[0].Number(); math.IsNaN(v) || math.IsInf(v, 0) {
				t.Errorf("%v", m)
			}
		}
		if again := d.Messages(next, next); len(again) > 0 {
			t.Errorf("nothing changed, but %v is sent", again)
		}
	})
}

func BenchmarkMessages(b *testing.B) {
	d := mustRead(b, demo)
	r := rand.New(rand.NewPCG(5, 6))
	prev, next := randomSnapshot(r, 64), randomSnapshot(r, 64)
	b.ReportAllocs()
	for b.Loop() {
		d.Messages(prev, next)
	}
}
