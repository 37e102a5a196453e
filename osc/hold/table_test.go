package hold

import (
	"os"
	"strings"
	"testing"
	"time"

	"backfield/cue"
	"backfield/layout/source"
	"backfield/osc"
	"backfield/osc/mixer"
)

const file = `to = "127.0.0.1:9000"
rate = 1000
channels = 8
pan_law = "linear"
[mute]
address = "/m/{channel}"
type = "i"
scale = { on = 1, off = 0 }
[level]
address = "/l/{channel}"
type = "f"
off = -120
[delay]
address = "/d/{channel}"
type = "f"
unit = "ms"
max = 100
[param.air]
address = "/a/{channel}"
default = 0
fade = true
`

func readMixer(t *testing.T) *mixer.Mixer {
	t.Helper()
	var p source.Problems
	d := mixer.Read(&source.File{Name: "mixer.toml", Text: file}, &p)
	if p.Errors() > 0 {
		source.Print(os.Stderr, p.All())
		t.Fatal("the mixer file has errors")
	}
	return d
}

// fill sets a table to a snapshot without fades, and returns it.
func fill(t *testing.T, channels ...cue.Channel) *TargetTable {
	t.Helper()
	d := readMixer(t)
	table, n := New(d), 0
	d.Each(&cue.Snapshot{Channels: channels}, func(place mixer.Control, arg osc.Arg) {
		table.Set(table.Row(place, n), arg, nil)
		n++
	})
	for _, c := range channels {
		table.SetOpen(c.Channel, c.Open)
	}
	return table
}

// Rows come channel by channel, as snapshots have them; the order is parameter by parameter, as messages are sent. A
// place that comes again has its row, wherever it is looked for; a spare's rows go behind the others of their
// parameter.
func TestRowsAndOrder(t *testing.T) {
	table := fill(t, cue.Channel{Channel: 1, Open: true}, cue.Channel{Channel: 2, LevelDB: cue.Silent})
	rows := table.Len()
	spare := table.Row(mixer.Control{Channel: 7, Param: cue.ParamDelay}, 0)
	if again := table.Row(mixer.Control{Channel: 7, Param: cue.ParamDelay}, 3); spare != rows || again != spare {
		t.Errorf("the spare's row is %d and then %d, after %d rows", spare, again, rows)
	}
	var got []string
	for _, i := range table.Order() {
		got = append(got, table.Address(i))
		if at, ok := table.Find(table.Address(i)); !ok || at != i {
			t.Errorf("%s is in row %d, and found in %d, %t", table.Address(i), i, at, ok)
		}
	}
	if want := "/m/1 /m/2 /l/1 /l/2 /d/1 /d/2 /d/7 /a/1 /a/2"; strings.Join(got, " ") != want {
		t.Errorf("the order is %v, want %s", got, want)
	}
	delay, _ := table.Find("/d/2")
	if level, ok := table.LevelRow(delay); !ok || table.Address(level) != "/l/2" {
		t.Errorf("the level of channel 2 is in row %d, %t", level, ok)
	}
	if _, ok := table.LevelRow(spare); ok {
		t.Error("a channel has a level of which only the delay is known")
	}
}

// Only mutes and levels close a channel.
func TestClosed(t *testing.T) {
	table := fill(t, cue.Channel{Channel: 1, Open: true, LevelDB: -3})
	for address, want := range map[string]osc.Arg{"/m/1": osc.Int32(1), "/l/1": osc.Float32(-120), "/d/1": {}, "/a/1": {}} {
		i, _ := table.Find(address)
		if got, ok := table.Closed(i); got != want || ok != (want != osc.Arg{}) {
			t.Errorf("%s closed is %v, %t, want %v", address, got, ok, want)
		}
	}
}

func TestUrgency(t *testing.T) {
	now := time.Unix(1_700_000_000, 0)
	open := cue.Channel{Channel: 1, Open: true, LevelDB: -3}
	shut := cue.Channel{Channel: 1, LevelDB: cue.Silent}
	for _, c := range []struct {
		name          string
		channel       cue.Channel
		opened, blind bool
		address       string
		fade          *Fade
		want          Urgency
	}{
		{"the mute of a closed channel", shut, true, false, "/m/1", nil, Closing},
		{"its level", shut, true, false, "/l/1", nil, Silencing},
		{"a mute while all is sent closed", open, false, false, "/m/1", nil, Closing},
		{"a delay", open, true, false, "/d/1", nil, Moving},
		{"a parameter at rest", open, true, false, "/a/1", &Fade{To: 3, Start: now}, Moving},
		{"a parameter on its way", open, true, false, "/a/1", &Fade{To: 3, Start: now, Length: 1}, Fading},
		{"one behind a closed mic", shut, true, false, "/a/1", &Fade{To: 3, Start: now, Length: 1}, Moving},
		{"the mute of an open channel", open, true, false, "/m/1", nil, Opening},
		{"its level, which the mixer had off", open, true, false, "/l/1", nil, Fading},
		{"a level where nobody knows the mixer's", open, true, true, "/l/1", nil, Opening},
		{"the mute there", open, true, true, "/m/1", nil, Fading},
	} {
		table := fill(t, c.channel)
		i, _ := table.Find(c.address)
		table.Set(i, table.Want(i), c.fade)
		if got := table.Urgency(i, c.opened, c.blind); got != c.want {
			t.Errorf("%s: %d, want %d", c.name, got, c.want)
		}
	}
}

// A row says what its fade does; a fade that has arrived moves nothing, but its row may hold any step of the way.
func TestFadingRows(t *testing.T) {
	now := time.Unix(1_700_000_000, 0)
	table := fill(t, cue.Channel{Channel: 1, Open: true})
	i, _ := table.Find("/a/1")
	if table.Fadable(i) || table.Fading(i, now) {
		t.Error("a row without a fade fades")
	}
	f := Fade{From: 0, To: 6, Start: now, Length: time.Second}
	table.Set(i, osc.Float32(0), &f)
	if !table.Fading(i, now.Add(time.Second/2)) || table.Fading(i, now.Add(time.Second)) || !table.Fadable(i) {
		t.Error("the row does not do what its fade does")
	}
	if table.Move(i, osc.Float32(0)) || !table.Move(i, osc.Float32(3)) || table.Want(i) != osc.Float32(3) {
		t.Errorf("moved to 3, it wants %v", table.Want(i))
	}
	if level, _ := table.Find("/l/1"); !table.Fadable(level) {
		t.Error("a level cannot fade")
	}
}
