package readings_test

import (
	"fmt"
	"strings"
	"testing"

	"backfield/cue/readings"
	"backfield/layout/source"
)

// file has a line for each reading: background 1, noise 2, brass 3, soloists 4 and 5, rings 6 to 8.
var file = &source.File{Name: "rig", Text: strings.Repeat("x\n", 8)}

func line(n int) source.Span { return source.Span{File: file, Start: 2 * (n - 1), End: 2*n - 1} }

// night is one on which nothing is odd, other than what is changed: N 103, brass 2 dB over the table at 74 dBA, soloists
// of 61 and 55 dBA who are 1 dB louder and 2 dB softer than everybody, rings 3, -2 and 1 dB off.
func night(change func(n *readings.SiteReadings)) string {
	solo := func(name string, at int, dba, db float64) readings.Reading {
		return readings.Reading{Name: name, Kind: "solo", At: line(at), Read: dba, ClearDBA: dba, DB: db}
	}
	n := readings.SiteReadings{
		Background: &readings.Reading{Kind: "background", At: line(1), Read: 47},
		Noise:      &readings.Reading{Name: "left", Kind: "noise", At: line(2), Read: 64.5, DB: 103},
		Brass:      &readings.Reading{Name: "trumpet", Kind: "brass", At: line(3), Read: 74, DB: 2},
		Solos:      []readings.Reading{solo("T1", 4, 61, 1), solo("M1", 5, 55, -2)},
	}
	for i, db := range []float64{3, -2, 1} {
		n.Rings = append(n.Rings, readings.Reading{Name: fmt.Sprint("mic ", i), Kind: "ring", At: line(6 + i), DB: db})
	}
	change(&n)
	var p source.Problems
	readings.Judge(&n, &p)
	var list []string
	for _, x := range p.All() {
		list = append(list, strings.TrimSuffix(x.Span.Where()[4:], ":1")+" "+x.Code+" "+x.What)
	}
	return strings.Join(list, "\n")
}

func TestJudge(t *testing.T) {
	noise := func(addDB float64) func(n *readings.SiteReadings) { // the noise read so much too loud
		return func(n *readings.SiteReadings) {
			n.Noise.DB += addDB
			for i := range n.Rings {
				n.Rings[i].DB -= addDB
			}
		}
	}
	brass := func(addDB float64) func(n *readings.SiteReadings) {
		return func(n *readings.SiteReadings) {
			n.Brass.DB += addDB
			for i := range n.Solos {
				n.Solos[i].DB -= addDB
			}
		}
	}
	solo := func(addDB float64) func(n *readings.SiteReadings) {
		return func(n *readings.SiteReadings) {
			n.Solos[0].Read, n.Solos[0].ClearDBA = n.Solos[0].Read+addDB, n.Solos[0].ClearDBA+addDB
			n.Solos[0].DB += addDB
		}
	}
	for name, c := range map[string]struct {
		change func(n *readings.SiteReadings)
		want   string // a line for each problem, as it begins
	}{
		"nothing odd":        {func(*readings.SiteReadings) {}, ""},
		"nothing read":       {func(n *readings.SiteReadings) { *n = readings.SiteReadings{} }, ""},
		"noise at its most":  {noise(9), "2 level-odd by this, all 3 fixed mics ring with the fader about 8 dB higher"},
		"noise 15 dB more":   {noise(15), "2 level-odd by this, noise at nominal has 118 dB at 1 m from the stack; usual is 94 to 112"},
		"noise 10 dB less":   {noise(-10), "2 level-odd by this, noise at nominal has 93 dB"},
		"noise 7 dB less":    {noise(-7), ""}, // the rings differ by too little from what is usual
		"noise 8.5 dB less":  {noise(-8.5), "2 level-odd by this, all 3 fixed mics ring with the fader about 9 dB lower"},
		"rings, no noise":    {func(n *readings.SiteReadings) { noise(13)(n); n.Noise = nil }, "7 level-odd by this, mic 1 rings with the fader 15 dB higher"},
		"one ring":           {func(n *readings.SiteReadings) { n.Rings[1].DB = -14 }, "7 level-odd by this, mic 1 rings with the fader 14 dB higher than computed; usual is up to 12"},
		"a ring just within": {func(n *readings.SiteReadings) { n.Rings[1].DB = -12 }, ""},
		"noise and one ring": {func(n *readings.SiteReadings) { noise(15)(n); n.Rings[0].DB += 30 },
			"2 level-odd by this, noise at nominal\n6 level-odd by this, mic 0 rings with the fader 18 dB lower"},
		"brass 15 dB more": {brass(15), "3 level-odd by this, everybody is +17 dB against the table; usual is -6 to 12"},
		"brass 9 dB more":  {brass(9), "3 level-odd by this, all 2 soloists play about 10 dB softer than everybody"},
		"a solo 15 dB more": {solo(15), "4 level-odd by this, T1 plays 16 dB louder than everybody; usual is up to 8. It is more than " +
			"the whole trumpet section (74 dBA)"},
		"a solo 12 dB more":  {solo(12), "4 level-odd by this, T1 plays 13 dB louder than everybody; usual is up to 8"},
		"a solo just within": {solo(7), ""},
		"two solos swapped": {func(n *readings.SiteReadings) {
			a, b := &n.Solos[0], &n.Solos[1]
			a.Read, a.ClearDBA, a.DB, b.Read, b.ClearDBA, b.DB = 55, 55, 1-6, 61, 61, -2+6
		}, "4 level-odd by this and line 5, T1 plays 5 dB softer than everybody and M1 4 dB louder: most likely the two readings are swapped"},
		"a loud background": {func(n *readings.SiteReadings) {
			n.Background.Read, n.TooSoft = 72, []readings.Reading{*n.Noise, *n.Brass, n.Solos[0]}
			n.Noise, n.Brass, n.Solos = nil, nil, n.Solos[1:]
		}, "1 level-noise the background of 72 dBA is within 3 dB of these readings, or over them: noise (64.5), brass (74), T1 (61)"},
		"two soft soloists": {func(n *readings.SiteReadings) { n.TooSoft, n.Solos = n.Solos, nil },
			"4 level-noise 61 dBA\n5 level-noise 55 dBA"},
		"one soft soloist": {func(n *readings.SiteReadings) { n.TooSoft, n.Solos = n.Solos[:1], n.Solos[1:] },
			"4 level-noise 61 dBA is less than 3 dB above the background of 47 dBA, so it says nothing: it is not used"},
		"a background of 17": {func(n *readings.SiteReadings) { n.Background.Read = 17 }, "1 level-odd a background of 17 dBA; usual is 25 to 70"},
		"a full house":       {func(n *readings.SiteReadings) { n.Background.Read = 71 }, "1 level-odd a background of 71 dBA"},
	} {
		got, want := strings.Split(night(c.change), "\n"), strings.Split(c.want, "\n")
		same := len(got) == len(want)
		for i := range min(len(got), len(want)) {
			same = same && strings.HasPrefix(got[i], want[i]) && (want[i] != "" || got[i] == "")
		}
		if !same {
			t.Errorf("%s:\n%s\nwant\n%s", name, strings.Join(got, "\n"), c.want)
		}
	}
}

// Of a player who is read three times none is used, and each other reading says where the first is.
func TestOnce(t *testing.T) {
	var p source.Problems
	var list []readings.Reading
	for i, name := range []string{"T1", "M1", "T1", "T1"} {
		list = append(list, readings.Reading{Name: name, At: line(i + 1), Read: 60 + float64(i)})
	}
	if got := fmt.Sprint(readings.Once(list, &p)); got != "[false true false false]" || len(p.All()) != 2 ||
		p.All()[1].What != "T1 is read twice, 63 here and 60 in line 1: neither is used" {
		t.Errorf("%s, %v", got, p.All())
	}
}
