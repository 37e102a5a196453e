package restart

import (
	"bytes"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"backfield/cmd/backfield/show"
	"backfield/cmd/backfield/simulated"
	"backfield/cue"
	"backfield/layout/source"
	"backfield/osc"
	"backfield/osc/journal"
	"backfield/osc/mixer"
	"backfield/osc/virtual"
	"backfield/osc/wire"
)

// tiny is the example with a mixer that can be asked and has a parameter of its own, and such a mixer.
func tiny(t *testing.T) (s *show.Loaded, holds func() virtual.DeviceState, at string) {
	t.Helper()
	folder := t.TempDir()
	if err := os.CopyFS(folder, os.DirFS("../../../examples/tiny")); err != nil {
		t.Fatal(err)
	}
	f, err := os.OpenFile(filepath.Join(folder, "mixer.toml"), os.O_APPEND|os.O_WRONLY, 0)
	if err != nil {
		t.Fatal(err)
	}
	f.WriteString("\n[echo]\n[query]\naddress = \"{address}\"\n" +
		"[param.presence]\naddress = \"/in/{channel}/presence\"\nunit = \"dB\"\nmin = -12\nmax = 12\ndefault = 2\n")
	f.Close()
	var p source.Problems
	if s, err = show.Load(show.Disk{}, filepath.Join(folder, "show.toml"), show.LoadOptions{}, &p); err != nil || s.Show == nil {
		t.Fatal(err, p.All())
	}
	if holds, at, err = simulated.Start(t.Context(), s.Mixer); err != nil {
		t.Fatal(err)
	}
	return s, holds, at
}

// moves sets controls of the mixer by hand.
func moves(t *testing.T, at string, list ...osc.Message) {
	t.Helper()
	link, err := wire.Open(at)
	if err != nil {
		t.Fatal(err)
	}
	defer link.Close()
	for _, m := range list {
		if err := link.Write(wire.Encode(m)); err != nil {
			t.Fatal(err)
		}
	}
	time.Sleep(50 * time.Millisecond)
}

// What is open at the mixer, in the show and outside it, and what else differs is found by questions alone: the mixer
// holds after it what it held before.
func TestLook(t *testing.T) {
	s, holds, at := tiny(t)
	plan, err := PlanFor(s.Show, show.Timeline{Clock: s.Clock}.Find, Before{}, s.Show.Cues[0].ID)
	if err != nil {
		t.Fatal(err)
	}
	closed := plan.Closed(s.Show)
	var list []osc.Message
	for n := range s.Mixer.Channels { // a mixer that is off everywhere
		list = append(list, osc.Message{Address: s.Mixer.Address(mixer.Control{Channel: n + 1, Param: cue.ParamMute}),
			Args: []osc.Arg{osc.Int32(1)}})
	}
	for _, x := range s.Mixer.Settings(&closed) {
		list = append(list, x.Message)
	}
	moves(t, at, list...)
	look := func(want string) {
		t.Helper()
		before := holds().Addresses
		f, err := Look(t.Context(), s.Mixer, at, &closed)
		if err != nil {
			t.Fatal(err)
		}
		var b bytes.Buffer
		if f.Print(&b, "mixer", plan.CueID(s.Show)); b.String() != want {
			t.Errorf("it says\n%s\nwant\n%s", b.String(), want)
		}
		if !slices.Equal(before, holds().Addresses) {
			t.Error("the mixer holds something else than before")
		}
	}
	first := closed.Channels[0]
	set := func(param string, channel int, v float64) osc.Message {
		x := mixer.Control{Channel: channel, Param: param}
		arg, ok := s.Mixer.Arg(x, v)
		if !ok {
			t.Fatalf("no %s on channel %d", param, channel)
		}
		return osc.Message{Address: s.Mixer.Address(x), Args: []osc.Arg{arg}}
	}
	shows := 0
	for range closed.Channels {
		shows++
	}
	asked := count(shows*5+2*(s.Mixer.Channels-shows), "question")
	look("mixer: replied to all of " + asked + "\n  no mic of the show is known to be open there\n" +
		"  everything is as in cue 1, closed\n")
	moves(t, at, set(cue.ParamMute, first.Channel, 0), set(cue.ParamLevel, first.Channel, -3),
		set(cue.ParamMute, s.Mixer.Channels, 0), set(cue.ParamLevel, s.Mixer.Channels, 0),
		set("presence", first.Channel, 5), set(cue.ParamDelay, first.Channel, first.DelayMS+10))
	look("mixer: replied to all of " + asked + "\n" +
		"  OPEN THERE; the run closes them as it starts:\n    ch 1 " + first.Player + " at -3.0 dB\n" +
		"  open there and not in the show; the run leaves them, and hush closes them:\n" +
		"    ch 64 at +0.0 dB\n" +
		"  not as in cue 1; the run sets them:\n    ch 1 " + first.Player + ": presence 5 there, 2 in the show\n" +
		"  1 delay, pan or send value not as in cue 1; the run sets them\n")
}

// A mixer that does not reply is named, and one that cannot be reached is an error.
func TestLookAtNothing(t *testing.T) {
	s, _, _ := tiny(t)
	closed := Plan{}.Closed(s.Show)
	l, err := wire.Listen("udp://127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	s.Mixer.Channels, s.Mixer.Rate = 4, 5000
	f, err := Look(t.Context(), s.Mixer, l.Addr().String(), &closed)
	var b bytes.Buffer
	f.Print(&b, "mixer", "1")
	if err != nil || !strings.HasPrefix(b.String(), "mixer: NO REPLY to ") || strings.Contains(b.String(), "no mic") {
		t.Errorf("%v, %s", err, b.String())
	}
	at := l.Addr().String()
	l.Close()
	if _, err := Look(t.Context(), s.Mixer, at, &closed); err == nil || !strings.Contains(err.Error(), "port is closed") {
		t.Errorf("%v", err)
	}
}

// Where to go on is a cue or a count, and what cannot be read is refused.
func TestPlanFor(t *testing.T) {
	s, _, _ := tiny(t)
	find := show.Timeline{Clock: s.Clock}.Find
	last := s.Show.Cues[len(s.Show.Cues)-1]
	for where, id := range map[string]string{last.ID: last.ID, "1:1": s.Show.Cues[0].ID, last.At: last.ID} {
		if p, err := PlanFor(s.Show, find, Before{}, where); err != nil || p.CueID(s.Show) != id ||
			!strings.HasSuffix(p.Notice, "jump "+where) {
			t.Errorf("%s: %+v, %v", where, p, err)
		}
	}
	if _, err := PlanFor(s.Show, find, Before{}, "99"); err == nil {
		t.Error("cue 99 is taken")
	}
}

// Swaps and nudges of the run before are carried over, and nothing else; not those of another night or of a rehearsal.
func TestReadBefore(t *testing.T) {
	folder := t.TempDir()
	score := filepath.Join(folder, "show.toml")
	now := time.Date(2026, 9, 12, 20, 0, 0, 0, time.UTC)
	write := func(name string, at time.Time, rehearsal bool) {
		t.Helper()
		state := journal.RunState{Step: "2", Hush: true, Swaps: []journal.Swap{{Channel: 2, Spare: 12}},
			Nudges: []journal.RunNudge{{Name: "Horn 1", DB: 1.5}, {Name: "Horn 2", DB: 1}, {Name: "Horn 1", DB: 1},
				{Name: "Horn 2", DB: -1}}}
		os.MkdirAll(filepath.Join(folder, "journals"), 0o755)
		start := journal.Entry{At: at, Kind: "start", Format: journal.Format, Title: "t", Rehearsal: rehearsal}
		end := journal.Entry{At: at.Add(time.Minute), Kind: "end", Text: "ended", Step: "2", State: &state}
		if err := os.WriteFile(filepath.Join(folder, "journals", name), append(start.Line(), end.Line()...), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	says := func(rehearsal bool, step, words string, carried ...string) {
		t.Helper()
		b := ReadBefore(score, "t", rehearsal, now)
		var list []string
		for _, c := range b.Carried {
			list = append(list, c.String())
		}
		if b.Step != step || !strings.Contains(b.Words, words) || !slices.Equal(list, carried) {
			t.Errorf("%+v, %q; want %q, %q, %q", b, list, step, words, carried)
		}
	}
	says(false, "", "No run of tonight is known")
	write("1.jsonl", now.Add(-50*time.Hour), false)
	says(false, "", "so nothing of it is carried over")
	write("2.jsonl", now.Add(-time.Hour), false)
	says(false, "2", "The last run stopped in cue 2, ", "swap 2 to 12", `nudge "Horn 1" +2.5`)
	says(true, "", "was no rehearsal")
	write("3.jsonl", now.Add(-time.Minute), true)
	says(false, "", "was a rehearsal")
}
