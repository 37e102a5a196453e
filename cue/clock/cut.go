package clock

import "slices"

// TimeCut is a part of the show that is not played: from From on, up to To. What is at From is not played, what is at To is.
// Both are the same instant of the show clock, which is the joint.
type TimeCut struct {
	From, To Moment
	Wait     bool // the silence before To's movement is kept, where To is its downbeat
}

// has reports whether a moment is in the cut.
func (x TimeCut) has(m Moment) bool { return !m.Before(x.From) && m.Before(x.To) }

// Leave takes cuts out of a clock that has none: no time passes in them, and counts and sets keep their names. The
// silence before a movement whose downbeat is cut goes too. Cuts that meet become one.
func (c *Clock) Leave(cuts []TimeCut) {
	c.Cuts = joined(cuts)
	if len(c.Cuts) == 0 {
		return
	}
	c.Movements = slices.Clone(c.Movements)
	wasS, startS := 0.0, 0.0 // the end of the movement before, without and with the cuts
	for i := range c.Movements {
		v := &c.Movements[i]
		waitS := v.StartS - wasS
		wasS = v.StartS + v.Tempo.Seconds(v.Counts)
		if c.noWait(i + 1) {
			waitS = 0
		}
		v.StartS = startS + waitS
		for _, x := range c.Cuts {
			if lo, hi, ok := x.in(i+1, v.Counts); ok {
				v.Tempo.cuts = append(v.Tempo.cuts, tempoCut{lo, hi})
			}
		}
		startS = v.StartS + v.Tempo.Seconds(v.Counts)
	}
}

// in is the part of the cut that is in a movement, in counts elapsed since the downbeat.
func (x TimeCut) in(movement int, counts float64) (lo, hi float64, ok bool) {
	if movement < x.From.Movement || movement > x.To.Movement {
		return 0, 0, false
	}
	hi = counts
	if movement == x.From.Movement {
		lo = x.From.Elapsed
	}
	if movement == x.To.Movement {
		hi = x.To.Elapsed
	}
	return lo, hi, hi > lo
}

// noWait reports whether the silence before a movement is cut. None comes before the first count that is played.
func (c *Clock) noWait(movement int) bool {
	downbeat := Moment{Movement: movement}
	for _, x := range c.Cuts {
		switch first := x.From.Compare(Moment{Movement: 1}) == 0; {
		case first && movement <= x.To.Movement:
			return true
		case x.Wait && x.To == downbeat:
		case x.From.Movement < movement && !x.To.Before(downbeat):
			return true
		}
	}
	return false
}

// joined are cuts in order, those that meet as one.
func joined(cuts []TimeCut) []TimeCut {
	cuts = slices.Clone(cuts)
	slices.SortStableFunc(cuts, func(a, b TimeCut) int { return a.From.Compare(b.From) })
	var list []TimeCut
	for _, x := range cuts {
		k := len(list) - 1
		switch {
		case k < 0 || list[k].To.Before(x.From):
			list = append(list, x)
		case list[k].To.Before(x.To):
			list[k].To, list[k].Wait = x.To, x.Wait
		case list[k].To == x.To:
			list[k].Wait = list[k].Wait && x.Wait
		}
	}
	return list
}

// CutAt is the cut that a moment is in.
func (c *Clock) CutAt(m Moment) (TimeCut, bool) {
	for _, x := range c.Cuts {
		if x.has(m) {
			return x, true
		}
	}
	return TimeCut{}, false
}

// played is a moment, or the one that its joint leads to: where the show goes on after a cut, or ends.
func (c *Clock) played(m Moment) Moment {
	for _, x := range c.Cuts {
		last := !x.To.Before(c.Last())
		switch {
		case last && !m.Before(x.From), x.has(m) && x.Wait:
			return x.From
		case x.has(m):
			return x.To
		}
	}
	return m
}

// Last is the last moment of the show without its cuts.
func (c *Clock) Last() Moment {
	return Moment{len(c.Movements), c.Movements[len(c.Movements)-1].Counts}
}

// PlayedPart is what is played of a movement without a break.
type PlayedPart struct {
	Movement int
	Lo, Hi   float64 // in counts elapsed since the downbeat
	Before   float64 // what to add to these for the counts that are played since the show's first
}

// Parts lists what is played from one moment to another, by movement and between cuts. The last may be of no length, a
// downbeat or the end of a cut.
func (c *Clock) Parts(from, to Moment) []PlayedPart {
	var list []PlayedPart
	before := 0.0
	for m := 1; m <= to.Movement; m++ {
		for _, x := range c.pieces(m) {
			lo, hi := x[0], x[1]
			if m == from.Movement {
				lo = max(lo, from.Elapsed)
			}
			if m == to.Movement {
				hi = min(hi, to.Elapsed)
			}
			if m >= from.Movement && lo <= hi+tiny {
				list = append(list, PlayedPart{m, lo, max(lo, hi), before - x[0]})
			}
			before += x[1] - x[0]
		}
	}
	if len(list) == 0 {
		list = append(list, PlayedPart{from.Movement, from.Elapsed, from.Elapsed, before})
	}
	return list
}

// pieces are what is played of a movement, from and to, in counts elapsed since the downbeat.
func (c *Clock) pieces(movement int) [][2]float64 {
	var list [][2]float64
	counts := c.Movements[movement-1].Counts
	from := 0.0
	for _, x := range c.Cuts {
		lo, hi, ok := x.in(movement, counts)
		if !ok {
			continue
		}
		if lo > from+tiny {
			list = append(list, [2]float64{from, lo})
		}
		from = hi
		if from > counts-tiny && (x.To.Movement > movement || !x.To.Before(c.Last())) {
			return list // it ends in the cut
		}
	}
	return append(list, [2]float64{from, counts})
}

// tiny is how close two moments are the same, in counts.
const tiny = 1e-9

// Earlier is the moment so many played counts before another, in its movement; left are those that its downbeat, or a
// cut that reaches over it, leaves no place for.
func (c *Clock) Earlier(m Moment, counts float64) (at Moment, left float64) {
	for k := len(c.Cuts) - 1; k >= 0; k-- {
		x := c.Cuts[k]
		if m.Before(x.To) || x.To.Movement != m.Movement || m.Elapsed-counts > x.To.Elapsed-tiny {
			continue
		}
		counts -= m.Elapsed - x.To.Elapsed
		if x.From.Movement != m.Movement {
			return x.To, counts
		}
		m = x.From
	}
	if counts > m.Elapsed {
		return Moment{Movement: m.Movement}, counts - m.Elapsed
	}
	return Moment{m.Movement, m.Elapsed - counts}, 0
}
