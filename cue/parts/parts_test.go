package parts

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"backfield/cue/clock"
	"backfield/cue/roster"
	"backfield/cue/score"
	"backfield/cue/timeline"
	"backfield/layout/drill"
	"backfield/layout/rig"
	"backfield/layout/source"
	"backfield/layout/table"
)

func text(v string) table.Text { return table.Text{V: v, Set: true} }

// band is a roster: "trumpet: Tpt 1, Tpt 2; tuba: Tuba 1".
func band(t *testing.T, sections string) *roster.Roster {
	t.Helper()
	var b strings.Builder
	b.WriteString("player,section\n")
	for section := range strings.SplitSeq(sections, "; ") {
		name, players, _ := strings.Cut(section, ": ")
		for p := range strings.SplitSeq(players, ", ") {
			fmt.Fprintf(&b, "%s,%s\n", p, name)
		}
	}
	p := &source.Problems{}
	r := roster.Read(&source.File{Name: "roster.csv", Text: b.String()}, p)
	if p.Errors() > 0 {
		t.Fatal(p.All())
	}
	return r
}

// played is a note for all of its part.
func played(from, to float64) clock.PlayedNote { return clock.PlayedNote{From: from, To: to} }

func show(parts ...clock.MusicPart) *score.Score {
	return &score.Score{Movements: []score.Movement{{File: &score.MusicFile{}, Music: &clock.Music{Parts: parts}}}}
}

func TestGuess(t *testing.T) {
	for _, x := range []struct{ roster, parts, want string }{
		{"trumpet: A, B, C, D", "Trumpet in Bb 1; Trumpet in Bb 2", "A B | C D"},
		{"trumpet: A, B, C", "Trumpet 1; Trumpet 2", "A | B C"},
		{"Trumpets: A, B; Euphoniums: C", "Bb Trumpets; Euphonium", "@Trumpets | @Euphoniums"},
		{"trumpet: A; tuba: B", "Tpt. 1; Tpt. 2; Sousaphone", "A | A | @tuba"},
		{"mellophone: A; trombone: B", "F Horn; Bass Trombone", "@mellophone | @trombone"},
		{"trumpet: A", "Flute; Track 2", " | "},
		{"snare: A; bass: B", "Snare Drum; Bass Drum", "@snare | @bass"},
	} {
		var parts []clock.MusicPart
		for name := range strings.SplitSeq(x.parts, "; ") {
			parts = append(parts, clock.MusicPart{Name: name, Notes: []clock.PlayedNote{played(0, 1)}})
		}
		var got []string
		for _, g := range Listed(show(parts...), band(t, x.roster)) {
			got = append(got, strings.Join(g.Names, " "))
		}
		if text := strings.Join(got, " | "); text != x.want {
			t.Errorf("%s for %s: %q, want %q", x.parts, x.roster, text, x.want)
		}
	}
}

// What the show maps is not guessed again, and a part without a note is not listed.
func TestListed(t *testing.T) {
	one := []clock.PlayedNote{played(0, 1)}
	s := show(clock.MusicPart{Name: "Trumpet 1", Notes: one}, clock.MusicPart{Name: "Trumpet 2", Notes: one},
		clock.MusicPart{Name: "Tuba"})
	s.Parts = []score.PartPlayers{{Part: text("Trumpet 1"), Names: []table.Text{text("B")}}}
	got := fmt.Sprint(Listed(s, band(t, "trumpet: A, B")))
	if want := "[{Trumpet 1 [B] 1 false} {Trumpet 2 [@trumpet] 1 true}]"; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
}

// lanes are those of one part that is mapped to names.
func lanes(t *testing.T, r *roster.Roster, notes []clock.PlayedNote, names ...string) *Lanes {
	t.Helper()
	s := show(clock.MusicPart{Name: "P", Notes: notes})
	mapped := score.PartPlayers{Part: text("P")}
	for _, name := range names {
		mapped.Names = append(mapped.Names, text(name))
	}
	s.Parts = []score.PartPlayers{mapped}
	p := &source.Problems{}
	x := Read(&timeline.Files{Score: s, Roster: r}, p)
	if p.Errors() > 0 {
		t.Fatal(p.All())
	}
	return x
}

func TestDesks(t *testing.T) {
	r := band(t, "trumpet: A, B, C, D")
	desk := func(at float64, desk, desks int) clock.PlayedNote {
		return clock.PlayedNote{From: at, To: at + 1, Desk: desk, Desks: desks}
	}
	notes := []clock.PlayedNote{desk(0, 0, 0), desk(1, 1, 2), desk(2, 2, 2), desk(3, 1, 0), desk(4, 2, 0), desk(5, 3, 0)}
	for _, x := range []struct{ names, want string }{
		{"@trumpet", "A 0 1 3, B 0 1 4, C 0 2 5, D 0 2"},
		{"A B", "A 0 1 3 5, B 0 2 4 5"},
		{"A", "A 0 1 2 3 4 5"},
		{"D A", "A 0 2 4 5, D 0 1 3 5"},
	} {
		l := lanes(t, r, notes, strings.Fields(x.names)...)
		var got []string
		for _, player := range r.Names() {
			lane := l.Of(player, 1)
			if lane == nil {
				continue
			}
			text := player
			for _, n := range lane.Notes {
				text += fmt.Sprintf(" %g", n.From)
			}
			got = append(got, text)
		}
		if text := strings.Join(got, ", "); text != x.want {
			t.Errorf("%s: %s, want %s", x.names, text, x.want)
		}
	}
}

func TestRunsAndRests(t *testing.T) {
	r := band(t, "trumpet: A")
	l := lanes(t, r, []clock.PlayedNote{played(4, 5), played(5.5, 8), played(20, 24)}, "A").Of("A", 1)
	if got, want := fmt.Sprint(l.Runs), "[{4 8 0 false false} {20 24 0 false false}]"; got != want {
		t.Errorf("runs: %s, want %s", got, want)
	}
	for _, x := range []struct {
		from, to float64
		want     string
	}{
		{0, 32, "0-4 8-20 24-32"}, {4, 20, "8-20"}, {5, 7, ""}, {10, 22, "10-20"}, {26, 30, "26-30"}, {6, 12, "8-12"},
	} {
		var got []string
		for _, rest := range l.Rests(x.from, x.to) {
			got = append(got, fmt.Sprintf("%g-%g", rest.From, rest.To))
		}
		if text := strings.Join(got, " "); text != x.want {
			t.Errorf("rests of %g to %g: %q, want %q", x.from, x.to, text, x.want)
		}
	}
	if _, ok := l.Playing(8); ok {
		t.Error("plays where the run ends")
	}
	if run, ok := l.Next(8); !ok || run.From != 20 {
		t.Errorf("next after 8: %v", run)
	}
}

func TestDynamicsAt(t *testing.T) {
	n := func(from, to, db float64) clock.PlayedNote {
		return clock.PlayedNote{From: from, To: to, DynamicsDB: db, Marked: true}
	}
	l := lanes(t, band(t, "trumpet: A"), []clock.PlayedNote{n(4, 6, -12), n(6, 8, 0), n(20, 24, 6)}, "A").Of("A", 1)
	for at, want := range map[float64]float64{0: -12, 4: -12, 5.9: -12, 6: 0, 9: 6, 20: 6} {
		if db, ok := l.DynamicsDB(at); !ok || db != want {
			t.Errorf("at %g: %g %v, want %g", at, db, ok, want)
		}
	}
	if _, ok := l.DynamicsDB(30); ok {
		t.Error("after the last note the music says nothing")
	}
}

func TestUnknownParts(t *testing.T) {
	s := show(clock.MusicPart{Name: "Trumpet 1"}, clock.MusicPart{Name: "Tuba"})
	s.Parts = []score.PartPlayers{{Part: text("Trumpt 1")}}
	problems := func() string {
		p := &source.Problems{}
		checkNames(s, p)
		var list []string
		for _, x := range p.All() {
			list = append(list, x.What+"; "+x.Do)
		}
		return strings.Join(list, "\n")
	}
	if got := problems(); !strings.Contains(got, `no file of the show's music has a part "Trumpt 1"; did you mean "Trumpet 1"?`) {
		t.Error(got)
	}
	s.Movements = append(s.Movements, score.Movement{File: &score.MusicFile{}}) // could not be read
	if got := problems(); got != "" {
		t.Error(got)
	}
	s.Movements = []score.Movement{{}}
	if got := problems(); !strings.Contains(got, "no movement takes its tempo from a file of music") {
		t.Error(got)
	}
	if s.Parts = nil; problems() != "" {
		t.Error("without a map nothing is wrong")
	}
	if l := Read(&timeline.Files{Score: s, Roster: band(t, "trumpet: A")}, &source.Problems{}); !l.Empty() {
		t.Error("a show without parts has lanes")
	}
}

// In seconds, with the breaths, and only while the player wears the pack.
func TestSounding(t *testing.T) {
	p := &source.Problems{}
	r := roster.Read(&source.File{Name: "roster.csv", Text: "player,section,pack,channel,from\nA,trumpet,P1,5,\n" +
		"B,trumpet,P1,5,1:17\n"}, p)
	s := show(clock.MusicPart{Name: "P", Notes: []clock.PlayedNote{
		{From: -2, To: 4, Breath: true}, {From: 4, To: 8, DynamicsDB: -4}, {From: 12, To: 20},
	}})
	s.Parts = []score.PartPlayers{{Part: text("P"), Names: []table.Text{text("@trumpet")}}}
	f := &timeline.Files{Score: s, Roster: r, Rig: &rig.Rig{}, Drill: &drill.Drill{}}
	f.Mixer.Channels = 8
	c := &clock.Clock{Movements: []clock.MovementTime{
		{Counts: 32, StartS: 0.5, Tempo: clock.NewTempo([]clock.Change{{At: 1, BPM: 60}})},
	}}
	got := Read(f, p).Sounding(timeline.NewLines(f, c, p), c)
	if p.Errors() > 0 {
		t.Fatal(p.All())
	}
	const want = "[{5 A 0 8.5 0 false [4.5]} {5 A 12.5 16.5 0 false []} {5 B 16.5 20.5 0 false []}]"
	if text := fmt.Sprint(got); text != want {
		t.Errorf("got  %s\nwant %s", text, want)
	}
}

// A solo that begins and ends without a rest is a passage of its own. The run goes on.
func TestPassages(t *testing.T) {
	note := func(from, to float64, solo bool) clock.PlayedNote {
		return clock.PlayedNote{From: from, To: to, Solo: solo, DynamicsDB: from}
	}
	lane := &PlayerLane{Notes: []clock.PlayedNote{note(0, 4, false), note(4, 6, true), note(6, 8.5, true),
		note(8, 12, false), note(20, 24, false)}}
	lane.Runs = runs(lane.Notes)
	want := []PlayedRun{{From: 0, To: 4}, {From: 4, To: 8, LoudDB: 6, Solo: true}, {From: 8, To: 12, LoudDB: 8},
		{From: 20, To: 24, LoudDB: 20}}
	if got := lane.Passages(); !slices.Equal(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
	if len(lane.Runs) != 2 {
		t.Errorf("runs: %v", lane.Runs)
	}
}
