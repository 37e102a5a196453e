package plain

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"

	"backfield/layout"
)

// TestISO9613 holds absorption to ISO 9613-1:1993, table 1, as transcribed in ../testdata.
func TestISO9613(t *testing.T) {
	file, err := os.Open("../testdata/iso9613_1_table1_points.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	rows, err := csv.NewReader(file).ReadAll()
	if err != nil || len(rows) < 60 {
		t.Fatalf("%d rows, %v", len(rows), err)
	}
	tried := 0
	for _, row := range rows[1:] {
		number := func(i int) float64 {
			x, err := strconv.ParseFloat(row[i], 64)
			if err != nil {
				t.Fatal(err)
			}
			return x
		}
		if row[9] != "yes" {
			continue
		}
		tried++
		got := 1000 * alphaDBPerM(number(3), number(0), number(1))
		near(t, row[0]+" "+row[1]+" "+row[2], got/number(4), 1, 0.006)
	}
	if tried < 50 {
		t.Errorf("%d points", tried)
	}
	// The two rows that the rules give, in dB/km.
	for b, want := range []float64{0.445, 1.318, 2.733, 4.665, 9.855, 29.419, 103.912} {
		near(t, "50 %", 1000*alphaDBPerM(midbandHz(b), 20, 50), want, 0.00051)
	}
	for b, want := range []float64{2.8, 5.0, 9.0, 22.9, 76.6} {
		near(t, "70 %", 1000*alphaDBPerM(midbandHz(b+2), 20, 70), want, tenth)
	}
}

// outdoors is the example of a sound system design manual, page 4-2, after C. P. and R. E. Boner 1969: a talker, a mic at
// ds, a loudspeaker 4 m from the mic, and a listener 6 m from the loudspeaker and 7 m from the talker. The gain is what
// the listener gets more with the fader just under feedback than from the talker alone.
func outdoors(k, ds, marginDB float64) float64 {
	s := examples()
	s.Horns = map[string]Horn{"talker": {90, 0, Octaves{-90, -90, -90, 0, -90, -90, -90}}}
	s.Humidity, s.BellUp = 100, 0
	talker := Musician{Instrument: "talker", At: layout.Point{}, Plays: true, Featured: true}
	// The mic looks away from the audience; the loudspeaker is 4 m above it, and so at 90 degrees.
	mic := layout.Point{Y: -ds}
	speaker := layout.Point{Y: -ds, Z: 4}
	s.Speakers = []Speaker{{At: speaker, Aim: s.Box, WideDeg: 90, HighDeg: 40, MouthM: 0.5}}
	s.Players = []Musician{talker}
	f := FixedEar{At: mic, K: k, FacingDeg: 180, PlainChannel: PlainChannel{Sends: []float64{0}}}
	f.Highest = s.FixedLevel(f).Flat()
	f.Fader = -highest(s.FixedLoop(f)) - marginDB
	// One listener is 7 m from the talker, the other 6 m from the loudspeaker.
	return s.FixedAt(f, layout.Point{Y: -ds - 6, Z: 4}).DBA() - s.OwnAt(talker, layout.Point{Y: -7}).DBA()
}

func TestGainOutdoors(t *testing.T) {
	near(t, "gain", outdoors(1, 1, 0), 13.4, tenth)
	near(t, "with margin", outdoors(1, 1, 6), 7.4, tenth)
	near(t, "cardioid", outdoors(0.5, 1, 6), 13.4, tenth)
	// 16 dB more than at 1 m: under 0.5 m the worn mic's rule applies, which knows no nearest distance.
	s := &PlainScene{AirC: 20, Horns: map[string]Horn{"talker": {90, 0, Octaves{}}}}
	level := func(d float64) float64 {
		return s.wornLevel(Musician{Instrument: "talker", Mic: &WornEar{FromBellM: d}}, 0).Flat()
	}
	near(t, "0.16 m", level(0.16)-level(1), 16, 0.1)
}

// TestPublishedSums are an air-conditioning maker's acoustics course (figure 24), its rule for adding, and ISO 9613-2.
func TestPublishedSums(t *testing.T) {
	near(t, "dBA", Sum(Octaves{52, 45, 38, 31, 24, 16, 10}.DBA(), 63-26.2), 42.5, tenth)
	near(t, "62 and 73", Sum(62, 73), 73.3, tenth)
	s := &PlainScene{AirC: 20, Humidity: 50, Horns: map[string]Horn{"point": {100, 0, Octaves{}}}}
	at := func(d float64) float64 {
		return s.OwnAt(Musician{Instrument: "point", Plays: true}, layout.Point{X: d}).plus(10 * lg(7))[0]
	}
	near(t, "a doubling", at(1)-at(2), 6.0, tenth)
	near(t, "Adiv at 100 m", 100-at(100), 51.0, 0.1)
}

// TestDoses is table 1-1 of NIOSH publication 98-126.
func TestDoses(t *testing.T) {
	for _, x := range []LevelHeld{{85, 8}, {91, 2}, {100, 0.25}} {
		near(t, "dose", Dose([]LevelHeld{x}, x.Hours), 100, 1e-9)
	}
	near(t, "a run of half an hour in a day of three", Dose([]LevelHeld{{91, 0.25}, {85, 0.25}}, 3),
		100*6*(0.25/2+0.25/8), 1e-9)
}

// TestUnflangedPipe: where the cap does not act, the index is within 1.1 dB of the exact pipe's (ka)^2/(1-|R|^2) (Levine
// and Schwinger 1948).
func TestUnflangedPipe(t *testing.T) {
	tried := 0
	for _, h := range Sections() {
		if h.RadiusM == 0 {
			continue
		}
		for b, index := range newBell(h.RadiusM, 20).index {
			ka := 2 * math.Pi * midbandHz(b) * h.RadiusM / 343.2
			if ka*math.Pow(10, 0.1) > 4.5 {
				continue
			}
			tried++
			g := reflection(ka)
			near(t, "index", index, 10*lg(ka*ka/(1-g*g)), 1.1)
		}
	}
	if tried < 15 {
		t.Errorf("%d bands", tried)
	}
}

// TestReadings: what is too close to the background is refused, and the rest loses it.
func TestReadings(t *testing.T) {
	if _, ok := WithoutBackground(49.9, 47); ok {
		t.Error("2.9 dB above the background is not refused")
	}
	level, ok := WithoutBackground(50, 47)
	near(t, "50 over 47", level, 46.98, cents)
	if !ok {
		t.Error("3 dB above the background is refused")
	}
	s := small()
	s.Band = 1.5
	m := s.Players[0]
	m.Own = 2
	near(t, "player", s.PlayerFrom(s.OwnDBA([]Musician{m}), m), 2, 1e-9)
}

func TestGroups(t *testing.T) {
	group, nudges := GroupChange([]float64{1, 4, 2.5, 3})
	if group != 3 || nudges[0] != -2 || nudges[1] != 0 || nudges[2] != 0 {
		t.Errorf("%v %v: want 3, the middle of 2.5 and 3 with halves up, and a nudge of -2", group, nudges)
	}
	if group, _ = GroupChange([]float64{-1.5, -1}); group != -1 {
		t.Errorf("%v: want -1.25 to go up to -1", group)
	}
}
