package stands

import (
	"fmt"
	"slices"

	"backfield/layout/source"
)

// Policy is a way to choose a delay. A policy is one value in Policies: the score's keys and the roster's column, the
// schemas, explain, the help pages and the tests all go through that list.
type Policy struct {
	Name  string
	Words string // what the delay is, as the table of help stands has it

	NeedsStands bool // it asks the seats; else it is the reference seat's need, and the lead
	FromZero    bool // it never asks for less than 0
	Longest     bool // of what is wanted along a way the longest holds, rounded up; else the middle, to the nearest
	MovesPan    bool // it also looks for a pan near the true direction that serves more seats

	choose  func(c *DelayChooser, a Aim) (delayS float64) // nil without stands
	explain func(x Explained) string
}

// Explained is what the words about a choice are made from.
type Explained struct {
	NeedMS, LeadMS, WindowMS float64 // NeedMS is the reference seat's
	Free                     bool    // see Aim
	Seats                    string  // how many, in words
	Delay                    string  // what came of it, in words
}

// Explain says how the policy has chosen a delay, in one line.
func (p *Policy) Explain(x Explained) string { return p.explain(x) }

// The policies.
var (
	Reference = &Policy{
		Name:  "reference",
		Words: "the need of the press box, plus the lead (`delay.lead`, 10 ms). The default without stands",
		explain: func(x Explained) string {
			const text = "+ %.4g ms lead, so that the player is heard first: %.3f ms"
			return fmt.Sprintf(text, x.LeadMS, x.NeedMS+x.LeadMS)
		},
	}
	MostSeats = &Policy{
		Name:        "most-seats",
		Words:       "the smallest one that has the most seats in time. The default with stands",
		NeedsStands: true, FromZero: true,
		choose: mostSeats, explain: explainMostSeats,
	}
	Joint = &Policy{
		Name: "joint",
		Words: "as `most-seats`, with the pan too: of the pans near the true direction, the one with the most seats " +
			"in time",
		NeedsStands: true, FromZero: true, MovesPan: true,
		choose: mostSeats, explain: explainMostSeats,
	}
	LeastError = &Policy{
		Name:        "least-error",
		Words:       "the median need of all seats, plus the lead",
		NeedsStands: true,
		choose:      func(c *DelayChooser, a Aim) float64 { return a.LeadS + c.order().median() },
		explain: func(x Explained) string {
			return fmt.Sprintf("the median need of %s, + %.4g ms lead: %s", x.Seats, x.LeadMS, x.Delay)
		},
	}
	NeverEarly = &Policy{
		Name:        "never-early",
		Words:       "the largest need of all seats",
		NeedsStands: true, Longest: true,
		choose: func(c *DelayChooser, _ Aim) float64 { return c.hi },
		explain: func(x Explained) string {
			return fmt.Sprintf("the longest need of all %s: %s", x.Seats, x.Delay)
		},
	}
)

// Policies lists them, in the order in which they are named to people.
var Policies = []*Policy{Reference, MostSeats, LeastError, NeverEarly, Joint}

func mostSeats(c *DelayChooser, a Aim) float64 {
	delayS, _ := c.order().mostSeats(c.reference, c.reached, a)
	return delayS
}

func explainMostSeats(x Explained) string {
	bound := fmt.Sprintf(", between the reference seat's need and %.4g ms more", x.WindowMS)
	if x.Free {
		bound = ""
	}
	const text = "the shortest delay with the most of %s in time (%.4g ms window)%s: %s"
	return fmt.Sprintf(text, x.Seats, x.WindowMS, bound, x.Delay)
}

// PolicyNames lists the policies' names.
func PolicyNames() []string {
	var names []string
	for _, p := range Policies {
		names = append(names, p.Name)
	}
	return names
}

// PolicyByName returns the policy of a name, nil where there is none.
func PolicyByName(name string) *Policy {
	i := slices.IndexFunc(Policies, func(p *Policy) bool { return p.Name == name })
	if i < 0 {
		return nil
	}
	return Policies[i]
}

// CheckPolicy reports a policy that there is not, at its place; true for one that there is.
func CheckPolicy(name string, at source.Span, p *source.Problems) bool {
	if PolicyByName(name) != nil {
		return true
	}
	names := PolicyNames()
	p.Error("bad-choice", at, fmt.Sprintf("unknown policy %q", name),
		source.DidYouMean(name, names, "it is "+source.OneOf(names)))
	return false
}
