package music

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// finish gives the bars their places and lengths, and everything in them.
func (x *partwise) finish() *piece {
	if len(x.c.bars) == 0 {
		x.bad("has no measure", "export the music, with its measures")
		return nil
	}
	if !x.placeBars() {
		return nil
	}
	x.placeSigns()
	c := x.c
	switch {
	case len(c.tempos) == 0 || c.tempos[0].at > 1e-9:
		x.p.Add(noTempo(c.bars[0].span, x.at))
		return nil
	case len(c.tempos) > mostTempos:
		x.bad(fmt.Sprintf("has more than %d tempos", mostTempos), "check that it is the right file")
		return nil
	case !x.agree(c.tempos):
		return nil
	}
	var lengths []float64
	for _, b := range c.bars {
		lengths = append(lengths, b.length)
	}
	at, fault := x.repeats.Inside(lengths)
	var order []int
	if fault == nil {
		order, at, fault = x.repeats.Order(len(c.bars), mostMeasures)
	}
	if fault == nil && x.timed.File != nil && x.repeats.Jumps() {
		at, fault = x.timed, timedAndJump()
	}
	if fault != nil {
		x.p.Add(unclearRepeats(at, x.whereIn(at), fault, x.at))
		return nil
	}
	return x.played(order)
}

// placeBars lays the bars end to end, each as long as what it holds, or as its meter where it holds nothing.
func (x *partwise) placeBars() bool {
	c, place := x.c, 0.0
	for i := range c.bars {
		b := &c.bars[i]
		b.from, b.length = place, x.held[i]
		meant := b.length
		if len(b.meter.groups) > 0 {
			meant = b.meter.quarters()
		}
		switch {
		case b.length < 1e-9:
			b.length = meant
		case math.Abs(b.length-meant) > 1e-6 && !x.implicit[i] && i < len(c.bars)-1:
			x.p.Add(measureLength(*b, meant, i == 0, x.at))
		}
		if b.length < 1e-9 {
			x.p.Add(emptyMeasure(b.span, b.number, x.at))
			return false
		}
		if place += b.length; place > mostQuarters {
			x.bad(fmt.Sprintf("lasts more than %d quarter notes, which is too long", mostQuarters),
				"check that it is the right file")
			return false
		}
	}
	c.bars[0].pickup = c.bars[0].pickup && len(c.bars) > 1 && c.bars[0].length < c.bars[1].length-1e-9
	c.least, c.most = place, place
	return true
}

// placeSigns gives tempos, marks and fermatas their places in the piece, in order. A mark that several parts have is
// one.
func (x *partwise) placeSigns() {
	c := x.c
	for _, w := range x.within {
		from := c.bars[w.bar].from
		at := math.Max(from+w.at, 0)
		switch {
		case w.tempo > 0:
			c.tempos = append(c.tempos, fileTempo{at, w.tempo, w.part, w.span})
		case w.mark != "":
			c.marks = append(c.marks, fileMark{w.mark, at})
		case w.fermata:
			c.fermatas = append(c.fermatas, fermata{at, from + w.to, w.span})
		}
	}
	slices.SortStableFunc(c.tempos, func(a, b fileTempo) int { return cmp.Compare(snap(a.at), snap(b.at)) })
	slices.SortStableFunc(c.marks, func(a, b fileMark) int {
		return cmp.Or(cmp.Compare(snap(a.at), snap(b.at)), cmp.Compare(a.name, b.name))
	})
	slices.SortStableFunc(c.fermatas, func(a, b fermata) int { return cmp.Compare(snap(a.from), snap(b.from)) })
	c.marks = slices.CompactFunc(c.marks, func(a, b fileMark) bool {
		return a.name == b.name && math.Abs(a.at-b.at) < 1e-9
	})
}
