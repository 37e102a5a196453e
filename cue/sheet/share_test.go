package sheet

import (
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"testing"

	"backfield/cue"
)

// line is a field on which each player stays at a place, or walks evenly: x = from + by t.
type line map[string][2]float64

func (l line) Moment(atS float64) DrillMoment { return DrillMoment{1, atS + 1, "1"} }

func (l line) Place(player string, atS float64) (DrillPlace, bool) {
	w, ok := l[player]
	x := w[0] + w[1]*atS
	return DrillPlace{Words: fmt.Sprintf("at %g", x), XM: x}, ok
}

// waiting is a line in which nobody knows where the players are from one time to another.
type waiting struct {
	line
	fromS, toS float64
}

func (w waiting) Place(player string, atS float64) (DrillPlace, bool) {
	p, ok := w.line.Place(player, atS)
	return p, ok && (atS <= w.fromS || atS >= w.toS)
}

func TestNeeds(t *testing.T) {
	got := PackNeeds(Bars(evening()))
	want := []PackNeed{{"A", 0, 20, "1", "3"}, {"B", 0, 10, "1", "2"}, {"C", 10, 40, "2", ""}}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("%+v, want %+v", got, want)
	}
	if got := PackNeeds([]OpenBar{{Player: "pit", Kind: cue.Fixed, ToS: 9}}); len(got) != 0 {
		t.Errorf("a fixed mic needs %+v", got)
	}
}

// A is done at 20 s, B at 30; C begins at 60 and D at 61. With a handover of 30 s both can get either pack. C stands
// by B and D by A, so that the pairs are crossed: B-C 1 m, A-D 2 m; the other way they would be 41 and 40 m.
func TestShareByHand(t *testing.T) {
	field := line{"A": {0, 0}, "B": {40, 0}, "C": {41, 0}, "D": {2, 0}}
	needs := []PackNeed{{"A", 0, 20, "1", "3"}, {"B", 0, 30, "1", "4"}, {"C", 60, 90, "6", "8"}, {"D", 61, 95, "7", ""}}
	got := Share(needs, 30, field)
	if len(got.Packs) != 2 || !reflect.DeepEqual(got.Peak, []string{"A", "B"}) || len(got.Meetings) != 2 {
		t.Fatalf("%+v", got)
	}
	for _, m := range got.Meetings {
		want := map[string]string{"A": "D", "B": "C"}[m.Giver.Player]
		if m.Taker.Player != want || m.Far() {
			t.Errorf("%s gives to %s, %.1f m apart", m.Giver.Player, m.Taker.Player, m.ApartM)
		}
	}
	// One second more for each handover, and C is too early for B's pack: then A's goes to C, B's to D, and both run.
	got = Share(needs, 31, field)
	if len(got.Packs) != 2 || got.Meetings[0].Taker.Player != "C" || got.Meetings[0].Giver.Player != "A" ||
		!got.Meetings[0].Far() || !got.Meetings[1].Far() {
		t.Errorf("31 s: %+v", got.Meetings)
	}
	// 42 s, and nobody can share.
	if got = Share(needs, 42, field); len(got.Packs) != 4 || len(got.Meetings) != 0 || len(got.Peak) != 4 {
		t.Errorf("42 s: %d packs, at the peak %v", len(got.Packs), got.Peak)
	}
}

// They meet where they come nearest: the taker walks past the giver, at 1 m/s from 25 m off, when 25 s have gone; but
// no later than a handover before the mic opens.
func TestMeeting(t *testing.T) {
	field := line{"A": {0, 0}, "B": {25, -1}}
	needs := []PackNeed{{"A", 0, 10, "1", "2"}, {"B", 60, 70, "3", ""}}
	for handoverS, want := range map[float64][2]float64{30: {25, 0}, 45: {15, 10}, 45.25: {14.75, 10.25}, 50: {10, 15}} {
		m := Share(needs, handoverS, field).Meetings[0]
		if m.AtS != want[0] || math.Abs(m.ApartM-want[1]) > 1e-9 || m.At.Count != want[0]+1 {
			t.Errorf("handover %g s: at %g s, %g m apart, count %g; want %v", handoverS, m.AtS, m.ApartM, m.At.Count, want)
		}
	}
	// While nobody knows where they are they meet nowhere; before and after they do.
	for toS, want := range map[float64][2]float64{26: {26, 1}, 40: {20, 5}} {
		m := Share(needs, 30, waiting{field, 20, toS}).Meetings[0]
		if m.AtS != want[0] || math.Abs(m.ApartM-want[1]) > 1e-9 {
			t.Errorf("unknown until %g s: at %g s, %g m apart; want %v", toS, m.AtS, m.ApartM, want)
		}
	}
	// Who has no dot can still share; nobody says where.
	m := Share(needs, 30, line{"A": {0, 0}}).Meetings[0]
	if !math.IsNaN(m.ApartM) || !m.Far() {
		t.Errorf("%+v", m)
	}
}

// The number of packs and the sum of squared distances are those of trying every way, and the packs are as many as
// are needed at once.
func TestShareAgainstAllWays(t *testing.T) {
	const seed = 7
	rnd := rand.New(rand.NewPCG(seed, 0))
	for round := range 400 {
		n := 1 + rnd.IntN(7)
		handoverS := float64(rnd.IntN(4) * 5)
		field := line{}
		var needs []PackNeed
		for i := range n {
			name := fmt.Sprintf("P%d", i)
			from := float64(rnd.IntN(30) * 2)
			needs = append(needs, PackNeed{Player: name, FromS: from, ToS: from + float64(rnd.IntN(10)*2)})
			field[name] = [2]float64{float64(rnd.IntN(50)), 0}
		}
		got := Share(needs, handoverS, field)
		bestPacks, bestSum := n+1, 0.0
		var try func(i int, last []int, sum float64)
		order := byStart(needs)
		try = func(i int, last []int, sum float64) {
			if i == n {
				if len(last) < bestPacks || len(last) == bestPacks && sum < bestSum {
					bestPacks, bestSum = len(last), sum
				}
				return
			}
			j := order[i]
			for p, l := range last {
				if needs[l].FromS < needs[j].FromS && needs[l].ToS+handoverS <= needs[j].FromS {
					d := field[needs[l].Player][0] - field[needs[j].Player][0]
					next := append([]int{}, last...)
					next[p] = j
					try(i+1, next, sum+d*d)
				}
			}
			try(i+1, append(append([]int{}, last...), j), sum)
		}
		try(0, nil, 0)
		sum := 0.0
		for _, m := range got.Meetings {
			sum += m.ApartM * m.ApartM
		}
		if len(got.Packs) != bestPacks || len(got.Peak) != bestPacks || math.Abs(sum-bestSum) > 1e-6 {
			t.Fatalf("seed %d, round %d: %d packs, %d at once, squares %.1f; trying all ways: %d packs, squares %.1f\n"+
				"%+v handover %g",
				seed, round, len(got.Packs), len(got.Peak), sum, bestPacks, bestSum, needs, handoverS)
		}
		// Each need is met once, and each pack in turn.
		met := 0
		for _, chain := range got.Packs {
			for k, need := range chain {
				if met++; k > 0 && chain[k-1].ToS+handoverS > need.FromS {
					t.Fatalf("round %d: %+v", round, chain)
				}
			}
		}
		if met != n {
			t.Fatalf("round %d: %d of %d needs met", round, met, n)
		}
	}
}

func byStart(needs []PackNeed) []int {
	var order []int
	for i := range needs {
		order = append(order, i)
	}
	for i := range order { // few enough
		for j := i; j > 0 && needs[order[j]].FromS < needs[order[j-1]].FromS; j-- {
			order[j], order[j-1] = order[j-1], order[j]
		}
	}
	return order
}
