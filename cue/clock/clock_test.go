package clock

import (
	"encoding/csv"
	"math"
	"math/rand"
	"os"
	"strconv"
	"strings"
	"testing"
)

// published reads a table of testdata/published: rows of numbers by the names of their columns.
func published(t *testing.T, name string) (rows []map[string]float64) {
	t.Helper()
	f, err := os.Open("../../testdata/published/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	all, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for _, cells := range all[1:] {
		row := map[string]float64{}
		for i, head := range all[0] {
			if row[head], err = strconv.ParseFloat(cells[i], 64); err != nil {
				t.Fatal(err)
			}
		}
		rows = append(rows, row)
	}
	return rows
}

// Worked ramps, linear in counts; sources in testdata/published/README.md.
func TestPublishedRamps(t *testing.T) {
	rows := published(t, "tempo_ramps.csv")
	if len(rows) != 5 {
		t.Fatalf("%d rows", len(rows))
	}
	for _, row := range rows {
		b0, b1, beats := row["bpm_start"], row["bpm_end"], row["beats"]
		tempo := NewTempo([]Change{{At: 1, BPM: b0}, {At: 1, BPM: b1, Over: beats}})
		for elapsed, want := range map[float64]float64{beats: row["total_s"], beats / 2: row["t_at_half_the_beats_s"],
			1: row["t_at_beat_1_s"]} {
			if got := tempo.Seconds(elapsed); math.Abs(got-want) > 1e-9 {
				t.Errorf("%g to %g over %g: %.12f s at %g counts, published %.12f", b0, b1, beats, got, elapsed, want)
			}
		}
		if got := tempo.BPM(beats); math.Abs(got-b1) > 1e-9 {
			t.Errorf("tempo after the ramp: %g", got)
		}
	}
}

// By hand: 64 counts at 132, then 16 counts from 132 to 168, then 168; 2.5 s once count 97 has sounded.
func TestTempoByHand(t *testing.T) {
	tempo := NewTempo([]Change{{At: 1, BPM: 132}, {At: 65, BPM: 168, Over: 16}, {At: 97, PauseS: 2.5}})
	ramp := 60 / (36. / 16) * math.Log(168./132)
	for elapsed, want := range map[float64]float64{
		0:    0,
		1:    60. / 132,
		64:   64 * 60. / 132,
		80:   64*60./132 + ramp,
		96:   64*60./132 + ramp + 16*60./168,
		96.5: 64*60./132 + ramp + 16.5*60./168,
		97:   64*60./132 + ramp + 17*60./168 + 2.5,
		98:   64*60./132 + ramp + 18*60./168 + 2.5,
	} {
		if got := tempo.Seconds(elapsed); math.Abs(got-want) > 1e-9 {
			t.Errorf("%g counts: %.9f s, want %.9f", elapsed, got, want)
		}
	}
}

// Time never runs backwards, whatever the tempo does.
func TestTempoGrows(t *testing.T) {
	rng := rand.New(rand.NewSource(1))
	for range 200 {
		changes := []Change{{At: 1, BPM: 30 + 200*rng.Float64()}}
		at := 1.0
		for range rng.Intn(8) {
			at += 1 + float64(rng.Intn(40))
			c := Change{At: at, BPM: 30 + 200*rng.Float64()}
			if rng.Intn(2) == 0 {
				c.Over = float64(1 + rng.Intn(20))
				at += c.Over
			}
			if rng.Intn(4) == 0 {
				c.PauseS = rng.Float64() * 5
			}
			changes = append(changes, c)
		}
		tempo := NewTempo(changes)
		last := -1.0
		for e := 0.0; e < at+20; e += 0.25 {
			s := tempo.Seconds(e)
			if !(s > last) {
				t.Fatalf("%+v: %g s at %g counts after %g", changes, s, e, last)
			}
			last = s
		}
	}
}

func TestPositions(t *testing.T) {
	c := &Clock{
		Movements: []MovementTime{{Counts: 64, Tempo: NewTempo([]Change{{At: 1, BPM: 120}})},
			{Counts: 32, StartS: 36, Tempo: NewTempo([]Change{{At: 1, BPM: 60}})}},
		Sets: []SetArrival{{"1", Moment{1, 0}}, {"2", Moment{1, 16}}, {"2A", Moment{1, 64}}, {"3", Moment{2, 24}}},
	}
	for text, want := range map[string]struct {
		at  Moment
		s   float64
		set string
	}{
		"1:1": {Moment{1, 0}, 0, "1"}, "1:33": {Moment{1, 32}, 16, "2"}, "1:33.5": {Moment{1, 32.5}, 16.25, "2"},
		" 2:1 ": {Moment{2, 0}, 36, "2A"},
		"set 2": {Moment{1, 16}, 8, "2"}, "Set 2 + 4": {Moment{1, 20}, 10, "2"}, "set 2 - 4": {Moment{1, 12}, 6, "1"},
		"set 2+4.5": {Moment{1, 20.5}, 10.25, "2"},
		"set 2A":    {Moment{1, 64}, 32, "2A"}, "set 3": {Moment{2, 24}, 60, "3"}, "2:32": {Moment{2, 31}, 67, "3"},
		"set 3 + 8": {Moment{2, 32}, 68, "3"},
	} {
		p, fault := ParseShowCount(text)
		if fault != nil {
			t.Errorf("%q: %v", text, fault)
			continue
		}
		m, fault := c.Resolve(p)
		if fault != nil || m != want.at || math.Abs(c.Seconds(m)-want.s) > 1e-9 || c.Set(m) != want.set {
			t.Errorf("%q: %+v %g s set %q (%v), want %+v", text, m, c.Seconds(m), c.Set(m), fault, want)
		}
	}
	for _, text := range []string{"", "33", "0:1", "1:0", "1:-3", "set", "set 2 +", "set 2 + x", "2;33", "1:33:5",
		"1:1e9", "set 2 + 4 + 4"} {
		if p, fault := ParseShowCount(text); fault == nil {
			t.Errorf("%q was read as %+v", text, p)
		}
	}
	for _, text := range []string{"02:09:00", "02:09:00 AM", "2:33:00 PM"} { // what spreadsheets save 2:9 as
		if _, fault := ParseShowCount(text); fault == nil || !strings.Contains(fault.What, "time of day") {
			t.Errorf("%q: %v", text, fault)
		}
	}
	for _, text := range []string{"3:1", "1:65", "2:33", "set 9", "set 2-4", "set 3 + 9", "set 1 - 1"} {
		p, fault := ParseShowCount(text)
		if fault != nil {
			t.Errorf("%q: %v", text, fault)
			continue
		}
		if m, fault := c.Resolve(p); fault == nil {
			t.Errorf("%q was found at %+v", text, m)
		}
	}
}

// Counts by measure and mark: which movement is meant, and where in it.
func TestMusicalPositions(t *testing.T) {
	music := func(name string, first int, marks ...Mark) *Music {
		m := &Music{Name: name, Marks: marks, Least: 12, Most: 12, Beat: "a quarter note"}
		for i := range 3 {
			m.Measures = append(m.Measures, Measure{strconv.Itoa(first + i), float64(4 * i), 4})
		}
		return m
	}
	slow := NewTempo([]Change{{At: 1, BPM: 60}})
	movement := func(m *Music) MovementTime { return MovementTime{Counts: 12, Tempo: slow, Music: m} }
	twice := music("c.mid", 1, Mark{"X", 0}, Mark{"X", 4})
	twice.Measures[2].Number = "1"
	one := &Clock{Movements: []MovementTime{movement(nil),
		movement(music("a.mid", 1, Mark{"A", 0}, Mark{"Drum Break", 6.5}))}}
	two := &Clock{Movements: []MovementTime{movement(music("a.mid", 1, Mark{"A", 0}, Mark{"B", 8})),
		movement(music("b.mid", 4, Mark{"A", 4}, Mark{"C", 8}))}}
	same := &Clock{Movements: []MovementTime{movement(music("a.mid", 1)), movement(music("a.mid", 4))}}
	odd := &Clock{Movements: []MovementTime{movement(twice)}}
	none := &Clock{Movements: []MovementTime{movement(nil)}}
	for _, x := range []struct {
		clock *Clock
		text  string
		want  Moment
		fault string // the message where there is none
	}{
		{one, "m. 1", Moment{2, 0}, ""}, {one, "M.2 Beat 3", Moment{2, 6}, ""},
		{one, "m 2 beat 3.5 + 1", Moment{2, 7.5}, ""}, {one, "measure 2 - 2", Moment{2, 2}, ""},
		{one, "2:m. 3", Moment{2, 8}, ""}, {one, "mark A", Moment{2, 0}, ""},
		{one, "Mark  Drum   Break+2", Moment{2, 8.5}, ""}, {one, "2 : mark Drum Break - 0.5", Moment{2, 6}, ""},
		{one, "m. 4", Moment{}, `a.mid has no measure "4"; its measures are numbered from 1 to 3`},
		{one, "m. 3 beat 5", Moment{}, "m. 3 has no beat 5: it lasts 4 counts; a beat is one count, here a quarter note"},
		{one, "m. 3 + 5", Moment{},
			"m. 3 + 5 is 1 count past the end of movement 2; count from something in the next movement"},
		{one, "m. 1 - 1", Moment{},
			"m. 1 - 1 is 1 count before the downbeat of movement 2; count from something in the movement before"},
		{one, "mark a", Moment{}, `a.mid has no mark "a"; did you mean "A"?`},
		{one, "1:m. 3", Moment{},
			`movement 1 has no music file; name one with tempo = "FILE.mid", or write a count or a set`},
		{one, "3:m. 3", Moment{}, "the show has no movement 3; it has 2"},
		{none, "m. 3", Moment{}, "m. 3: no movement has a music file"},
		{two, "2:m. 5", Moment{2, 4}, ""}, {two, "mark B", Moment{1, 8}, ""}, {two, "mark C - 1", Moment{2, 7}, ""},
		{two, "1:mark A", Moment{1, 0}, ""},
		{two, "m. 5", Moment{}, `m. 5 of which movement? 1 and 2 both have music; write "1:m. 5" or "2:m. 5"`},
		{two, "mark A + 1", Moment{},
			`mark A + 1 of which movement? It is in movement 1 (m. 1) and in movement 2 (m. 5); write "1:mark A + ` +
				`1" or "2:mark A + 1"`},
		{two, "mark D", Moment{}, `no movement's music has a mark "D"; it is one of "A", "B", "A", "C"`},
		{same, "m. 5", Moment{2, 4}, ""}, {same, "m. 9", Moment{}, `no movement's music has a measure "9"`},
		{odd, "m. 1", Moment{}, `c.mid has two measures "1", at counts 1 and 9`},
		{odd, "mark X", Moment{}, `c.mid has mark "X" twice, at counts 1 (m. 1) and 5 (m. 2)`},
	} {
		p, fault := ParseShowCount(x.text)
		if fault != nil {
			t.Errorf("%q: %v", x.text, fault)
			continue
		}
		m, fault := x.clock.Resolve(p)
		switch {
		case x.fault == "" && (fault != nil || m != x.want):
			t.Errorf("%q: %+v (%v), want %+v", x.text, m, fault, x.want)
		case x.fault != "" && (fault == nil || !strings.HasPrefix(fault.Error(), x.fault)):
			t.Errorf("%q: %+v %v, want %s", x.text, m, fault, x.fault)
		}
	}
	for _, text := range []string{"m.", "m. beat 3", "m. 5 beat", "m. 5 beat 0", "m. 5 beat x", "mark", "mark + 2",
		"0:m. 5", "m. 5 set 3", "2:set 4", "mark A + 2 + 3", "m5"} {
		if p, fault := ParseShowCount(text); fault == nil {
			t.Errorf("%q was read as %+v", text, p)
		}
	}
	for at, want := range map[float64]string{0: "m. 1", 4: "m. 2", 6.5: "m. 2 beat 3.5", 7 + 1/3.: "m. 2 beat 4.333",
		-1: "m. 1", 99: "m. 3 beat 92"} {
		if got := two.Movements[0].Music.Place(at); got != want {
			t.Errorf("%g counts: %s, want %s", at, got, want)
		}
	}
}

func TestSamples(t *testing.T) {
	c := &Clock{Movements: []MovementTime{{Counts: 2}, {Counts: 1}}}
	for _, x := range []struct {
		from, to Moment
		want     []Moment
	}{
		{Moment{1, 1}, Moment{1, 1.5}, []Moment{{1, 1}, {1, 1.25}, {1, 1.5}}},
		{Moment{1, 1}, Moment{1, 1.3}, []Moment{{1, 1}, {1, 1.25}, {1, 1.3}}},
		{Moment{1, 1.75}, Moment{2, 0}, []Moment{{1, 1.75}, {1, 2}}},
		{Moment{1, 1.75}, Moment{2, 0.25}, []Moment{{1, 1.75}, {1, 2}, {2, 0}, {2, 0.25}}},
		{Moment{1, 2}, Moment{1, 2}, []Moment{{1, 2}}},
	} {
		got := c.Samples(x.from, x.to, 0.25)
		if len(got) != len(x.want) {
			t.Errorf("%v to %v: %v, want %v", x.from, x.to, got, x.want)
			continue
		}
		for i := range got {
			if math.Abs(got[i].Elapsed-x.want[i].Elapsed) > 1e-9 || got[i].Movement != x.want[i].Movement {
				t.Errorf("%v to %v: %v, want %v", x.from, x.to, got, x.want)
			}
		}
	}
}

func FuzzShowCount(f *testing.F) {
	for _, s := range []string{"1:33", "2:33.5", "set 14", "set 14 + 4", "set 14A - 2.5", "Set 7+1", "m. 23 beat 3",
		"2:m. 12A - 2", "mark Drum Break + 4"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		p, fault := ParseShowCount(text)
		if fault != nil {
			if fault.Lo < 0 || fault.Hi > len(text) || fault.What == "" || fault.Do == "" {
				t.Fatalf("%q: fault %+v", text, *fault)
			}
			return
		}
		again, fault := ParseShowCount(p.String())
		if fault != nil || again != p {
			t.Fatalf("%q is %+v, written %q, read %+v (%v)", text, p, p.String(), again, fault)
		}
	})
}

// At is the inverse of Seconds, except within pauses and waits, which belong to what comes after them.
func TestAtTurnsSecondsRound(t *testing.T) {
	first := NewTempo([]Change{{At: 1, BPM: 120}, {At: 17, BPM: 90, Over: 8}, {At: 30, PauseS: 2}})
	second := NewTempo([]Change{{At: 1, BPM: 60}})
	c := Clock{Movements: []MovementTime{{Counts: 48, Tempo: first}, {Counts: 16, Tempo: second}}}
	c.Movements[1].StartS = c.Seconds(Moment{1, 48}) + 5
	for m, counts := range []float64{48, 16} {
		for e := 0.0; e <= counts; e += 0.25 {
			want := Moment{m + 1, e}
			if got := c.At(c.Seconds(want)); got.Movement != want.Movement || math.Abs(got.Elapsed-want.Elapsed) > 1e-6 {
				t.Fatalf("%+v comes back as %+v", want, got)
			}
		}
	}
	for s, want := range map[float64]Moment{
		-3: {1, 0}, c.Seconds(Moment{1, 30}) - 1: {1, 30}, c.Seconds(Moment{1, 48}) + 2: {2, 0}, 1e6: {2, 16},
	} {
		if got := c.At(s); got.Movement != want.Movement || math.Abs(got.Elapsed-want.Elapsed) > 1e-6 {
			t.Errorf("%g s: %+v, want %+v", s, got, want)
		}
	}
}
