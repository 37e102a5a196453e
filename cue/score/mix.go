package score

import (
	"backfield/layout/source"
	"backfield/layout/stands"
	"backfield/layout/table"
	"backfield/layout/unit"
)

// policyChoice is the name of the way in which a delay is chosen.
type policyChoice struct{ table.Text }

// Words are the policies.
func (policyChoice) Words() []string { return stands.PolicyNames() }

// read holds the name to those that there are.
func (c policyChoice) read(p *source.Problems) table.Text {
	if c.Set && !stands.CheckPolicy(c.V, c.Span, p) {
		return table.Text{}
	}
	return c.Text
}

// delayTable is [delay].
type delayTable struct {
	Policy policyChoice   `key:"policy"`
	Lead   table.Quantity `key:"lead"`
	Window table.Quantity `key:"window"`
	Free   table.Flag     `key:"free"`
}

// panChoice is by what the pan is found.
type panChoice struct{ table.Text }

// Words are the ways to pan.
func (panChoice) Words() []string { return []string{"tangent", "stands"} }

// panTable is [pan].
type panTable struct {
	Width table.Num `key:"width"`
	By    panChoice `key:"by"`
	Angle table.Num `key:"angle"`
}

// waypointsTable is [waypoints].
type waypointsTable struct {
	On    table.Flag     `key:"on"`
	Drift table.Quantity `key:"drift"`
	Pan   table.Num      `key:"pan"`
	Angle table.Num      `key:"angle"`
}

// zonesTable is [zones].
type zonesTable struct {
	Most table.Int `key:"most"`
}

// makeUpTable is [make_up].
type makeUpTable struct {
	From table.Quantity `key:"from,required"`
	Max  table.Quantity `key:"max,required"`
}

// roleValue is a level in dB, or a table with one.
type roleValue struct {
	table.Where
	level  table.Quantity
	policy policyChoice
	params []ScoreParam
}

// roleTable is a role as a table; the keys that it does not know are parameters of the mixer.
type roleTable struct {
	Level  table.Quantity           `key:"level,required"`
	Policy policyChoice             `key:"policy"`
	Own    table.Map[table.Setting] `key:"*"`
}

func (v *roleValue) DecodeNode(n *table.Node, p *source.Problems) {
	v.Where = table.Where{Key: n.Key, Span: n.Span}
	if n.Kind == table.Table {
		var t roleTable
		table.Decode(n, &t, p)
		v.level, v.policy = t.Level, t.Policy
		for _, e := range t.Own.Entries {
			v.params = append(v.params, ScoreParam{Name: e.Name, Value: e.Value})
		}
		return
	}
	v.level.DecodeNode(n, p)
}

// defaultRoles hold when the score has no [mix].
var defaultRoles = []Role{{Name: "feature", LevelDB: 0}, {Name: "support", LevelDB: -9}}

// readMix reads the roles, and what everyone's delay, pan and level go by.
func (s *Score) readMix(t *ScoreFile, p *source.Problems) {
	s.readRoles(t.Mix, p)
	s.Always = openings(t.Always)
	s.readDelay(t.Delay, p)
	s.readPan(t.Pan, p)
	s.readWaypoints(t.Waypoints, p)
	s.ZonesMost = t.Zones.Most.Or(2)
	if s.ZonesMost != 1 && s.ZonesMost != 2 {
		p.Add(badZones(t.Zones.Most.Span, s.ZonesMost))
		s.ZonesMost = 2
	}
	if m := t.MakeUp; m != nil {
		s.MakeUp.FromM = m.From.Within(unit.Length, 1, 0.1, 1000, "the make-up's from", p)
		s.MakeUp.MaxDB = m.Max.Within(unit.Level, 0, 0, 20, "the make-up's max", p)
	}
}

func (s *Score) readRoles(mix *table.Map[roleValue], p *source.Problems) {
	if mix == nil {
		s.Roles = defaultRoles
		return
	}
	for _, e := range mix.Entries {
		v := e.Value
		v.policy.read(p)
		level := v.level.Within(unit.Level, 0, -100, loudestDB, "a role's level", p)
		s.Roles = append(s.Roles, Role{e.Name.V, level, v.policy.V, v.params, e.Name.Span})
	}
}

func (s *Score) readDelay(t delayTable, p *source.Problems) {
	s.Policy = t.Policy.read(p)
	s.LeadMS = t.Lead.Within(unit.Delay, defaultLeadMS, 0, longestLeadMS, "lead", p)
	s.WindowMS = t.Window.Within(unit.Delay, defaultWindow, 1, 100, "the window", p)
	s.Free = t.Free.V
}

func (s *Score) readPan(t panTable, p *source.Problems) {
	s.PanWidth = t.Width.Or(defaultWidth)
	if s.PanWidth < 0 || s.PanWidth > 1 {
		p.Add(badPanWidth(t.Width.Span, s.PanWidth))
		s.PanWidth = defaultWidth
	}
	s.JointDeg = bounded(t.Angle, defaultAngle, 0, 90,
		"the pan angle, in degrees,", p)
	switch by := t.By.Or("tangent"); by {
	case "tangent":
	case "stands":
		s.PanByStands = true
	default:
		p.Add(unknownPan(t.By.Text, t.By.Words()))
	}
}

// readWaypoints reads when waypoints are added.
func (s *Score) readWaypoints(t waypointsTable, p *source.Problems) {
	s.Waypoints = Waypoints{
		On:       t.On.Or(true),
		DriftMS:  t.Drift.Within(unit.Delay, defaultDrift, 0.1, 100, "the waypoints' drift", p),
		Pan:      bounded(t.Pan, defaultSwing, 0.005, 1, "the waypoints' pan", p),
		AngleDeg: bounded(t.Angle, defaultTurn, 0.1, 90, "the waypoints' angle, in degrees,", p),
	}
}

// bounded is a number within lo and hi, or def; what names it.
func bounded(n table.Num, def, lo, hi float64, what string, p *source.Problems) float64 {
	if n.Set && !(n.V >= lo && n.V <= hi) {
		p.Add(outOfBounds(n.Span, what, n.V, lo, hi))
		return def
	}
	return n.Or(def)
}
