package linechecking

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"backfield/cmd/backfield/show"
	"backfield/cue"
	"backfield/layout/source"
	"backfield/osc"
	"backfield/osc/linecheck"
	"backfield/osc/mixer"
	"backfield/osc/run"
	"backfield/osc/run/simulate"
	"backfield/osc/virtual"
	"backfield/osc/waiting"
)

func TestMain(m *testing.M) { os.Exit(waiting.Run(m)) }

// starter is the show of testdata/new, with some of its files changed.
type starter map[string]string

func (f starter) Read(path string) ([]byte, error) {
	if text, ok := f[filepath.Base(path)]; ok {
		return []byte(text), nil
	}
	return show.Disk{}.Read(filepath.Join("../../../testdata/new", filepath.Base(path)))
}

// with is the show with text added to its mixer file.
func (f starter) with(t *testing.T, more string) starter {
	t.Helper()
	raw, err := f.Read("mixer.toml")
	if err != nil {
		t.Fatal(err)
	}
	f["mixer.toml"] = string(raw) + more
	return f
}

const confirms = "\n[echo]\n\n[query]\naddress = \"{address}\"\n"

func load(t *testing.T, f starter) *show.Loaded {
	t.Helper()
	var p source.Problems
	s, err := show.Load(f, "show.toml", show.LoadOptions{}, &p)
	if err != nil || s.Result.Show == nil {
		t.Fatal(err, p.All())
	}
	return s
}

// worldDriver drives a check's engine in simulated time.
type worldDriver struct{ *simulate.World }

func (d worldDriver) Do(c run.Command) (string, error) { return d.Engine.Do(c, d.Now) }
func (d worldDriver) View() (run.View, bool)           { return d.Engine.View(d.Now), true }

func (d worldDriver) Close(most time.Duration) (open []run.MixerView) {
	d.Engine.Close(d.Now)
	d.Settle(most)
	return slices.DeleteFunc(d.Engine.View(d.Now).Mixers, run.MixerView.Done)
}

// field is a line check of the starter show in simulated time, with a mixer that knows who wears what.
type field struct {
	*Session
	t      *testing.T
	world  *simulate.World
	device *virtual.Device
	dir    string
	most   int // channels that were open at once
	opened []int
}

func newField(t *testing.T, s *show.Loaded, o SessionOptions, faults virtual.Faults, seed uint64) *field {
	t.Helper()
	f := &field{t: t, device: virtual.New(s.Mixer), dir: filepath.Dir(o.Score)}
	o.To = []string{"mixer"}
	now := time.Date(2026, 10, 3, 18, 0, 0, 0, time.UTC)
	f.device.Changed = func(osc.Message) {
		open := f.open()
		f.most = max(f.most, len(open))
		if len(open) == 1 && (f.opened == nil || f.opened[len(f.opened)-1] != open[0]) {
			f.opened = append(f.opened, open[0])
		}
	}
	engine, x, _, err := prepare(s, o, func() time.Time {
		if f.world != nil {
			return f.world.Now
		}
		return now
	})
	if err != nil {
		t.Fatal(err)
	}
	f.world = simulate.New(engine, now, faults, seed, f.device)
	x.driver, x.stop = worldDriver{f.world}, func() {}
	close(x.ended)
	f.Session = x
	return f
}

// open lists the channels that are open at the simulated mixer.
func (f *field) open() (list []int) {
	d := f.show.Mixer
	for n := 1; n <= d.Channels; n++ {
		mute, _ := f.device.Value(d.Address(mixer.Control{Channel: n, Param: cue.ParamMute}))
		level, _ := f.device.Value(d.Address(mixer.Control{Channel: n, Param: cue.ParamLevel}))
		muted, _ := d.Value(cue.ParamMute, mute)
		dB, _ := d.Value(cue.ParamLevel, level)
		if muted == 0 && cue.Level(dB) != cue.Silent {
			list = append(list, n)
		}
	}
	return list
}

// settle lets time pass until the next key can be given, for ten seconds at most.
func (f *field) settle() time.Duration {
	start := f.world.Now
	for f.world.Now.Sub(start) < 10*time.Second {
		f.world.Run(lookEvery)
		if f.mu.Lock(); !f.closed {
			f.look(f.world.Now)
		}
		f.mu.Unlock()
		if f.Settled() {
			break
		}
	}
	return f.world.Now.Sub(start)
}

func (f *field) press(p linecheck.CheckPress) string {
	f.t.Helper()
	said, err := f.Give(p)
	if err != nil {
		f.t.Fatalf("%s %s: %v", p.Key, p.Who, err)
	}
	f.settle()
	return said
}

// sounds is what is heard on each channel: a player, noise, or nothing.
type sounds map[int]string

// judge presses what someone who listens would press at the open channel.
func (f *field) judge(truth sounds) string {
	f.t.Helper()
	open, v := f.open(), f.View()
	if len(open) != 1 || v.Pack == nil || open[0] != v.Pack.Channel {
		f.t.Fatalf("the screen has %+v %q, and open are %v", v.Pack, v.State, open)
	}
	switch who := truth[open[0]]; who {
	case "":
		return f.press(linecheck.CheckPress{Key: linecheck.KeyNoSound})
	case "noise":
		return f.press(linecheck.CheckPress{Key: linecheck.KeyNoise})
	case v.Pack.Player:
		return f.press(linecheck.CheckPress{Key: linecheck.KeyGood})
	default:
		return f.press(linecheck.CheckPress{Key: linecheck.KeyWrong, Who: who})
	}
}

// TestSession has someone check the starter show over a network that loses packets: two packs are swapped, one is dead,
// and one is noisy. At no time are two channels open.
func TestSession(t *testing.T) {
	t.Parallel()
	s := load(t, starter{}.with(t, confirms))
	for _, c := range []struct {
		name   string
		faults virtual.Faults
	}{
		{"good network", virtual.Faults{Delay: 2 * time.Millisecond}},
		{"bad network", virtual.Faults{Drop: 0.3, Reorder: 0.2, Duplicate: 0.2, Delay: 20 * time.Millisecond,
			Jitter: 20 * time.Millisecond}},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			dir := t.TempDir()
			o := SessionOptions{Score: filepath.Join(dir, "show.toml"), Tonight: filepath.Join(dir, "tonight.toml"),
				LevelDB: -20, Order: ByPack}
			f := newField(t, s, o, c.faults, 1)
			f.settle()
			truth := sounds{}
			for _, p := range f.packs {
				truth[p.Channel] = p.Player
			}
			truth[1], truth[3] = truth[3], truth[1]
			truth[2], truth[4] = "", "noise"
			var said []string
			for range f.packs {
				said = append(said, f.judge(truth))
			}
			if all := strings.Join(said, "\n"); !strings.Contains(all, "SWAPPED PACKS: Tpt 1 and Tpt 3") {
				t.Errorf("swapped packs are not reported:\n%s", all)
			}
			v := f.View()
			if v.Phase != linecheck.Done || f.most != 1 || len(f.opened) != len(f.packs) {
				t.Errorf("%s; up to %d channels were open at once, and one after the other %v", v.State, f.most, f.opened)
			}
			for range 3 {
				f.press(linecheck.CheckPress{Key: KeyFix})
			}
			if _, err := f.Give(linecheck.CheckPress{Key: KeyFix}); err == nil {
				t.Error("a fourth fix for three")
			}
			if open := f.Close(); len(open) > 0 || len(f.open()) > 0 {
				t.Errorf("after the end: %v, open are %v", open, f.open())
			}
			tonight, err := os.ReadFile(o.Tonight)
			if want := "dead = [\"P04\", \"P02\"]\nswapped = [[\"P01\", \"P03\"]]\n"; err != nil || string(tonight) != want {
				t.Errorf("tonight.toml: %q, %v, want %q", tonight, err, want)
			}
			record, bad, err := ReadRecord(o.Score)
			if err != nil || bad != nil || len(record.Judged()) != len(f.packs) || len(record.Failed()) != 4 {
				t.Errorf("the record: %v, %v, %v", record, bad, err)
			}
			if list := Warnings(record, record.Fixes(), f.world.Now); list != nil {
				t.Errorf("all is fixed, and a run warns: %q", list)
			}
			list := Warnings(record, nil, f.world.Now)
			if len(list) != 1 || !strings.Contains(list[0], "the fix of P01 Tpt 1, P02 Tpt 2, P03 Tpt 3") {
				t.Errorf("a run without --tonight warns: %q", list)
			}
		})
	}
}

// TestMoved has somebody at the mixer who opens, moves and mutes channels during the check.
func TestMoved(t *testing.T) {
	t.Parallel()
	s := load(t, starter{}.with(t, confirms))
	f := newField(t, s, SessionOptions{Score: "none/show.toml", LevelDB: -20, Order: ByPack, Trial: true},
		virtual.Faults{Delay: time.Millisecond}, 1)
	f.settle()
	move := func(channel int, param string, v float64) {
		t.Helper()
		f.world.Run(3 * time.Second) // what differs right after it was sent counts as lost on the way
		place := mixer.Control{Channel: channel, Param: param}
		arg, _ := s.Mixer.Arg(place, v)
		if err := f.world.Move(0, s.Mixer.Address(place), arg); err != nil {
			t.Fatal(err)
		}
		f.world.Run(3 * time.Second)
		f.settle()
	}
	good := linecheck.CheckPress{Key: linecheck.KeyGood}
	move(1, cue.ParamLevel, -6)
	if v := f.View(); v.State != "OPEN at -6.0 dB, alone" {
		t.Errorf("a fader was moved: %q", v.State)
	}
	f.press(good)
	if open := f.open(); !slices.Equal(open, []int{2}) {
		t.Fatalf("after a moved fader, open are %v", open)
	}
	move(2, cue.ParamMute, 1)
	if _, err := f.Give(good); err == nil || !strings.Contains(err.Error(), "not open yet") {
		t.Errorf("a muted mic was judged: %v", err)
	}
	f.press(linecheck.CheckPress{Key: linecheck.KeySkip})
	if open := f.open(); !slices.Equal(open, []int{3}) {
		t.Fatalf("after a muted mic, open are %v", open)
	}
	move(16, cue.ParamLevel, -10) // outside the show
	move(16, cue.ParamMute, 0)
	if v := f.View(); !strings.Contains(v.Outside, "not in the show: channel 16") {
		t.Errorf("an open channel outside the show: %q", v.Outside)
	}
	move(5, cue.ParamLevel, -10) // a channel of the show, by someone at the mixer
	move(5, cue.ParamMute, 0)
	f.press(linecheck.CheckPress{Key: linecheck.KeyClose})
	if open := f.open(); !slices.Equal(open, []int{16}) {
		t.Errorf("closed, but open are %v", open)
	}
	if v := f.View(); v.Phase != linecheck.Held || !strings.HasPrefix(v.State, "CLOSED, every mic") {
		t.Errorf("closed: %q", v.State)
	}
	if open := f.Close(); len(open) > 0 {
		t.Errorf("at the end: %v", open)
	}
}

// TestNoAnswer has a mixer that answers nothing, and one that cannot confirm.
func TestNoAnswer(t *testing.T) {
	t.Parallel()
	s := load(t, starter{}.with(t, confirms))
	f := newField(t, s, SessionOptions{LevelDB: -20, Order: ByPack, Trial: true}, virtual.Faults{Drop: 1}, 1)
	f.settle()
	if v := f.View(); !strings.HasPrefix(v.Alarm, "NO REPLY FROM MIXER") || v.Phase != linecheck.Closing {
		t.Errorf("no answer: %q, %s", v.Alarm, v.Phase)
	}
	if _, err := f.Give(linecheck.CheckPress{Key: linecheck.KeyNoSound}); err == nil {
		t.Error("no sound, where nothing is known to be open")
	}
	if open := f.Close(); len(open) != 1 {
		t.Errorf("at the end: %v", open)
	}
	s = load(t, starter{})
	f = newField(t, s, SessionOptions{LevelDB: -20, Order: ByPack, Trial: true}, virtual.Faults{}, 1)
	if took := f.settle(); took < 500*time.Millisecond {
		t.Errorf("a mixer that cannot confirm has %v", took)
	}
	if v := f.View(); v.State != "OPEN at -20.0 dB, alone (sent; the mixer cannot confirm)" {
		t.Errorf("it cannot confirm: %q", v.State)
	}
}

// TestCeiling holds the level to the mixer file's ceilings.
func TestCeiling(t *testing.T) {
	t.Parallel()
	f0 := starter{}.with(t, confirms+"[[safety.channel]]\nchannel = 1\nceiling = \"-30 dB\"\n")
	s := load(t, f0)
	f := newField(t, s, SessionOptions{LevelDB: -12, Order: ByPack, Trial: true}, virtual.Faults{}, 1)
	f.settle()
	if v := f.View(); v.State != "OPEN at -30.0 dB, alone" {
		t.Errorf("channel 1: %q", v.State)
	}
	f.press(linecheck.CheckPress{Key: linecheck.KeyGood})
	if v := f.View(); v.State != "OPEN at -12.0 dB, alone" {
		t.Errorf("channel 2: %q", v.State)
	}
}

func TestPacks(t *testing.T) {
	t.Parallel()
	f := starter{}
	raw, _ := f.Read("roster.csv")
	lines := strings.Split(strings.TrimSpace(string(raw)), "\n")
	for i, line := range lines {
		more := ",,"
		if i == 0 {
			more = ",from,mic"
		}
		if strings.HasPrefix(line, "Tpt 1,") {
			more = ",,0.2"
		}
		lines[i] = line + more
	}
	lines = append(lines, `Guard 1,guard,P02,2,set 3,`)
	f["roster.csv"] = strings.Join(lines, "\n") + "\n"
	s := load(t, f)
	for order, want := range map[string]string{
		ByPack:  "P01 P02 P03 P04 P05 P06 P07 P08",
		ByPlace: "",
	} {
		var got []string
		last := -1e9
		for _, p := range Packs(s, order) {
			got = append(got, p.ID())
			at, _ := s.Where(p.Player, s.Clock.At(0))
			if order == ByPlace && at.X < last {
				t.Errorf("%s comes after someone nearer to side 2", p.Player)
			}
			last = at.X
		}
		if want != "" && strings.Join(got, " ") != want {
			t.Errorf("order %s: %q", order, got)
		}
	}
	list := Packs(s, ByPack)
	if p := list[1]; p.Player != "Tpt 2" || p.Later != "Guard 1 from set 3" {
		t.Errorf("a pack that changes hands: %+v", p)
	}
	if p := list[0]; p.Mic != "mic 20 cm from the bell" || p.Where == "" || list[1].Mic != "" {
		t.Errorf("where the mics are: %+v, %+v", list[0], list[1])
	}
}

func TestCompareLabels(t *testing.T) {
	t.Parallel()
	want := []string{"2", "10", "A1", "A2", "A02b", "A10", "B", "P1", "P09", "P10", ""}
	got := slices.Clone(want)
	slices.Reverse(got)
	slices.SortStableFunc(got, compareLabels)
	if !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
}

// TestRecordFile opens a record that was cut off, and one that another line check writes.
func TestRecordFile(t *testing.T) {
	t.Parallel()
	score := filepath.Join(t.TempDir(), "show.toml")
	first, err := openRecord(score)
	if err != nil {
		t.Fatal(err)
	}
	if !Running(score) || Running(filepath.Join(t.TempDir(), "show.toml")) {
		t.Error("which line check is going on")
	}
	if _, err := openRecord(score); err == nil || !strings.Contains(err.Error(), "another line check of this show") {
		t.Errorf("two at once: %v", err)
	}
	at := time.Date(2026, 10, 3, 18, 0, 0, 0, time.UTC)
	if err := first.add(linecheck.CheckEntry{At: at, Kind: linecheck.KindStart, Packs: 3}); err != nil {
		t.Fatal(err)
	}
	first.file.Write([]byte(`{"at":"2026`))
	first.close()
	second, err := openRecord(score)
	if err != nil {
		t.Fatal(err)
	}
	for i, r := range []linecheck.PackVerdict{linecheck.Noise, linecheck.Skipped} {
		second.add(linecheck.CheckEntry{At: at, Kind: linecheck.KindJudged, Pack: fmt.Sprint("P", i), Player: "A", Result: r})
	}
	second.close()
	record, bad, err := ReadRecord(score)
	if err != nil || len(bad) != 1 || !strings.Contains(bad[0], "line 2:") || len(record.Entries) != 3 {
		t.Errorf("%v, %q, %v", record, bad, err)
	}
	list := Warnings(record, nil, at.Add(time.Hour))
	clock := at.Local().Format("15:04")
	want := []string{"LINE CHECK " + clock + ", not fixed: P0 A noise",
		"LINE CHECK " + clock + ", skipped: P1 A; 1 of 3 packs not checked"}
	if !slices.Equal(list, want) {
		t.Errorf("warnings: %q", list)
	}
	if list := Warnings(record, nil, at.Add(13*time.Hour)); list != nil {
		t.Errorf("the next day: %q", list)
	}
}

// TestList has the packs on paper: what failed, what nobody heard, and the rest.
func TestList(t *testing.T) {
	t.Parallel()
	s := load(t, starter{})
	if list := List(s, linecheck.Record{}); list.When != "" || len(list.Rows) != 8 || !list.Rows[0].Unheard {
		t.Errorf("without a record: %+v", list)
	}
	at := time.Date(2026, 10, 3, 18, 0, 0, 0, time.FixedZone("", -5*3600))
	var r linecheck.Record
	r.Entries = []linecheck.CheckEntry{{At: at, Kind: linecheck.KindStart, Packs: 8}}
	for i, result := range []linecheck.PackVerdict{linecheck.Good, linecheck.NoSound, linecheck.Noise, linecheck.Good,
		linecheck.Skipped, linecheck.Good, linecheck.Good} {
		r.Entries = append(r.Entries, linecheck.CheckEntry{At: at, Kind: linecheck.KindJudged, Pack: fmt.Sprint("P0", i+1),
			Result: result})
	}
	r.Entries = append(r.Entries, linecheck.CheckEntry{At: at, Kind: linecheck.KindFixed,
		Fix: &linecheck.Fix{Kind: linecheck.Dead, Packs: []string{"P03"}}})
	list := List(s, r)
	var got []string
	for _, l := range list.Rows {
		got = append(got, l.Pack)
	}
	slices.Sort(got[1:3])
	slices.Sort(got[3:])
	if want := "P02 P05 P08 P01 P03 P04 P06 P07"; strings.Join(got, " ") != want || list.When != "Oct 3, 18:00" {
		t.Errorf("%s: %q, want %q", list.When, got, want)
	}
}
