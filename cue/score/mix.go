package score

import (
	"backfield/layout/source"
	"backfield/layout/stand"
	"backfield/layout/table"
	"backfield/layout/unit"
)

type delayTable struct {
	Policy table.Text     `key:"policy"`
	Lead   table.Quantity `key:"lead"`
	Window table.Quantity `key:"window"`
	Free   table.Flag     `key:"free"`
}

type panTable struct {
	Width table.Num  `key:"width"`
	By    table.Text `key:"by"`
	Angle table.Num  `key:"angle"`
}

type followTable struct {
	On    table.Flag     `key:"on"`
	Drift table.Quantity `key:"drift"`
	Pan   table.Num      `key:"pan"`
	Angle table.Num      `key:"angle"`
}

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
	Masked    table.Quantity `key:"masked"`
	Fit       table.Num      `key:"fit"`
}

type zonesTable struct {
	Most table.Int `key:"most"`
}

type makeUpTable struct {
	From table.Quantity `key:"from,required"`
	Max  table.Quantity `key:"max,required"`
}

// roleValue is a level in dB, or a table with one.
type roleValue struct {
	table.Where
	level  table.Quantity
	policy table.Text
	params []Param
}

type roleTable struct {
	Level  table.Quantity           `key:"level,required"`
	Policy table.Text               `key:"policy"`
	Own    table.Map[table.Setting] `key:"*"`
}

func (v *roleValue) DecodeNode(n *table.Node, p *source.Problems) {
	v.Where = table.Where{Key: n.Key, Span: n.Span}
	if n.Kind == table.Table {
		var t roleTable
		table.Decode(n, &t, p)
		v.level, v.policy = t.Level, t.Policy
		for _, e := range t.Own.Entries {
			v.params = append(v.params, Param{Name: e.Name, Value: e.Value})
		}
		return
	}
	v.level.DecodeNode(n, p)
}

// defaultRoles hold when the score has no [mix].
var defaultRoles = []Role{{Name: "feature", LevelDB: 0}, {Name: "support", LevelDB: -9}}

func (s *Score) readMix(t *File, p *source.Problems) {
	if t.Mix == nil {
		s.Roles = defaultRoles
	} else {
		for _, e := range t.Mix.Entries {
			policy(e.Value.policy, p)
			s.Roles = append(s.Roles,
				Role{e.Name.V, e.Value.level.Within(unit.Level, 0, -100, loudestDB, "a role's level", p),
					e.Value.policy.V, e.Value.params, e.Name.Span})
		}
	}
	s.Always = openings(t.Always)
	s.Policy = policy(t.Delay.Policy, p)
	s.LeadMS = t.Delay.Lead.Within(unit.Delay, defaultLeadMS, 0, longestLeadMS, "lead", p)
	s.WindowMS = t.Delay.Window.Within(unit.Delay, defaultWindow, 1, 100, "the window", p)
	s.Free = t.Delay.Free.V
	s.readFollow(t, p)
	s.readCheck(t.Check, p)
	s.PanWidth = t.Pan.Width.Or(defaultWidth)
	if s.PanWidth < 0 || s.PanWidth > 1 {
		p.Add(badPanWidth(t.Pan.Width.Span, s.PanWidth))
		s.PanWidth = defaultWidth
	}
	if t.MakeUp != nil {
		s.MakeUp.FromM = t.MakeUp.From.Within(unit.Length, 1, 0.1, 1000, "the distance that make-up starts from", p)
		s.MakeUp.MaxDB = t.MakeUp.Max.Within(unit.Level, 0, 0, 20, "the most make-up", p)
	}
}

// policy holds the name of a policy to those that there are.
func policy(t table.Text, p *source.Problems) table.Text {
	if t.Set && !stand.CheckPolicy(t.V, t.Span, p) {
		return table.Text{}
	}
	return t
}

// readFollow reads what the follow-ons, the pan and the zones go by.
func (s *Score) readFollow(t *File, p *source.Problems) {
	s.Follow = Follow{
		On:       t.Follow.On.Or(true),
		DriftMS:  t.Follow.Drift.Within(unit.Delay, defaultDrift, 0.1, 100, "the drift that a follow-on is cut by", p),
		Pan:      bounded(t.Follow.Pan, defaultSwing, 0.005, 1, "the pan that a follow-on is cut by", p),
		AngleDeg: bounded(t.Follow.Angle, defaultTurn, 0.1, 90, "the angle that a follow-on is cut by, in degrees,", p),
	}
	s.JointDeg = bounded(t.Pan.Angle, defaultAngle, 0, 90,
		"the angle that joint may leave the true direction by, in degrees,", p)
	switch by := t.Pan.By.Or("tangent"); by {
	case "tangent":
	case "stand-fit":
		s.StandFit = true
	default:
		ways := []string{"tangent", "stand-fit"}
		p.Add(unknownPan(t.Pan.By.Span, by, ways))
	}
	s.ZonesMost = t.Zones.Most.Or(2)
	if s.ZonesMost != 1 && s.ZonesMost != 2 {
		p.Add(badZones(t.Zones.Most.Span, s.ZonesMost))
		s.ZonesMost = 2
	}
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
		MaskedDB:   t.Masked.Within(unit.Level, 6, -60, 60, "masked", p),
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

func bounded(n table.Num, def, lo, hi float64, what string, p *source.Problems) float64 {
	if n.Set && !(n.V >= lo && n.V <= hi) {
		p.Add(outOfBounds(n.Span, what, n.V, lo, hi))
		return def
	}
	return n.Or(def)
}
