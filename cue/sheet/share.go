package sheet

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"backfield/cue"
	"backfield/layout/source"
)

// PackNeed is a player who needs a pack, from the first opening of their mic to its last closing.
type PackNeed struct {
	Player     string
	FromS, ToS float64
	FromCue    string // the snapshot that first opens the mic
	ToCue      string // the snapshot that last closes it, "" for the end of the show
}

// PackNeeds lists who needs a pack, in order of time. A player keeps it from the first opening to the last closing.
func PackNeeds(bars []OpenBar) []PackNeed {
	list := []PackNeed{}
	of := map[string]int{}
	for _, b := range bars {
		if b.Kind != cue.Worn {
			continue
		}
		i, known := of[b.Player]
		if !known {
			of[b.Player] = len(list)
			list = append(list, PackNeed{b.Player, b.FromS, b.ToS, b.FromCue, b.ToCue})
			continue
		}
		n := &list[i]
		if b.FromS < n.FromS {
			n.FromS, n.FromCue = b.FromS, b.FromCue
		}
		if b.ToS > n.ToS {
			n.ToS, n.ToCue = b.ToS, b.ToCue
		}
	}
	slices.SortStableFunc(list, func(a, b PackNeed) int { return cmp.Compare(a.FromS, b.FromS) })
	return list
}

// canGive reports whether a pack can go from n to another player in time.
func (n PackNeed) canGive(to PackNeed, handoverS float64) bool {
	return n.FromS < to.FromS && n.ToS+handoverS <= to.FromS+1e-9
}

// Meeting is a pack that would go from one player to another: where they are nearest to each other, early enough for a
// whole handover.
type Meeting struct {
	Giver, Taker     PackNeed
	AtS              float64
	At               DrillMoment
	GiverAt, TakerAt DrillPlace
	ApartM           float64 // NaN if a place is unknown
}

// Far reports whether they would have to run.
func (m Meeting) Far() bool { return !(m.ApartM <= FarM) }

// Sharing is how the players could share the fewest packs.
type Sharing struct {
	HandoverS float64      // how long a handover takes, once they have met
	Packs     [][]PackNeed // who wears each pack, in turn
	Meetings  []Meeting    // in order of time
	Peak      []string     // players of whom no two can share: as many as there are packs
	PeakS     float64      // when all of them need one, or are handing theirs over
}

// Fewest says how few packs would do with full handovers, against those that the show has.
func (x Sharing) Fewest(has int) string {
	if n := len(x.Packs); n > has {
		return fmt.Sprintf("with %g s for each handover the show would need %s; it does with %d, since a handover "+
			"of its own is quicker", x.HandoverS, source.Count(float64(n), "pack"), has)
	}
	text := fmt.Sprintf("fewest packs that would do: %d", len(x.Packs))
	if n := len(x.Meetings); n > 0 {
		text += fmt.Sprintf(", with %s of %g s", source.Count(float64(n), "handover"), x.HandoverS)
	}
	return text
}

// Share finds the fewest packs for all needs if a pack is free handoverS seconds after its wearer's last closing, and of
// all plans with that few packs the one with the smallest sum of squared distances between those who meet.
//
// A need with the time of a handover after it is an interval, and two players can share a pack if theirs do not overlap. So
// the fewest packs are as many as overlap at the worst moment (coloring of interval graphs; Dilworth 1950 for the order
// "is over before"). n needs on k packs are n - k meetings, a matching of givers to takers, each of them once. The
// cheapest matching of that size is found by shortest augmenting paths (Ford and Fulkerson 1962; Edmonds and Karp 1972).
func Share(needs []PackNeed, handoverS float64, f Locator) Sharing {
	x := Sharing{HandoverS: handoverS}
	for _, at := range needs { // at the worst moment, a need begins
		var busy []string
		for _, n := range needs {
			if n.FromS <= at.FromS && !n.canGive(at, handoverS) {
				busy = append(busy, n.Player)
			}
		}
		if len(busy) > len(x.Peak) {
			x.Peak, x.PeakS = busy, at.FromS
		}
	}
	w := newWalks(needs, handoverS, f)
	m := matching{cost: make([][]float64, len(needs)), taker: filled(len(needs)), giver: filled(len(needs))}
	meetings := map[[2]int]Meeting{}
	for i, giver := range needs {
		m.cost[i] = make([]float64, len(needs))
		for j, taker := range needs {
			m.cost[i][j] = math.Inf(1)
			if giver.canGive(taker, handoverS) {
				meet := w.meet(i, j)
				meetings[[2]int{i, j}] = meet
				if m.cost[i][j] = meet.ApartM * meet.ApartM; math.IsNaN(meet.ApartM) {
					m.cost[i][j] = 1e9 // only if nothing else is left
				}
			}
		}
	}
	for range len(needs) - len(x.Peak) {
		m.augment()
	}
	for j := range needs {
		if m.giver[j] >= 0 {
			x.Meetings = append(x.Meetings, meetings[[2]int{m.giver[j], j}])
			continue
		}
		var chain []PackNeed
		for k := j; k >= 0; k = m.taker[k] {
			chain = append(chain, needs[k])
		}
		x.Packs = append(x.Packs, chain)
	}
	slices.SortStableFunc(x.Meetings, func(a, b Meeting) int { return cmp.Compare(a.AtS, b.AtS) })
	return x
}

// matching pairs givers with takers: taker[i] and giver[j], -1 for none. cost is +Inf if they cannot meet.
type matching struct {
	cost         [][]float64
	taker, giver []int
}

func filled(n int) []int {
	list := make([]int, n)
	for i := range list {
		list[i] = -1
	}
	return list
}

// augment makes the matching one larger at the least cost, if possible.
func (m *matching) augment() {
	n := len(m.cost)
	// dist[j] is the least cost of a path from any free giver to taker j; via[j] is the giver that it comes from.
	dist, via := make([]float64, n), filled(n)
	for j := range dist {
		dist[j] = math.Inf(1)
	}
	reach := func(i int) float64 { // the least cost to giver i: 0 while free, else by giving up the taker
		if m.taker[i] < 0 {
			return 0
		}
		return dist[m.taker[i]] - m.cost[i][m.taker[i]]
	}
	for changed, round := true, 0; changed && round <= n; round++ {
		changed = false
		for i := range n {
			base := reach(i)
			for j := range n {
				if d := base + m.cost[i][j]; m.taker[i] != j && d < dist[j]-1e-9 {
					dist[j], via[j], changed = d, i, true
				}
			}
		}
	}
	end := -1
	for j := range n {
		if m.giver[j] < 0 && !math.IsInf(dist[j], 1) && (end < 0 || dist[j] < dist[end]) {
			end = j
		}
	}
	for j := end; j >= 0; {
		i := via[j]
		next := m.taker[i]
		m.taker[i], m.giver[j] = j, i
		j = next
	}
}

// walks has the places of the players of all needs, every stepS seconds.
type walks struct {
	needs     []PackNeed
	handoverS float64
	field     Locator
	stepS     float64
	places    [][]DrillPlace // by need, then by time; NaN if the drill does not know
}

// place is where a player is, NaN if the drill does not know.
func (w *walks) place(player string, atS float64) DrillPlace {
	if p, ok := w.field.Place(player, atS); ok {
		return p
	}
	return DrillPlace{XM: math.NaN(), YM: math.NaN()}
}

// Places are taken every half second, and in a long show about a thousand times.
const leastStepS, mostSteps = 0.5, 1200

func newWalks(needs []PackNeed, handoverS float64, f Locator) *walks {
	w := &walks{needs: needs, handoverS: handoverS, field: f, places: make([][]DrillPlace, len(needs))}
	last := 0.0
	for _, n := range needs {
		last = max(last, n.FromS)
	}
	w.stepS = max(leastStepS, last/mostSteps)
	for k := 0; float64(k)*w.stepS <= last+w.stepS; k++ {
		for i, n := range needs {
			w.places[i] = append(w.places[i], w.place(n.Player, float64(k)*w.stepS))
		}
	}
	return w
}

// meet finds when two players are nearest, the first of equal times, between the giver's last closing and the last
// moment that leaves time for a whole handover.
func (w *walks) meet(giver, taker int) Meeting {
	m := Meeting{Giver: w.needs[giver], Taker: w.needs[taker], ApartM: math.NaN()}
	m.AtS = m.Giver.ToS
	latest := max(m.Taker.FromS-w.handoverS, m.AtS)
	consider := func(t float64, p, q DrillPlace) {
		if d := apartM(p, q); d < m.ApartM-1e-9 || math.IsNaN(m.ApartM) && !math.IsNaN(d) {
			m.AtS, m.GiverAt, m.TakerAt, m.ApartM = t, p, q, d
		}
	}
	at := func(t float64) { consider(t, w.place(m.Giver.Player, t), w.place(m.Taker.Player, t)) }
	at(m.AtS)
	a, b := w.places[giver], w.places[taker]
	for k := int(math.Ceil(m.AtS / w.stepS)); float64(k)*w.stepS < latest && k < len(a); k++ {
		consider(float64(k)*w.stepS, a[k], b[k])
	}
	at(latest) // they may be nearer by then
	m.At = w.field.Moment(m.AtS)
	return m
}
