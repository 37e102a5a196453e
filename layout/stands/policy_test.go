package stands

import (
	"math"
	"slices"
	"testing"
)

// plain is what a policy chooses from, as plainly as can be: each seat's need and weight, and the reference seat's
// need.
type plain struct {
	q, w      []float64
	reference float64
	aim       Aim
}

// plainly says what each policy wants, by the definition that help stands gives. A policy without an entry fails the
// test: nothing holds it to its words.
var plainly = map[string]func(x plain) float64{
	"reference":   func(x plain) float64 { return x.reference + x.aim.LeadS },
	"most-seats":  plainMostSeats,
	"joint":       plainMostSeats, // whose pan is another test's
	"least-error": func(x plain) float64 { return x.aim.LeadS + x.leastWithHalf() },
	"never-early": func(x plain) float64 { return slices.Max(x.q) },
}

// leastWithHalf is the least need that has at least half of the weight at or under it.
func (x plain) leastWithHalf() float64 {
	total := 0.0
	for _, v := range x.w {
		total += v
	}
	least := math.Inf(1)
	for _, need := range x.q {
		under := 0.0
		for j, v := range x.w {
			if x.q[j] <= need {
				under += v
			}
		}
		if under >= total/2*(1-1e-12) {
			least = min(least, need)
		}
	}
	return least
}

// plainMostSeats is the least delay of all that could matter that has most of the weight in the window.
func plainMostSeats(x plain) float64 {
	want, best := 0.0, -1.0
	own := max(0, x.reference)
	candidates := []float64{own}
	for _, v := range x.q {
		candidates = append(candidates, max(0, v))
	}
	slices.Sort(candidates)
	for _, tau := range candidates {
		if !x.aim.Free && (tau < own || tau > max(0, x.reference+x.aim.WindowS)) {
			continue
		}
		if v := weightIn(x.q, x.w, tau, x.aim.WindowS); v > best+1e-9 {
			best, want = v, tau
		}
	}
	return want
}

// Every policy of the list against its plain definition, on random stands, and what it declares about itself.
func TestPoliciesAgainstPlainLoops(t *testing.T) {
	for _, policy := range Policies {
		want := plainly[policy.Name]
		if want == nil {
			t.Errorf("%s: no plain loop says what it should choose", policy.Name)
			continue
		}
		negative, apart := false, 0 // apart: how often it is not just what the reference seat wants
		for seed := range int64(400) {
			seats, l, rng := scene(seed)
			p, k := player(rng), rng.Intn(201)-100
			if seed%8 == 0 {
				l.System.LatencyS += 0.5 // nobody can wait for that: every need is below 0
				l = New(seats, l.Reference, l.System, 100)
			}
			g := l.System.Gains(float64(k) / 100)
			x := plain{reference: p.Distance(l.Reference)/l.System.SpeedMPS - l.System.First(l.Reference, g).TimeS}
			x.q, x.w = plainNeeds(seats, l, g, p)
			x.aim = Aim{WindowS: 0.03, LeadS: 0.01, Free: seed%2 == 0}
			got, ok := l.DelayChooser().Raw(l.AtPan(k), p, policy, x.aim)
			if !ok || math.Abs(got-want(x)) > 1e-9 {
				t.Fatalf("seed %d, %s: %.9f s, want %.9f", seed, policy.Name, got, want(x))
			}
			negative = negative || got < -1e-9
			if math.Abs(got-x.reference-x.aim.LeadS) > 1e-6 {
				apart++
			}
			none := New(nil, l.Reference, l.System, 100)
			if bare, ok := none.DelayChooser().Raw(none.AtPan(k), p, policy, x.aim); !ok || bare != x.reference+x.aim.LeadS {
				t.Fatalf("seed %d, %s without a stand: %.9f s", seed, policy.Name, bare)
			}
		}
		if negative == policy.FromZero {
			t.Errorf("%s: asks for less than 0: %v, declares FromZero: %v", policy.Name, negative, policy.FromZero)
		}
		if (apart > 0) != policy.NeedsStands {
			t.Errorf("%s: differs from the reference seat's %d times, declares NeedsStand: %v",
				policy.Name, apart, policy.NeedsStands)
		}
		if policy.Name == "" || policy.Words == "" || policy.Explain(Explained{Seats: "7 seats"}) == "" {
			t.Errorf("%q says nothing of itself", policy.Name)
		}
	}
}
