package stands

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
)

// plain is what a policy chooses from, as plainly as can be: each seat's need and weight, and the reference seat's
// need.
type plain struct {
	q, w      []float64
	reference float64
	aim       Aim
}

// plainly says what each term means, computed as plainly as can be. Help and explain say the term, and the test holds the
// choice to it. A term without an entry fails the test.
var plainly = map[string]func(x plain) float64{
	"the need of the reference seat":                 func(x plain) float64 { return x.reference },
	"the shortest delay with the most seats in time": plainMostSeats, // the pan of joint has a test of its own
	"the median need of all seats":                   plain.leastWithHalf,
	"the longest need of all seats":                  func(x plain) float64 { return slices.Max(x.q) },
}

// wants is the delay that a policy's words ask for.
func (x plain) wants(p *Policy) float64 {
	if p.PlusLead {
		return plainly[p.Term](x) + x.aim.LeadS
	}
	return plainly[p.Term](x)
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
		if plainly[policy.Term] == nil {
			t.Errorf("%s: no plain loop says what %q is", policy.Name, policy.Term)
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
			still := stand(l)
			got, ok := still.DelayChooser().Raw(still.AtPan(k), p, policy, x.aim)
			want := x.wants(policy)
			if !ok || math.Abs(got-want) > 1e-9 {
				t.Fatalf("seed %d, %s: %.9f s, want %.9f", seed, policy.Name, got, want)
			}
			if policy.want != nil {
				needs := l.SeatNeeds()
				needs.Hear(g, p)
				wantMS := policy.WantMS(needs, 0)
				if policy.PlusLead {
					wantMS += 1000 * x.aim.LeadS
				}
				if math.Abs(wantMS-1000*want) > 1e-6 {
					t.Fatalf("seed %d, %s: %.9f ms along a path, want %.9f", seed, policy.Name, wantMS, 1000*want)
				}
			}
			explained := Explained{NeedMS: 1000 * x.reference, LeadMS: 1000 * x.aim.LeadS,
				Seats: "seats", Delay: fmt.Sprintf("%.3f ms", 1000*got)}
			if text := policy.Explain(explained); !strings.HasSuffix(text, fmt.Sprintf(": %.3f ms", 1000*want)) {
				t.Fatalf("seed %d, %s is explained as %q, want %.3f ms", seed, policy.Name, text, 1000*want)
			}
			negative = negative || got < -1e-9
			if math.Abs(got-x.reference-x.aim.LeadS) > 1e-6 {
				apart++
			}
			none := stand(New(nil, l.Reference, l.System, 100))
			if bare, ok := none.DelayChooser().Raw(none.AtPan(k), p, policy, x.aim); !ok || bare != x.reference+x.aim.LeadS {
				t.Fatalf("seed %d, %s without a stand: %.9f s", seed, policy.Name, bare)
			}
		}
		if negative == policy.FromSeats() {
			t.Errorf("%s: asks for less than 0: %v, is from the seats: %v", policy.Name, negative, policy.FromSeats())
		}
		if (apart > 0) != policy.NeedsStands {
			t.Errorf("%s: differs from the reference seat's %d times, declares NeedsStand: %v",
				policy.Name, apart, policy.NeedsStands)
		}
	}
}

// The help and explain say the same of a policy: its term, and whether the lead is added.
func TestPolicyWords(t *testing.T) {
	for _, policy := range Policies {
		words, text := policy.Words(), policy.Explain(Explained{LeadMS: 12, Seats: "all seats", Delay: "9 ms"})
		if policy.Name == "" || !strings.HasPrefix(words, policy.Term) {
			t.Errorf("%q is %q, and its term %q", policy.Name, words, policy.Term)
		}
		if strings.Contains(words, "plus the lead") != policy.PlusLead || strings.Contains(text, "12 ms lead") != policy.PlusLead {
			t.Errorf("%s: help says %q, explain %q, and PlusLead is %v", policy.Name, words, text, policy.PlusLead)
		}
	}
	for policy, want := range map[*Policy]string{
		Reference:  "+ 12 ms lead, so that the player is heard first: 62.000 ms",
		LeastError: "the median need of all 7 seats, + 12 ms lead: 9 ms",
		NeverEarly: "the longest need of all 7 seats: 9 ms",
	} {
		x := Explained{NeedMS: 50, LeadMS: 12, Seats: "7 seats", Delay: "9 ms"}
		if text := policy.Explain(x); text != want {
			t.Errorf("%s is explained as %q, want %q", policy.Name, text, want)
		}
	}
}
