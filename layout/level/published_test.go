package level_test

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"

	"backfield/layout"
	"backfield/layout/level"
)

// rows reads a table of testdata, without its heading.
func rows(t *testing.T, name string) [][]string {
	t.Helper()
	f, err := os.Open("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	list, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return list[1:]
}

// source is the row of level_sources.csv that a published value is from: it must have been read, and hold that value.
func source(t *testing.T, quantity, value string) {
	t.Helper()
	for _, row := range rows(t, "level_sources.csv") {
		if row[0] == quantity {
			if row[1] != value || row[4][:4] != "read" {
				t.Errorf("%s: the source has %q (%s), not %q", quantity, row[1], row[4], value)
			}
			return
		}
	}
	t.Errorf("no source for %s", quantity)
}

// TestAbsorption: Table 1 of ISO 9613-1:1993 as printed, to three digits.
func TestAbsorption(t *testing.T) {
	n := 0
	for _, row := range rows(t, "iso9613_1_table1_points.csv") {
		if row[9] != "yes" {
			continue
		}
		var v [5]float64
		for i, cell := range []int{0, 1, 3, 4} {
			v[i], _ = strconv.ParseFloat(row[cell], 64)
		}
		got := 1000 * level.Air{C: v[0], HumidityPct: v[1]}.AbsorptionDBPerM(v[2])
		digit := math.Pow(10, math.Floor(math.Log10(v[3]))-2)
		near(t, row[0]+" C "+row[1]+" % "+row[2]+" Hz", got, v[3], digit/2*1.01)
		n++
	}
	if n != 88 {
		t.Errorf("%d points, want 88", n)
	}
	// Published example 7: 20 C, 70 %, 500 to 8000 Hz (ISO 9613-2:1996, Table 2, read in transcriptions).
	for i, want := range []float64{2.8, 5.0, 9.0, 22.9, 76.6} {
		near(t, "20 C, 70 %", 1000*level.Air{C: 20, HumidityPct: 70}.AbsorptionDBPerM(level.MidbandsHz[2+i]), want, 0.051)
	}
	// The line of the specification: 20 C, 50 %.
	for i, want := range []float64{0.445, 1.318, 2.733, 4.665, 9.855, 29.419, 103.912} {
		near(t, "20 C, 50 %", 1000*level.Air{C: 20, HumidityPct: 50}.AbsorptionDBPerM(level.MidbandsHz[i]), want, 0.00051)
	}
}

// field is a system outdoors: a talker at 0, a mic at ds from them, a stack at d1 from the mic, a listener at
// d2 from the stack and d0 from the talker; all of them sound and hear the same all around, and nothing is lost in air.
// It returns how far over the talker the stack is at the listener, with the mic opened to margin dB before feedback. A
// cardioid mic hears the stack from 90 degrees.
func field(t *testing.T, ds, d1, d2, d0, margin float64, cardioid bool) float64 {
	t.Helper()
	pitch := &level.Instrument{Name: "talker", PowerDB: 80, ShapeDB: level.Bands{-99, -99, -99, 0, -99, -99, -99}}
	// The stack is d1 beside the mic, so that a cardioid mic that faces the talker hears it from 90 degrees.
	talker, mic := layout.Point{Z: 1}, layout.Point{Y: ds, Z: 1}
	stack := layout.Point{X: d1, Y: ds, Z: 1}
	omni := level.AimedStack{At: stack, Aim: layout.Point{X: 2 * d1, Y: ds, Z: 1}, AcrossDeg: 90, UpDeg: 40, MouthM: 0.5}
	s := level.NewStadium(level.Conditions{Air: level.Air{C: 20, HumidityPct: 50}, Box: talker,
		Stacks: []level.AimedStack{omni}, NominalDB: 100}, pitch)
	p := &level.Playing{
		Performers: []level.Performer{{Instrument: pitch, At: talker}},
		Fixed: []level.FixedMic{{Strip: level.Strip{SendDB: []float64{0}}, At: mic, OmniShare: level.OmniMic,
			Facing: level.FacingDeg(0)}},
	}
	m := &p.Fixed[0]
	if cardioid {
		m.OmniShare = level.CardioidMic
	}
	m.HighestDB = s.MicDB(p, m)
	loop, _ := s.Loops(p).GreatestDB()
	m.FaderDB = -margin - loop
	at := func(r float64) level.Energies { // the stack's sound at r from it
		terms, _ := s.FixedTerms(p, m, 0, layout.Point{X: d1 + r, Y: ds, Z: 1})
		return terms.LevelDB.Energies()
	}
	own := s.Own(&p.Performers[0], layout.Point{Y: -d0, Z: 1})
	heard := at(d2)
	return level.Decibels(heard[3] / own[3])
}

// TestPublished has the published examples 1 to 6 and 8: our value, and in brackets what the source prints.
func TestPublished(t *testing.T) {
	// 1 and 2: a sound system design manual, pages 4-2 to 4-5, after C. P. and R. E. Boner 1969.
	source(t, "most gain worked example", "53 | 66.5 | 13.5")
	near(t, "1: gain outdoors (13.5)", field(t, 1, 4, 6, 7, 0, false), 13.4, 0.06)
	source(t, "safety margin", "6")
	source(t, "with margin and with both directional elements", "7.5 and 13.5")
	near(t, "2: with 6 dB margin (7.5)", field(t, 1, 4, 6, 7, 6, false), 7.4, 0.06)
	near(t, "2: and a cardioid mic at 90 degrees (13.5)", field(t, 1, 4, 6, 7, 6, true), 13.4, 0.06)
	// 3: with the mic at 0.16 m instead of 1 m, the same loudspeaker level takes 16 dB less gain, and so leaves more margin.
	source(t, "mic distance for 16 dB", "0.16")
	s, p := smallStadium(100, 0), level.Performer{Instrument: instrument("snare")}
	gain := func(m float64) float64 { return s.WornGainDB(&p, &level.WornMic{FromBellM: m}) }
	near(t, "3: mic at 0.16 m", gain(1)-gain(0.16), 16, 0.1)
	// 5: an air-conditioning maker's acoustics course, Figure 24. The band of 63 Hz, -26.2 dB, is below ours.
	source(t, "A-weighted sum example", "42")
	sum := level.Sum(63-26.2, level.Bands{52, 45, 38, 31, 24, 16, 10}.ADB())
	near(t, "5: A-weighted sum (42)", sum, 42.5, 0.05)
	// 6: energy sums and distances.
	near(t, "6: 62 and 73 dB", level.Sum(62, 73), 73.3, 0.05)
	// 8: NIOSH publication 98-126, Table 1-1.
	source(t, "NIOSH limit", "85 for 8 h and 3 dB exchange")
	for _, c := range []struct{ dba, hours float64 }{{85, 8}, {91, 2}, {100, 0.25}, {82, 16}, {94, 1}, {115, 28.125 / 3600}} {
		near(t, "8: dose", level.DosePct(c.dba, c.hours), 100, 1e-9)
	}
	source(t, "open mics", "3 dB a doubling") // four of them are in TestExample11
}

// TestDistances is published example 6, by the model itself.
func TestDistances(t *testing.T) {
	flat := &level.Instrument{Name: "flat", PowerDB: 100}
	s := level.NewStadium(level.Conditions{Air: level.Air{C: 20, HumidityPct: 50}}, flat)
	p := level.Performer{Instrument: flat}
	at := func(r float64) level.OwnTerms { return s.OwnTerms(&p, layout.Point{X: r}) }
	near(t, "a doubling", at(50).SpreadDB-at(100).SpreadDB, 6.02, half)
	near(t, "100 m", -at(100).SpreadDB, 51.0, 0.05)
}

// TestAWeights: a printed table with its formula (lichtbeeldgeluid.nl, read). The weights are those of IEC 61672.
func TestAWeights(t *testing.T) {
	source(t, "A weighting at midbands", "-16.1 -8.6 -3.2 0 1.2 1.0 -1.1")
	a := func(f float64) float64 {
		f *= f
		r := 12194 * 12194 * f * f / ((f + 20.6*20.6) * math.Sqrt((f+107.7*107.7)*(f+737.9*737.9)) * (f + 12194*12194))
		return 20*math.Log10(r) + 2.00
	}
	for b, want := range level.AWeightsDB {
		near(t, "A weight", a(level.MidbandsHz[b]), want, 0.06)
	}
}

// TestCoverage is published example 4: Q = 180/asin(sin(h/2) sin(v/2)) (Molloy, read in a sound system design manual, page
// 3-3). The Gaussian beam is 2 to 2.4 dB above it where the mouth controls it, since it has next to nothing beside the
// main beam: the floor from front to back makes up for that in part.
func TestCoverage(t *testing.T) {
	source(t, "directivity of loudspeaker Q", "180/asin(sin(h/2) sin(v/2))")
	for _, c := range []struct{ h, v, want float64 }{{90, 40, 12.9}, {40, 20, 52.9}} {
		sin := func(deg float64) float64 { return math.Sin(deg / 2 * math.Pi / 180) }
		q := 180 / (math.Asin(sin(c.h)*sin(c.v)) * 180 / math.Pi)
		near(t, "4: Q", q, c.want, 0.05)
		k := level.DefaultStack(layout.Point{}, layout.Point{Y: 1})
		k.AcrossDeg, k.UpDeg, k.MouthM = c.h, c.v, 5
		k.FrontBackDB = level.Bands{60, 60, 60, 60, 60, 60, 60}
		var mean float64
		for el := -89.5; el < 90; el++ {
			for az := -179.5; az < 180; az++ {
				e, a := el*math.Pi/180, az*math.Pi/180
				p := layout.Point{X: math.Cos(e) * math.Sin(a), Y: math.Cos(e) * math.Cos(a), Z: math.Sin(e)}
				mean += level.Energy(k.TowardDB(p)[5]) * math.Cos(e)
			}
		}
		mean *= math.Pi / 180 * math.Pi / 180 / (4 * math.Pi)
		near(t, "4: the beam's index in dB", -level.Decibels(mean)-10*math.Log10(q), 2.2, 0.2)
	}
}

// TestPipe: up to the cap on ka, the gain on the axis is within 1.1 dB of the exact unflanged pipe's, (ka)^2/(1-|R|^2)
// (Levine and Schwinger 1948).
func TestPipe(t *testing.T) {
	const c = 343.2
	for _, a := range []float64{0.061, 0.127, 0.254} {
		d := level.BellDirections(a, 20)
		for b, f := range level.MidbandsHz {
			ka := 2 * math.Pi * f * a / c
			if ka*math.Pow(10, 0.1) > 4.5 {
				continue
			}
			r := level.Reflection(ka)
			near(t, "pipe", d.IndexDB[b], 10*math.Log10(ka*ka/(1-r*r)), 1.1)
		}
	}
	if low, high := level.Reflection(0.9999999), level.Reflection(1); math.Abs(low-high) > 0.01 {
		t.Errorf("the reflection jumps from %v to %v at ka = 1", low, high)
	}
}
