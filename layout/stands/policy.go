package stands

import (
	"fmt"
	"slices"
	"strings"

	"backfield/layout/source"
)

// Policy is a way to choose a delay. A policy is one value in Policies: the score's keys and the roster's column, the
// schemas, explain, the help pages and the tests all go through that list.
type Policy struct {
	Name string
	// Term says what the policy takes of the seats' needs: "the median need of all seats". The help pages and explain say it,
	// and the tests hold the choice to it. PlusLead adds the lead to it, and Note is what else the help says.
	Term     string
	PlusLead bool
	Note     string

	NeedsStands bool // it asks the seats; else it takes the reference seat's need
	Longest     bool // a delay below what it wants is far worse than one above
	MovesPan    bool // it also looks for a pan near the true direction with more seats in time

	// want is what Term says along a path, without the lead; nil where all seats decide, or none.
	want func(s *SeatNeeds, knotMS float64) float64
}

// FromSeats reports whether the delay is chosen for the seats in time along a path, within the press box's bound. Else
// the policy wants one delay at each place.
func (p *Policy) FromSeats() bool { return p.NeedsStands && p.want == nil }

// WantMS is what the policy wants at a place, without the lead, in ms. knotMS is how far below that the delay may be sent.
func (p *Policy) WantMS(s *SeatNeeds, knotMS float64) float64 { return p.want(s, knotMS) }

// Explained is what the words about a choice are made from.
type Explained struct {
	NeedMS, LeadMS float64 // NeedMS is the reference seat's
	Seats          string  // how many, in words
	Delay          string  // what came of it, in words
}

// Words says what the delay is, as the table of help stands has it.
func (p *Policy) Words() string {
	text := p.Term
	if p.PlusLead {
		text += ", plus the lead"
	}
	return text + p.Note
}

// Explain says how the policy has chosen a delay from the needs at one place, in one line. The need of the reference seat
// is said before it.
func (p *Policy) Explain(x Explained) string {
	lead := fmt.Sprintf("+ %.4g ms lead", x.LeadMS)
	switch {
	case !p.NeedsStands:
		return fmt.Sprintf("%s, so that the player is heard first: %.3f ms", lead, x.NeedMS+x.LeadMS)
	case p.PlusLead:
		return fmt.Sprintf("%s, %s: %s", p.of(x.Seats), lead, x.Delay)
	}
	return fmt.Sprintf("%s: %s", p.of(x.Seats), x.Delay)
}

// of is the term with the number of seats.
func (p *Policy) of(seats string) string { return strings.Replace(p.Term, "seats", seats, 1) }

const mostSeatsTerm = "the shortest delay with the most seats in time"

// The policies.
var (
	Reference = &Policy{
		Name: "reference",
		Term: "the need of the reference seat", PlusLead: true,
		Note: " (`delay.lead`, 10 ms). The default without stands",
	}
	MostSeats = &Policy{
		Name: "most-seats",
		Term: mostSeatsTerm, Note: ". The default with stands",
		NeedsStands: true,
	}
	Joint = &Policy{
		Name:        "joint",
		Term:        mostSeatsTerm,
		Note:        ", with the pan too: of the pans near the true direction, the one with the most seats in time",
		NeedsStands: true, MovesPan: true,
	}
	LeastError = &Policy{
		Name: "least-error",
		Term: "the median need of all seats", PlusLead: true,
		NeedsStands: true,
		want:        func(s *SeatNeeds, _ float64) float64 { return s.MedianMS() },
	}
	NeverEarly = &Policy{
		Name:        "never-early",
		Term:        "the longest need of all seats",
		NeedsStands: true, Longest: true,
		want: func(s *SeatNeeds, knotMS float64) float64 { return s.MostMS + knotMS },
	}
)

// Policies lists them, in the order in which they are named to people.
var Policies = []*Policy{Reference, MostSeats, LeastError, NeverEarly, Joint}

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
