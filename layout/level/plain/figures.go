package plain

import (
	"cmp"
	"math"
	"slices"

	"backfield/layout"
)

// PlainHearing is what reaches one place, by band: own sound and loudspeaker sound of the featured and of all others.
type PlainHearing struct {
	OwnFeatured, StacksFeatured, OwnBed, StacksBed Octaves
	background                                     float64
}

// Hear is what reaches a place.
func (s *PlainScene) Hear(p layout.Point) PlainHearing {
	h := PlainHearing{silence(), silence(), silence(), silence(), s.Background}
	for _, m := range s.Players {
		if m.Featured {
			h.OwnFeatured = h.OwnFeatured.with(s.OwnAt(m, p))
			h.StacksFeatured = h.StacksFeatured.with(s.WornAt(m, p))
		} else {
			h.OwnBed = h.OwnBed.with(s.OwnAt(m, p))
			h.StacksBed = h.StacksBed.with(s.WornAt(m, p))
		}
	}
	for _, f := range s.Fixed {
		h.StacksBed = h.StacksBed.with(s.FixedAt(f, p))
	}
	return h
}

// Moved is the same place with the faders of the featured moved by x and all others by y dB.
func (h PlainHearing) Moved(x, y float64) PlainHearing {
	h.StacksFeatured, h.StacksBed = h.StacksFeatured.plus(x), h.StacksBed.plus(y)
	return h
}

// Featured and Bed are F and B by band.
func (h PlainHearing) Featured() Octaves { return h.OwnFeatured.with(h.StacksFeatured) }

// Bed is B by band, without the background, which has no bands.
func (h PlainHearing) Bed() Octaves { return h.OwnBed.with(h.StacksBed) }

// BedDBA is LA(B), with the background.
func (h PlainHearing) BedDBA() float64 { return Sum(h.Bed().DBA(), h.background) }

// between is a less b, or NaN where one of them is silent.
func between(a, b float64) float64 {
	if math.IsInf(a, -1) || math.IsInf(b, -1) {
		return math.NaN()
	}
	return a - b
}

// Lead is LA(F) - LA(B).
func (h PlainHearing) Lead() float64 { return between(h.Featured().DBA(), h.BedDBA()) }

// Best is the greatest F_b - B_b over 250 to 4000 Hz, and its band; of equal ones the lower band.
func (h PlainHearing) Best() (best float64, band int) {
	f, bed := h.Featured(), h.Bed()
	best = math.NaN()
	for b := 1; b <= 5; b++ {
		if d := between(f[b], bed[b]); !math.IsNaN(d) && !(d <= best) {
			best, band = d, b
		}
	}
	return best, band
}

// Over is LA of the loudspeaker sound of the featured less LA of their own sound.
func (h PlainHearing) Over() float64 { return between(h.StacksFeatured.DBA(), h.OwnFeatured.DBA()) }

// StacksDBA and AllDBA are the loudspeakers alone, and all sound together.
func (h PlainHearing) StacksDBA() float64 { return h.StacksFeatured.with(h.StacksBed).DBA() }

// AllDBA is the loudspeakers and the own sound of all who play.
func (h PlainHearing) AllDBA() float64 { return h.Featured().with(h.Bed()).DBA() }

// PlainPart is a part of the bed: the own sound of a section, or what the stacks carry of its worn mics or of one kind
// of fixed mic.
type PlainPart struct {
	Name          string
	Stacks, Fixed bool
}

// BedParts are the parts of the bed at the box that sound, in dBA.
func (s *PlainScene) BedParts() map[PlainPart]float64 {
	parts := map[PlainPart]float64{}
	add := func(p PlainPart, o Octaves) {
		if o.silent() {
			return
		}
		if before, ok := parts[p]; ok {
			parts[p] = Sum(before, o.DBA())
		} else {
			parts[p] = o.DBA()
		}
	}
	for _, m := range s.Players {
		if !m.Featured {
			add(PlainPart{m.Section, false, false}, s.OwnAt(m, s.Box))
			add(PlainPart{m.Section, true, false}, s.WornAt(m, s.Box))
		}
	}
	for _, f := range s.Fixed {
		add(PlainPart{f.Kind, true, true}, s.FixedAt(f, s.Box))
	}
	return parts
}

// seats are the seats of the stands, or the box.
func (s *PlainScene) seats() []WeightedSeat {
	if len(s.Seats) == 0 {
		return []WeightedSeat{{s.Box, 1}}
	}
	return s.Seats
}

// ValueAt is the value at a share, in percent, of the seats' weight: from the greatest value down, and by seat number,
// the value of the seat with which the weights reach the share. One seat without a value: NaN.
func ValueAt(seats []WeightedSeat, value []float64, share float64) float64 {
	type valued struct{ value, weight float64 }
	var list []valued
	total := 0.0
	for i, seat := range seats {
		if math.IsNaN(value[i]) {
			return math.NaN()
		}
		list = append(list, valued{value[i], seat.Weight})
		total += seat.Weight
	}
	slices.SortStableFunc(list, func(a, b valued) int { return cmp.Compare(b.value, a.value) })
	sum := 0.0
	for _, v := range list {
		sum += v.weight
		if 100*sum >= share*total-1e-9*total {
			return v.value
		}
	}
	return math.NaN()
}

// Within is the percentage of the seats' weight whose value is at most a limit. No value: NaN.
func Within(seats []WeightedSeat, value []float64, limit float64) float64 {
	total, in := 0.0, 0.0
	for i, seat := range seats {
		if math.IsNaN(value[i]) {
			return math.NaN()
		}
		total += seat.Weight
		if value[i] <= limit {
			in += seat.Weight
		}
	}
	return 100 * in / total
}

// PlainFigures is what is said of one moment.
type PlainFigures struct {
	LeadBox, LeadShare float64
	BestBox, BestShare float64
	OverBox, OverShare float64 // OverShare: percent of the seats within the limit
	Margin             float64
}

// Figures are those of one moment.
func (s *PlainScene) Figures(share, over float64) PlainFigures {
	box := s.Hear(s.Box)
	var f PlainFigures
	f.LeadBox, f.OverBox = box.Lead(), box.Over()
	f.BestBox, _ = box.Best()
	var lead, best, overs []float64
	for _, seat := range s.seats() {
		h := s.Hear(seat.At)
		b, _ := h.Best()
		lead, best, overs = append(lead, h.Lead()), append(best, b), append(overs, h.Over())
	}
	f.LeadShare, f.BestShare = ValueAt(s.seats(), lead, share), ValueAt(s.seats(), best, share)
	f.OverShare = Within(s.seats(), overs, over)
	f.Margin = -highest(s.TotalLoop())
	return f
}

// TotalLoop is the energy sum of the loops of all open mics, by band.
func (s *PlainScene) TotalLoop() Octaves {
	featured, others := s.loops()
	return featured.with(others)
}

// loops is the total of the featured mics, and that of all others.
func (s *PlainScene) loops() (featured, others Octaves) {
	featured, others = silence(), silence()
	for _, m := range s.Players {
		if m.Featured {
			featured = featured.with(s.WornLoop(m))
		} else {
			others = others.with(s.WornLoop(m))
		}
	}
	for _, f := range s.Fixed {
		others = others.with(s.FixedLoop(f))
	}
	return featured, others
}

// highest is the greatest band; NaN if there is no sound in any.
func highest(o Octaves) float64 {
	if o.silent() {
		return math.NaN()
	}
	return slices.Max(o[:])
}

// Precedence says who is heard first by how much louder the stacks are.
func Precedence(over float64) string {
	switch {
	case over <= 10:
		return "player leads"
	case over <= 15:
		return "pulled"
	}
	return "the stack leads"
}
