package notes

import (
	"cmp"
	"math"
	"slices"
	"sort"

	"backfield/layout/level"
)

// lasting are the dynamic marks of MusicXML that hold until the next, as the nearest that have a level here. An accent,
// sf or sfz, is over with its note.
var lasting = map[string]string{
	"pppppp": "pp", "ppppp": "pp", "pppp": "pp", "ppp": "pp", "n": "pp", "pp": "pp", "sfpp": "pp",
	"p": "p", "fp": "p", "sfp": "p", "mp": "mp", "mf": "mf", "f": "f", "pf": "f",
	"ff": "ff", "fff": "ff", "ffff": "ff", "fffff": "ff", "ffffff": "ff",
}

// lastingDB is the level of a mark that holds until the next, in dB from forte.
func lastingDB(mark string) (db float64, ok bool) {
	return level.DynamicsDB(lasting[mark])
}

// stepDB is how much a hairpin changes that leads to no mark, in dB: one mark of those from pp to f.
const stepDB = 4.0

// reachQuarters is how far behind a hairpin the mark may be that it leads to.
const reachQuarters = 1.0

// loudRamp is a stretch of dynamics from one level straight to another, in dB from forte.
type loudRamp struct {
	from, to     float64
	fromDB, toDB float64
}

// dynamicsCourse is how loudly a staff plays over time.
type dynamicsCourse struct {
	ramps    []loudRamp // in order; each level holds until the next begins
	markedAt float64
	marked   bool
}

// change reports whether a sign begins a change of level, and which way.
func (s *staffSign) change() (begins, louder bool) {
	begins, louder = changeWords(s.words)
	return begins || s.wedge == "crescendo" || s.wedge == "diminuendo", louder || s.wedge == "crescendo"
}

// grid is how many places there are in a quarter note. Sums of fractions that are the same place are rounded to the
// same one: fractions of powers of two are on the grid, and those of 3, 5 and 7 are never halfway between two.
const grid = 1 << 20

// onGrid rounds a place, in quarters.
func onGrid(quarters float64) float64 { return math.Round(quarters*grid) / grid }

// newCourse follows the signs of a staff, whose places count from the first instant.
func newCourse(signs []staffSign) *dynamicsCourse {
	c := &dynamicsCourse{}
	var begin *staffSign
	dashes := map[string]float64{} // by number: where the line began
	for i := range signs {
		s := &signs[i]
		begins, _ := s.change()
		if s.dashes == "start" {
			dashes[s.number] = s.at
		}
		from, dashed := dashes[s.number]
		if begin != nil && s.at > begin.at && (s.mark || begins || s.wedge == "stop" && begin.wedge != "" ||
			s.dashes == "stop" && dashed && begin.wedge == "" && math.Abs(from-begin.at) <= reachQuarters) {
			c.change(begin, s.at, signs[i:])
			begin = nil
		}
		if s.mark {
			if !c.marked {
				c.marked, c.markedAt = true, s.at
			}
			c.add(loudRamp{s.at, s.at, s.db, s.db})
		}
		if begins { // also of "f, dim."
			begin = s
		}
	}
	return c
}

// change adds what a hairpin does up to its end: it leads to a mark that comes then, if that is its way.
func (c *dynamicsCourse) change(begin *staffSign, end float64, signs []staffSign) {
	soft, _ := level.DynamicsDB("pp")
	loud, _ := level.DynamicsDB("ff")
	from := c.at(begin.at)
	_, louder := begin.change()
	to := min(from+stepDB, loud)
	if !louder {
		to = max(from-stepDB, soft)
	}
	for _, next := range signs {
		if next.at > end+reachQuarters {
			break
		}
		if next.mark {
			if next.db > from == louder && next.db != from {
				to = next.db
			}
			break
		}
	}
	c.add(loudRamp{begin.at, end, from, to})
}

func (c *dynamicsCourse) add(r loudRamp) { c.ramps = append(c.ramps, r) }

// at is how loud a place is, in dB from forte. Before the first sign it is forte.
func (c *dynamicsCourse) at(place float64) float64 {
	i := sort.Search(len(c.ramps), func(i int) bool { return c.ramps[i].from > place+tiny })
	if i == 0 {
		return 0
	}
	r := c.ramps[i-1]
	if place >= r.to-tiny {
		return r.toDB
	}
	return r.fromDB + (r.toDB-r.fromDB)*max(place-r.from, 0)/(r.to-r.from)
}

// ordered sorts signs by place; those of one place stay as they are written.
func ordered(signs []staffSign) {
	slices.SortStableFunc(signs, func(a, b staffSign) int { return cmp.Compare(a.at, b.at) })
}
