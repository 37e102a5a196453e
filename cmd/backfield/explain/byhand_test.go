package explain_test

import (
	"bytes"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"backfield/cmd/backfield/explain"
	"backfield/cmd/backfield/show"
	"backfield/cue"
)

// sheet is a text of explain in front of someone with a calculator. It takes every number from the text and from
// nowhere else, and counts what it has computed.
type sheet struct {
	*testing.T
	text     string
	computed map[string]int
}

// find is the numbers that a pattern captures, one list for each match.
func (s *sheet) find(pattern string) (rows [][]string) {
	for _, m := range regexp.MustCompile(`(?m)`+pattern).FindAllStringSubmatch(s.text, -1) {
		rows = append(rows, m[1:])
	}
	return rows
}

// number is a printed number.
func (s *sheet) number(text string) float64 {
	v, err := strconv.ParseFloat(text, 64)
	if err != nil {
		s.Fatalf("%q is no number in\n%s", text, s.text)
	}
	return v
}

func (s *sheet) same(what, printed string, computed, within float64) {
	s.Helper()
	s.computed[what]++
	if v := s.number(printed); !(math.Abs(v-computed) <= within) {
		s.Errorf("%s: printed %s, by hand %.5f, in\n%s", what, printed, computed, s.text)
	}
}

// followed computes every number of the delay, the glide and the seats that the text prints from others.
func (s *sheet) followed() {
	speed := s.number(s.find(`^  c = .* = ([0-9.]+) m/s at`)[0][0])
	at := s.find(`^  meters +x (-?[0-9.]+) .*, y (-?[0-9.]+) \(.*, z (-?[0-9.]+)$`)[0]
	x, y, z := s.number(at[0]), s.number(at[1]), s.number(at[2])
	for _, m := range s.find(`^  reference +x (-?[0-9.]+), y (-?[0-9.]+), z (-?[0-9.]+) m`) {
		own := s.find(`^  own sound +([0-9.]+) m to the reference seat / ([0-9.]+) m/s = ([0-9.]+) ms`)
		if len(own) == 0 {
			return
		}
		d := math.Hypot(math.Hypot(x-s.number(m[0]), y-s.number(m[1])), z-s.number(m[2]))
		s.same("distance", own[0][0], d, 0.02) // the height is printed in cm
		s.same("own sound", own[0][2], 1000*s.number(own[0][0])/speed, 0.002)
	}
	need := s.box()
	s.bound(need)
	s.knots(need)
	s.seats(x, y, z, speed)
}

// box follows the stacks' table to the need of the press box.
func (s *sheet) box() (needMS float64) {
	name := `^  (\S.*\S) +([0-9.]+) +([0-9.]+) +([0-9.]+) +([0-9.]+) +([0-9.]+)  ` +
		`(-?[0-9.]+) \+ (-?[0-9.]+) \+ ([0-9.]+) = ([0-9.]+) ms$`
	rows := s.find(name)
	loudest := 0.0
	for _, r := range rows {
		loudest = math.Max(loudest, s.number(r[3]))
	}
	type arrival struct{ ms, counts float64 }
	var list []arrival
	for _, r := range rows {
		s.same("amplitude there", r[3], s.number(r[1])/s.number(r[2]), 2e-7)
		s.same("of the loudest", r[4], s.number(r[3])/loudest, 1e-4)
		s.same("counts", r[5], max(0, min((s.number(r[4])-0.2)/0.3, 1)), 3e-4)
		s.same("arrival", r[9], s.number(r[6])+s.number(r[7])+s.number(r[8]), 0.011)
		list = append(list, arrival{s.number(r[9]), s.number(r[5])})
	}
	first, counted := 0.0, 0.0
	for counted < 1-1e-9 {
		next := arrival{math.Inf(1), 0}
		for _, a := range list { // the next in time that counts more than those before it
			if a.counts > counted && (a.ms < next.ms-1e-9 || a.ms < next.ms+1e-9 && a.counts > next.counts) {
				next = a
			}
		}
		first += (next.counts - counted) * next.ms
		counted = next.counts
	}
	if one := s.find(`^  first +\S.*, after ([0-9.]+) ms$`); len(one) > 0 {
		s.same("first of one stack", one[0][0], first, 0.002)
	} else {
		s.same("first of several stacks", s.find(`^  first +.* = ([0-9.]+) ms$`)[0][0], first, 0.05)
	}
	n := s.find(`^  need +([0-9.]+) - ([0-9.]+) = (-?[0-9.]+) ms`)[0]
	s.same("need", n[2], s.number(n[0])-s.number(n[1]), 0.0011)
	return s.number(n[2])
}

// bound follows the press box's bound, and the table of delays around the one that is sent.
func (s *sheet) bound(needMS float64) {
	for _, r := range s.find(`^  box (?:from|to) +(-?[0-9.]+) \+ ([0-9.]+) = (-?[0-9.]+) ms`) {
		s.same("bound", r[2], s.number(r[0])+s.number(r[1]), 0.0011)
		s.same("bound", r[0], needMS, 1e-9)
	}
	for _, r := range s.find(`^ +([0-9.]+) +([0-9.]+) +(-?[0-9.]+)   (.*)$`) {
		s.same("gap at the press box", r[2], s.number(r[0])-needMS, 0.0011)
		if share := s.number(r[1]); share < 0 || share > 100.001 {
			s.Errorf("%s %% in time in\n%s", r[1], s.text)
		}
		bounds := s.find(`^  box (?:from|to) +.* = (-?[0-9.]+) ms`)
		switch {
		case strings.Contains(r[3], "least"):
			s.same("row of the bound", r[0], s.number(bounds[0][0]), 1e-9)
		case strings.Contains(r[3], "most") && !strings.Contains(r[3], "here"):
			s.same("row of the bound", r[0], s.number(bounds[1][0]), 1e-9)
		}
	}
}

// knots follows the gaps, speeds and pitches of the glide: from the need that the delay's part ends in, and from the
// seats in time with the delay that is sent.
func (s *sheet) knots(needMS float64) {
	share := ""
	if strings.Contains(s.text, "gap ms  in time %") {
		share = ` +([0-9.]+|-)`
	}
	rows := s.find(`^  ([0-9]+:[0-9.]+) +([0-9.]+) +([0-9.]+) +(-?[0-9.]+) +(-?[0-9.]+) +(-?[0-9.]+)` + share +
		`(?: +(\S+) +(\S+))?(?: +-?[0-9]+\.[0-9]{2})?$`)
	for i, r := range rows {
		s.same("gap at a knot", r[5], s.number(r[2])-s.number(r[4]), 0.051)
		speed, cents := r[len(r)-2], r[len(r)-1]
		if i == 0 {
			s.same("need at the first knot", r[4], needMS, 0.0011)
			sent := s.find(`^ +([0-9.]+) +([0-9.]+) +-?[0-9.]+   sent$`)
			if share != "" && len(sent) > 0 && s.number(sent[0][0]) == s.number(r[2]) {
				s.same("in time at the first knot", r[6], s.number(sent[0][1]), 0.011)
			}
			continue
		}
		if speed == "-" {
			continue
		}
		before := rows[i-1]
		seconds := s.number(r[1]) - s.number(before[1])
		v := (s.number(r[2]) - s.number(before[2])) / seconds
		s.same("ms a second", speed, v, 0.0051+math.Abs(v)*0.001/seconds+0.0001)
		s.same("cents", cents, 1200*math.Log2(1-v/1000), 0.06+0.002*math.Abs(v)/seconds)
		if math.Abs(s.number(cents)) > 14.05 {
			s.Errorf("%s cents, in\n%s", cents, s.text)
		}
	}
}

// seats follows the three seats.
func (s *sheet) seats(x, y, z, speed float64) {
	rows := s.find(`^  (best|median|worst) +(-?[0-9.]+) +(-?[0-9.]+) +(-?[0-9.]+) +([0-9.]+) +([0-9.]+) \S.* +` +
		`(-?[0-9.]+) +(-?[0-9.]+) +([0-9.]+)$`)
	if len(rows) == 0 {
		return
	}
	sent := s.number(s.find(`^  gap = ([0-9.]+) ms sent - need`)[0][0])
	edges := s.find(`^  a gap of (-?[0-9.]+) to ([0-9.]+) ms counts in full, one under (-?[0-9.]+) or over ([0-9.]+) ms`)[0]
	full, last := [2]float64{s.number(edges[0]), s.number(edges[1])}, [2]float64{s.number(edges[2]), s.number(edges[3])}
	before := -1.0
	for _, r := range rows {
		d := math.Hypot(math.Hypot(x-s.number(r[1]), y-s.number(r[2])), z-s.number(r[3]))
		s.same("own sound at a seat", r[4], 1000*d/speed, 0.05) // heights are printed in cm
		s.same("need of a seat", r[6], s.number(r[4])-s.number(r[5]), 0.0011)
		gap := sent - s.number(r[6])
		s.same("gap", r[7], gap, 0.0011)
		counts := 1.0
		switch {
		case gap < full[0]:
			counts = max(0, (gap-last[0])/(full[0]-last[0]))
		case gap > full[1]:
			counts = max(0, (last[1]-gap)/(last[1]-full[1]))
		}
		s.same("what a seat counts", r[8], counts, 0.0006)
		if off := math.Abs(gap - (full[0]+full[1])/2); off < before-0.001 {
			s.Errorf("the seats are out of order in\n%s", s.text)
		} else {
			before = off
		}
	}
}

// Everything that is computed can be followed by hand, from the numbers that are printed: for every player who walks
// along a path, in stereo, with zones, and on mixers that click.
func TestFollowByHand(t *testing.T) {
	for name, o := range map[string]show.LoadOptions{
		"harbor": {}, "kites": {}, "mill": {}, "foghorn": {},
		"harbor with zones": {Venue: "../../../examples/harbor/venues/lantern-quay-zones.toml"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			s := load(t, strings.TrimSuffix(name, " with zones"), o)
			computed, texts := map[string]int{}, 0
			for i := range s.Show.Cues {
				for _, ch := range s.Show.Cues[i].Channels {
					if !ch.Open || ch.Kind != cue.Worn || len(ch.Glide) == 0 || texts >= 40 {
						continue
					}
					var b bytes.Buffer
					if err := explain.Write(&b, s, s.Show.Cues[i].ID, ch.Player); err != nil {
						t.Fatal(err)
					}
					(&sheet{t, b.String(), computed}).followed()
					texts++
				}
			}
			if texts == 0 {
				t.Fatal("nobody walks")
			}
			needed := []string{"own sound", "need", "arrival", "counts", "distance", "gap at a knot",
				"need at the first knot"}
			if strings.HasPrefix(name, "harbor") {
				needed = append(needed, "bound", "gap at the press box", "row of the bound", "ms a second", "cents",
					"need of a seat", "what a seat counts", "first of one stack", "in time at the first knot")
			}
			if name == "harbor" {
				needed = append(needed, "first of several stacks")
			}
			for _, what := range needed {
				if computed[what] == 0 {
					t.Errorf("%s: never computed in %d texts", what, texts)
				}
			}
		})
	}
}
