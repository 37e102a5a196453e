package liverun

import (
	"math"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"backfield/cmd/backfield/show"
	"backfield/cmd/backfield/simulated"
	"backfield/cmd/backfield/term"
	"backfield/cue"
	"backfield/cue/balance"
	"backfield/layout/level"
	"backfield/layout/source"
	"backfield/osc/glance"
	"backfield/osc/run"
)

// fewSeats is what a venue adds to the demo for tests that are about levels: its many seats take most of a compile.
const fewSeats = `[[stands]]
name = "home side lower"
front = { y = "-12 m", z = 2, width = 60 }
back = { y = "-45 m", z = 19, width = 95 }
rows = 3
seats = 8
`

// nightOf is the demo with some readings of an invented night, and few seats.
func nightOf(t testing.TB, readings string) *show.Loaded {
	t.Helper()
	venue := filepath.Join(t.TempDir(), "night.toml")
	if err := os.WriteFile(venue, []byte("name = \"night\"\n[levels]\n"+readings+fewSeats), 0o600); err != nil {
		t.Fatal(err)
	}
	var p source.Problems
	s, err := show.Load(show.Disk{}, "../../../examples/harbor/show.toml", show.LoadOptions{Venue: venue}, &p)
	if err != nil || s.Show == nil {
		t.Fatal(err, p.All())
	}
	return s
}

const noiseRead, brassRead = "noise = { stack = \"outer left\", dba = 66.5 }\n",
	"brass = { section = \"trumpet\", set = \"7\", dba = 71 }\n"

// A run says how close its mics are to feedback as balance does, and a nudge changes that by as many dB.
func TestRingAsBalance(t *testing.T) {
	s := nightOf(t, noiseRead+brassRead)
	_, at, err := simulated.Start(t.Context(), s.Mixer)
	if err != nil {
		t.Fatal(err)
	}
	o := StartOptions{Score: "show.toml", To: []string{at}, Journal: filepath.Join(t.TempDir(), "run.jsonl"), Plain: true,
		Notices: term.NewNotices(os.Stderr)}
	defer o.Notices.Close()
	r, err := Start(t.Context(), s, o)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	if _, err := r.Do(run.Command{Verb: run.Jump, Name: "10"}); err != nil {
		t.Fatal(err)
	}
	var p source.Problems
	loops := s.Loudness(&p).Cue(slices.Index(idsOf(s), "10")).Loops
	db, _ := loops[0].Gains.GreatestDB()
	ring := func(wantDB float64, first string) {
		t.Helper()
		var v run.View
		for end := time.Now().Add(60 * time.Second); time.Now().Before(end); time.Sleep(20 * time.Millisecond) {
			v, _ = r.View()
			if v.Ring != nil && len(v.Ring.First) > 0 && math.Abs(v.Ring.MarginDB-wantDB) < 0.05 {
				if v.Ring.First[0] != first || !strings.HasPrefix(glance.RingWords(v), "NEAR FEEDBACK "+first+": ") {
					t.Errorf("%+v, %q", v.Ring, glance.RingWords(v))
				}
				return
			}
		}
		t.Fatalf("%+v, want a margin of %.2f dB", v.Ring, wantDB)
	}
	ring(-db, loops[0].Gains.Loudest()[0].Name)
	for _, m := range loops[0].Gains.Mics {
		if m.Fixed {
			if _, err := r.Do(run.Command{Verb: run.Nudge, Name: m.Name, DB: 1}); err != nil {
				t.Fatal(err)
			}
		}
	}
	total := level.Energies{}
	for _, m := range loops[0].Gains.Mics {
		up := 1.0
		if m.Fixed {
			up = level.Energy(1)
		}
		for b, e := range m.Loop {
			total[b] += up * e
		}
	}
	ring(-level.Decibels(slices.Max(total[:])), loops[0].Gains.Loudest()[0].Name)
}

// Before noise and brass were both read, nothing is computed and nothing is said.
func TestRingMeasureFirst(t *testing.T) {
	if testing.Short() {
		t.Skip("it compiles the demo again")
	}
	for _, readings := range []string{"", noiseRead, brassRead} {
		r := LiveRun{show: nightOf(t, readings)}
		r.fillRings()
		if v := r.rings.Look(42, []run.ChannelRow{{Player: "pit far right"}}); v != nil {
			t.Errorf("with %q: %+v", readings, v)
		}
	}
}

// Readings that are typed and cannot be used are said at the start, in status and in the row for feedback, which is there
// from the first moment.
func TestRingUnwatched(t *testing.T) {
	const why = "night.toml:5:49: 74 dBA is less than 3 dB above the background of 80 dBA"
	s := nightOf(t, "background = 80\n"+strings.Replace(noiseRead, "66.5", "86.5", 1)+
		strings.Replace(brassRead, "71", "74", 1))
	_, at, err := simulated.Start(t.Context(), s.Mixer)
	if err != nil {
		t.Fatal(err)
	}
	r, said, err := startLaptop(t, s, at, filepath.Join(t.TempDir(), "run.jsonl"), PairStart{})
	if err != nil {
		t.Fatal(err)
	}
	if v := r.rings.Look(0, nil); v == nil {
		t.Error("at the start no row is kept for feedback")
	}
	eventually(t, "the notice", func() bool {
		return strings.Contains(said.String(), "FEEDBACK IS NOT WATCHED, and NEAR FEEDBACK is never said: "+why)
	})
	if v, _ := r.View(); !strings.Contains(glance.Status(v), "\nFEEDBACK NOT WATCHED: "+why) {
		t.Errorf("status is\n%s", glance.Status(v))
	}
}

// A run that is resumed, and a laptop that stands by, watch feedback as the first run does.
func TestRingOfOthers(t *testing.T) {
	s := nightOf(t, noiseRead+brassRead)
	_, at, err := simulated.Start(t.Context(), s.Mixer)
	if err != nil {
		t.Fatal(err)
	}
	folder, said := t.TempDir(), &safeBuffer{}
	o := StartOptions{Score: "show.toml", To: []string{at}, Journal: filepath.Join(folder, "1.jsonl")}
	play(t, s, o, "jump 10\n")
	o.Journal, o.Resume, o.Confirm, o.Plain = "", o.Journal, yes, true
	o.Notices, o.Pair.ListenAt = term.NewNotices(said), "127.0.0.1:0"
	defer o.Notices.Close()
	first, err := Start(t.Context(), s, o)
	if err != nil {
		t.Fatal(err)
	}
	defer first.Close()
	key := regexp.MustCompile(`[A-Z2-9]{4}-[A-Z2-9]{4}-[A-Z2-9]{4}`)
	eventually(t, "the key is printed", func() bool { return key.MatchString(said.String()) })
	second, _, err := startLaptop(t, s, at, filepath.Join(folder, "2.jsonl"),
		PairStart{FirstAt: first.link.Addr(), Key: key.FindString(said.String())})
	if err != nil {
		t.Fatal(err)
	}
	for name, r := range map[string]*LiveRun{"the run that is resumed": first, "the laptop that stands by": second} {
		eventually(t, name+" names a mic", func() bool {
			v, _ := r.View()
			return strings.HasPrefix(glance.RingWords(v), "NEAR FEEDBACK ")
		})
	}
}

// idsOf are the ids of a show's cues.
func idsOf(s *show.Loaded) (ids []string) {
	for i := range s.Show.Cues {
		ids = append(ids, s.Show.Cues[i].ID)
	}
	return ids
}

// The tracks of a show's mics, with the faders put back, are the loops of its cues.
func TestLoopTracks(t *testing.T) {
	if testing.Short() {
		t.Skip("it compiles the demo again")
	}
	s := nightOf(t, "")
	var p source.Problems
	l := s.Loudness(&p)
	list := l.LoopTracks()
	compared := 0
	for i := 0; i < len(s.Cues); i += 7 {
		loop := l.Cue(i).Loops[0]
		atS := s.Clock.Seconds(loop.At)
		for _, mic := range loop.Gains.Mics {
			x := list[slices.IndexFunc(list, func(x balance.LoopTrack) bool { return x.Name == mic.Name })]
			k, exact := slices.BinarySearch(x.AtS, atS)
			c := s.Show.Cues[i].Channels
			fader := float64(c[slices.IndexFunc(c, func(c cue.Channel) bool { return c.Player == mic.Name })].LevelDB)
			want, band := mic.GreatestDB()
			if got := level.Decibels(x.Loops[k][band]) + fader; !exact || math.Abs(got-want) > 1e-6 || x.TakeDB != 8 {
				t.Errorf("cue %s, %s: %.4f dB (give or take %g), want %.4f", s.Show.Cues[i].ID, mic.Name, got, x.TakeDB, want)
			}
			compared++
		}
	}
	if compared < 50 {
		t.Errorf("only %d loops were compared", compared)
	}
}
