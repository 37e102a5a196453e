package music

import (
	"math"
	"slices"
	"sort"

	"backfield/layout/source"
	"backfield/layout/table"
)

// beatValue is what one count may be.
type beatValue struct {
	name     string
	quarters float64 // 0: as the meter has it
	words    string
}

var beats = []beatValue{
	{"quarter", 1, "a quarter note"},
	{"eighth", 0.5, "an eighth note"},
	{"half", 2, "a half note"},
	{"dotted-quarter", 1.5, "a dotted quarter note"},
	{"dotted-half", 3, "a dotted half note"},
	{"meter", 0, "a beat of the meter"},
}

// countScale is how many counts have passed at a place in quarters: straight stretches, one for a count of one note
// value.
type countScale struct {
	stretches []stretch
	words     string // what a count is
}

// stretch is a part of the piece in which one count is one note value.
type stretch struct {
	from, count float64 // where it begins, in quarters and in counts
	quarters    float64 // of one count
}

// scale takes what a count is from the score, or finds that it can only be a quarter note.
func (c *piece) scale(beat table.Text, at source.Span, p *source.Problems) countScale {
	if !beat.Set {
		for _, b := range c.bars {
			if len(b.meter.groups) > 0 && b.meter.unit != 4 {
				p.Add(whichBeat(at, c.name, b, c.notes(b.span)))
				break
			}
		}
	}
	i := slices.IndexFunc(beats, func(x beatValue) bool { return x.name == beat.Or("quarter") })
	if i < 0 {
		var names []string
		for _, x := range beats {
			names = append(names, x.name)
		}
		p.Add(unknownBeat(beat.Span, beat.V, names))
		i = 0
	}
	s := countScale{words: beats[i].words}
	if beats[i].quarters > 0 {
		s.stretches = []stretch{{0, 0, beats[i].quarters}}
		return s
	}
	for _, b := range c.bars {
		place := b.from
		for _, quarters := range b.meter.beats() {
			if place < b.from+b.length-1e-9 {
				s.add(place, quarters)
			}
			place += quarters
		}
	}
	return s
}

func (s *countScale) add(from, quarters float64) {
	n := len(s.stretches)
	if n > 0 && math.Abs(s.stretches[n-1].quarters-quarters) < 1e-9 {
		return
	}
	count := 0.0
	if n > 0 {
		count = s.count(from)
	}
	s.stretches = append(s.stretches, stretch{from, count, quarters})
}

func (s *countScale) at(quarters float64) stretch {
	i := sort.Search(len(s.stretches), func(i int) bool { return s.stretches[i].from > quarters+1e-9 })
	return s.stretches[max(i-1, 0)]
}

func (s *countScale) count(quarters float64) float64 {
	x := s.at(quarters)
	return snap(x.count + (quarters-x.from)/x.quarters)
}

// snap removes rounding errors from a place that is on a division of the beat that music is written in.
func snap(v float64) float64 {
	if near := math.Round(v*40320) / 40320; math.Abs(v-near) < 1e-9 { // 8!: by 128, 9, 5 and 7
		return near
	}
	return v
}
