package level

import (
	"cmp"
	"slices"
)

// slack is what two numbers in dB may differ by and still count as equal.
const slack = 1e-9

// atShare is the value that pct % of the seats' weight has or exceeds: the seats by value, the greatest first and then by
// number, until their weights reach it.
func atShare(values, weights []float64, total, pct float64) float64 {
	order := make([]int, len(values))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(values[b], values[a]) })
	var sum float64
	for _, i := range order {
		if sum += weights[i]; reaches(sum, total, pct) {
			return values[i]
		}
	}
	return values[order[len(order)-1]]
}

// reaches reports whether a weight is pct % of the total.
func reaches(weight, total, pct float64) bool { return weight >= (pct/100-1e-12)*total }

// atSeats is a figure at pct % of the seats: nothing where any seat has nothing to compare.
func (b *Balance) atSeats(pct float64, of func(*PlaceSound) Figure) Figure {
	values := make([]float64, len(b.Seats))
	for j := range b.Seats {
		v := of(&b.Seats[j])
		if !v.OK {
			return Figure{}
		}
		values[j] = v.DB
	}
	return Figure{atShare(values, b.weights, b.total, pct), true}
}

// Ends are the balances at both ends of each snapshot of a cue. A figure of theirs is worked out at each end, and is the
// worst of them: the lowest lead and best band, the highest over. It is nothing where no end has anything to compare.
type Ends []*Balance

// worst is the worst figure over the ends, and at which end; -1 for none. lower: the lowest is the worst.
func (e Ends) worst(lower bool, of func(*Balance) Figure) (worst Figure, end int) {
	end = -1
	for i, b := range e {
		v := of(b)
		if v.OK && (end < 0 || lower && v.DB < worst.DB || !lower && v.DB > worst.DB) {
			worst, end = v, i
		}
	}
	return worst, end
}

// LeadAtBox is the lead at the press box, and at which end.
func (e Ends) LeadAtBox() (Figure, int) {
	return e.worst(true, func(b *Balance) Figure { return b.Box.Lead() })
}

// LeadAt is the lead at pct % of the seats, and at which end.
func (e Ends) LeadAt(pct float64) (Figure, int) {
	return e.worst(true, func(b *Balance) Figure { return b.atSeats(pct, (*PlaceSound).Lead) })
}

// BestAt is the best band's lead at pct % of the seats, and at which end.
func (e Ends) BestAt(pct float64) (Figure, int) {
	return e.worst(true, func(b *Balance) Figure {
		return b.atSeats(pct, func(p *PlaceSound) Figure {
			v, _ := p.Best()
			return v
		})
	})
}

// OverAtBox is how much louder the stacks carry the featured players at the press box than these sound by themselves,
// and at which end.
func (e Ends) OverAtBox() (Figure, int) {
	return e.worst(false, func(b *Balance) Figure { return b.Box.Over() })
}

// ShareOver is the part of the seats' weight, 0 to 1, at which the stacks are at most db over the player: the least of
// all ends. It counts all seats, also those at which the stacks are not within the delay window. ok is false where there
// is nothing to compare.
func (e Ends) ShareOver(db float64) (share float64, ok bool) {
	return e.share(func(p *PlaceSound) (within, ok bool) {
		v := p.Over()
		return v.DB <= db+slack, v.OK
	})
}

// ShareLead is the part of the seats' weight, 0 to 1, at which the lead is at least db: the least of all ends.
func (e Ends) ShareLead(db float64) (share float64, ok bool) {
	return e.share(func(p *PlaceSound) (within, ok bool) {
		v := p.Lead()
		return v.DB >= db-slack, v.OK
	})
}

func (e Ends) share(of func(*PlaceSound) (within, ok bool)) (least float64, ok bool) {
	least = 1
	for _, b := range e {
		var sum float64
		known := true
		for j := range b.Seats {
			within, some := of(&b.Seats[j])
			known = known && some
			if within && some {
				sum += b.weights[j]
			}
		}
		if known {
			ok, least = true, min(least, sum/b.total)
		}
	}
	return least, ok
}

// Leads reports whether the lead would reach a target at pct % of the seats at every end, with the featured faders moved by
// x dB and all others by y. Ends at which there is nothing to compare do not count.
func (e Ends) Leads(x, y, targetDB, pct float64) bool {
	up, down, want := Energy(x), Energy(y), Energy(targetDB-slack)
	for _, b := range e {
		if !b.Box.Lead().OK {
			continue
		}
		var weight float64
		for j := range b.Seats {
			s := &b.Seats[j]
			if s.FeaturedOwn.A()+up*s.FeaturedStacks.A() >= want*(s.BedOwn.A()+down*s.BedStacks.A()+s.background) {
				weight += b.weights[j]
			}
		}
		if !reaches(weight, b.total, pct) {
			return false
		}
	}
	return true
}
