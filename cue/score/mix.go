package score

import (
	"math"
	"slices"

	"backfield/layout/level"
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
	Margin table.Quantity `key:"margin"`
	Box    boxValue       `key:"box"`
	Slew   table.Num      `key:"slew"`
	Dip    table.Quantity `key:"dip"`
	Knot   table.Quantity `key:"knot"`
}

// FormerKey is about free.
func (delayTable) FormerKey(n *table.Node, name string, at source.Span) (source.Problem, bool) {
	return freeRenamed(at, n.Yes), name == "free"
}

// boxValue is the bound at the press box: the least and the greatest arrival gap, or "free".
type boxValue struct {
	ends []table.Quantity
	free bool
	span source.Span
	set  bool
}

// DecodeNode reads a list of two delays, or the word.
func (v *boxValue) DecodeNode(n *table.Node, p *source.Problems) {
	switch {
	case n.Kind == table.String:
		if v.free = n.Text == freeBox; !v.free {
			p.Add(unknownBox(n.Span, n.Text))
			return
		}
	case n.Kind == table.Array && len(n.Items) == 2:
		v.ends = make([]table.Quantity, 2)
		for i, item := range n.Items {
			v.ends[i].DecodeNode(item, p)
		}
	default:
		table.WrongType(n, `two delays, ["5 ms", "20 ms"], or "free"`, p)
		return
	}
	v.span, v.set = n.Span, true
}

// freeBox is the word for no bound.
const freeBox = "free"

var defaultBoxMS = [2]float64{5, 20}

// read is the bound in ms, the default one where none is written, and whether it is none.
func (v *boxValue) read(p *source.Problems) (boundMS [2]float64, free bool) {
	boundMS = defaultBoxMS
	if len(v.ends) != 2 {
		return boundMS, v.free
	}
	before := p.Errors()
	for i, q := range v.ends {
		boundMS[i] = q.Within(unit.Delay, defaultBoxMS[i], 0, longestBoxMS, "the press box's bound", p)
	}
	if p.Errors() > before || boundMS[0] <= boundMS[1] {
		return boundMS, false
	}
	p.Add(boxBackward(v.span, boundMS))
	return defaultBoxMS, false
}

// own is the bound of a cue or a role, nil where it has none of its own.
func (v *boxValue) own(p *source.Problems) *BoxBound {
	if !v.set {
		return nil
	}
	boundMS, free := v.read(p)
	return &BoxBound{boundMS, free}
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
	Knot  table.Num `key:"knot"`
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
	box    boxValue
	early  counts
	loud   dynamicsValue
	lowCut table.Setting
	params []ScoreParam
}

// roleTable is a role as a table; the keys that it does not know are parameters of the mixer.
type roleTable struct {
	Level  table.Quantity           `key:"level,required"`
	Policy policyChoice             `key:"policy"`
	Box    boxValue                 `key:"box"`
	Early  counts                   `key:"open_early"`
	Loud   dynamicsValue            `key:"dynamics"`
	LowCut lowCutValue              `key:"low_cut"`
	Own    table.Map[table.Setting] `key:"*"`
}

// lowCutValue is a low cut in Hz; a mixer's own parameter of that name may be a switch.
type lowCutValue struct{ table.Setting }

func (v *lowCutValue) DecodeNode(n *table.Node, p *source.Problems) {
	if n.Kind != table.Number && n.Kind != table.Bool {
		table.WrongType(n, "a number, in Hz, or true or false where your mixer's low_cut is a switch", p)
		return
	}
	v.Setting.DecodeNode(n, p)
}

func (v *roleValue) DecodeNode(n *table.Node, p *source.Problems) {
	v.Where = table.Where{Key: n.Key, Span: n.Span}
	if n.Kind == table.Table {
		var t roleTable
		table.Decode(n, &t, p)
		v.level, v.policy, v.box, v.early, v.loud = t.Level, t.Policy, t.Box, t.Early, t.Loud
		if v.lowCut = t.LowCut.Setting; v.lowCut.Set {
			name := table.Text{V: LowCut, Span: v.lowCut.Span, Set: true}
			v.params = append(v.params, ScoreParam{Name: name, Value: v.lowCut})
		}
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
		v, before := e.Value, p.Errors()
		if slices.Contains(ownBalanceKeys, e.Name.V) {
			p.Add(takenRole(e.Name))
		}
		v.policy.read(p)
		level := v.level.Within(unit.Level, 0, -100, loudestDB, "a role's level", p)
		unsure := !v.level.Set || p.Errors() > before
		s.Roles = append(s.Roles, Role{Name: e.Name.V, LevelDB: level, Unsure: unsure, Policy: v.policy.V,
			Params: v.params, Span: e.Name.Span, Box: v.box.own(p), EarlyCounts: earlyCounts(v.early, p),
			DynamicsDB: v.loud.own(), LowCutHz: lowCut(v.lowCut, p)})
	}
}

// LowCut is a role's key that levels go by, and the name of that parameter where the mixer has one.
const LowCut = "low_cut"

// lowCut is a low cut in Hz; nil where there is none, or where it is a switch of the mixer's.
func lowCut(v table.Setting, p *source.Problems) *float64 {
	if !v.Set || v.Switch {
		return nil
	}
	hz := bounded(table.Num{V: v.V, Span: v.Span, Set: true}, 0, 0, level.MostLowCutHz, "a low cut, in Hz,", p)
	return &hz
}

func (s *Score) readDelay(t delayTable, p *source.Problems) {
	s.Policy = t.Policy.read(p)
	s.LeadMS = t.Lead.Within(unit.Delay, defaultLeadMS, 0, longestLeadMS, "lead", p)
	s.WindowMS = t.Window.Within(unit.Delay, defaultWindow, 1, 100, "the window", p)
	s.MarginMS = t.Margin.Within(unit.Delay, min(defaultMargin, s.WindowMS/2), 0, s.WindowMS/2, "the margin", p)
	s.BoxMS, s.Free = t.Box.read(p)
	s.SlewMSPS = bounded(t.Slew, defaultSlew, leastSlew, mostSlew, "the slew, in ms a second,", p)
	s.DipS, s.DipAt = t.Dip.Within(unit.Duration, 0, 0, mostDipS, "the dip", p), t.Dip.Span
	s.KnotMS = t.Knot.Within(unit.Delay, defaultKnot, 0, mostKnot, "the knot", p)
	if n := s.KnotMS * 10; math.Abs(n-math.Round(n)) > 1e-9 {
		p.Add(unevenKnot(t.Knot.Span, s.KnotMS))
		s.KnotMS = defaultKnot
	}
}

func (s *Score) readPan(t panTable, p *source.Problems) {
	s.PanWidth = t.Width.Or(defaultWidth)
	if s.PanWidth < 0 || s.PanWidth > 1 {
		p.Add(badPanWidth(t.Width.Span, s.PanWidth))
		s.PanWidth = defaultWidth
	}
	s.JointDeg = bounded(t.Angle, defaultAngle, 0, 90,
		"the pan angle, in degrees,", p)
	s.PanKnot = bounded(t.Knot, defaultPanKnot, 0, mostPanKnot, "the pan's knot", p)
	switch by := t.By.Or("tangent"); by {
	case "tangent":
	case "stands":
		s.PanByStands = true
	default:
		p.Add(unknownPan(t.By.Text, t.By.Words()))
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
