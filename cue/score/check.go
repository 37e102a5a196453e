package score

import (
	"backfield/layout/source"
	"backfield/layout/table"
	"backfield/layout/unit"
)

// Rules are the thresholds of what check knows of the trade.
type Rules struct {
	NearStackM float64  // an open mic nearer to a stack
	MostOpen   int      // more mics open at once
	SettleS    float64  // a channel opens sooner after its delay has moved
	PressS     float64  // two cues of the operator's closer together
	HandoverS  float64  // a pack changes hands in less time
	Loud       []string // sections that a field mic should not hear from near
	PickupM    float64  // how near that is
	UnevenDB   float64  // one player louder at a field mic than all others around together
	BestDB     float64  // the featured players less over the others in their best band
	LeadDB     float64  // a lead that is more under its target
	NearDBA    float64  // loudspeakers louder at somebody's ear
	Echo       float64  // a greater share of the seats that hear a mic twice
	Held       float64  // a greater share of the seats that a delay costs which may not glide
	Fit        float64  // a smaller share of the seats inside the window, over the whole show
}

// checkTable is [check].
type checkTable struct {
	Allow     []table.Text   `key:"allow"`
	NearStack table.Quantity `key:"near_stack"`
	MostOpen  table.Int      `key:"most_open"`
	Settle    table.Quantity `key:"settle"`
	Press     table.Quantity `key:"press"`
	Handover  table.Quantity `key:"handover"`
	Loud      *[]table.Text  `key:"loud"`
	Pickup    table.Quantity `key:"pickup"`
	Uneven    table.Quantity `key:"uneven"`
	Best      table.Quantity `key:"best"`
	Lead      table.Quantity `key:"lead"`
	NearDB    table.Quantity `key:"near_db"`
	Echo      table.Num      `key:"echo"`
	Held      table.Num      `key:"held"`
	Fit       table.Num      `key:"fit"`
}

// FormerKey is about masked.
func (checkTable) FormerKey(_ *table.Node, name string, at source.Span) (source.Problem, bool) {
	return maskedRenamed(at), name == "masked"
}

// readCheck reads the thresholds of the rules. The defaults are common practice, or the rule's own reason.
func (s *Score) readCheck(t checkTable, p *source.Problems) {
	s.Allow = t.Allow
	s.Rules = Rules{
		NearStackM: t.NearStack.Within(unit.Length, 3, 0, 50, "near_stack", p),
		MostOpen:   t.MostOpen.Or(24),
		SettleS:    t.Settle.Within(unit.Duration, 0.5, 0, 60, "settle", p),
		PressS:     t.Press.Within(unit.Duration, 1, 0, 60, "press", p),
		HandoverS:  t.Handover.Within(unit.Duration, 30, 0, 3600, "handover", p),
		Loud:       []string{"snare", "tenor", "bass", "cymbal", "battery", "percussion", "guard"},
		PickupM:    t.Pickup.Within(unit.Length, 5, 0, 50, "pickup", p),
		UnevenDB:   t.Uneven.Within(unit.Level, 6, 0, 60, "uneven", p),
		BestDB:     t.Best.Within(unit.Level, 0, -60, 60, "best", p),
		LeadDB:     t.Lead.Within(unit.Level, 3, 0, 60, "lead", p),
		NearDBA:    t.NearDB.Within(unit.Level, 100, 70, 140, "near_db", p),
		Echo:       bounded(t.Echo, 25, 0, 100, "echo", p) / 100,
		Held:       bounded(t.Held, 10, 0, 100, "held", p) / 100,
		Fit:        bounded(t.Fit, 50, 0, 100, "fit", p) / 100,
	}
	if s.Rules.MostOpen < 1 {
		p.Add(badMostOpen(t.MostOpen.Span, s.Rules.MostOpen))
	}
	if t.Loud != nil {
		s.Rules.Loud = nil
		for _, name := range *t.Loud {
			s.Rules.Loud = append(s.Rules.Loud, name.V)
		}
	}
}

// Threshold is a key of [check], as the help pages have it.
type Threshold struct {
	Key    string
	Holds  string // what it holds, and its default as a verb of fmt
	Bounds string
	Of     func(r *Rules) float64 // in the unit of the page; nil where it is no number
}

// Thresholds are the keys of [check] that a rule goes by, in the order of the pages.
var Thresholds = []Threshold{
	{"near_stack", "length, default %g m.", "length, 0 to 50 m.", func(r *Rules) float64 { return r.NearStackM }},
	{"most_open", "whole number, default %g.", "whole number, from 1.",
		func(r *Rules) float64 { return float64(r.MostOpen) }},
	{"settle", "seconds, default %g s.", "seconds, 0 to 60.", func(r *Rules) float64 { return r.SettleS }},
	{"press", "seconds, default %g s.", "seconds, 0 to 60.", func(r *Rules) float64 { return r.PressS }},
	{"handover", "seconds, default %g s.", "seconds, 0 to 3600.", func(r *Rules) float64 { return r.HandoverS }},
	{"loud", "list of sections.",
		"list of sections. Default: `snare`, `tenor`, `bass`, `cymbal`, `battery`, `percussion`, `guard`. A\n" +
			"list of your own replaces all of it; `[]` means no section.", nil},
	{"pickup", "length, default %g m.", "length, 0 to 50 m.", func(r *Rules) float64 { return r.PickupM }},
	{"uneven", "level, default %g dB.", "dB, 0 to 60.", func(r *Rules) float64 { return r.UnevenDB }},
	{"best", "level, default %g dB.", "dB, -60 to 60.", func(r *Rules) float64 { return r.BestDB }},
	{"lead", "level, default %g dB.", "dB, 0 to 60.", func(r *Rules) float64 { return r.LeadDB }},
	{"near_db", "level, default %g dBA.", "dBA, 70 to 140.", func(r *Rules) float64 { return r.NearDBA }},
	{"echo", "percent, default %g.", "percent of the seats, 0 to 100.", func(r *Rules) float64 { return 100 * r.Echo }},
	{"held", "percent, default %g.", "percent of the seats, 0 to 100.", func(r *Rules) float64 { return 100 * r.Held }},
	{"fit", "percent, default %g.", "percent of the seats, 0 to 100.", func(r *Rules) float64 { return 100 * r.Fit }},
}

// DefaultRules are the thresholds of a score that says nothing of them.
func DefaultRules() *Rules {
	var s Score
	s.readCheck(checkTable{}, &source.Problems{})
	return &s.Rules
}
