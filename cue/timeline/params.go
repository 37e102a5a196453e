package timeline

import (
	"fmt"
	"slices"

	"backfield/cue"
	"backfield/cue/score"
	"backfield/layout/source"
	"backfield/layout/table"
)

// param finds one of the mixer's own parameters, or reports that there is none of that name; others may be there
// too.
func (f *Files) param(name table.Text, p *source.Problems, others ...string) *Param {
	for i := range f.Mixer.Params {
		if f.Mixer.Params[i].Name == name.V {
			return &f.Mixer.Params[i]
		}
	}
	if f.Doubt { // it may well be in what could not be read
		return nil
	}
	names := others
	for _, x := range f.Mixer.Params {
		names = append(names, x.Name)
	}
	switch {
	case slices.Contains([]string{cue.ParamLevel, cue.ParamMute, cue.ParamPan, cue.ParamDelay, cue.ParamSend}, name.V):
		p.Add(computedParam(name))
	case len(f.Mixer.Params) == 0:
		p.Add(noParams(name, names))
	default:
		p.Add(unknownParam(name, names))
	}
	return nil
}

// has reports whether the mixer has an own parameter of that name.
func (m *MixerSpec) has(name string) bool {
	return slices.ContainsFunc(m.Params, func(x Param) bool { return x.Name == name })
}

// paramCheck is where what is wrong with a parameter goes.
type paramCheck struct {
	*Files
	remarks *Remarks
	p       *source.Problems
}

// hold compares what a parameter is set to, in the words of who does, with what it can be. q is the cue, nil for the
// show.
func (c *paramCheck) hold(q *score.Cue, d *Param, v table.Setting, who string) {
	switch {
	case d == nil || !v.Set:
	case d.Switch && !v.Switch:
		c.p.Add(isSwitch(d.Name, v))
	case !d.Switch && v.Switch:
		c.p.Add(isNumber(d.Name, v))
	case v.V < d.Min || v.V > d.Max:
		const text = "%s: %s of %s is out of the mixer's range (%g to %g)"
		c.remarks.About(q, "param-range", v.Span, fmt.Sprintf(text, who, d.Name, d.ValueText(v.V), d.Min, d.Max),
			"fix it; until then the nearest value in range is sent")
	}
}

// CheckParams compares what roles, players and cues set of the mixer's own parameters with what the mixer has.
func CheckParams(f *Files, remarks *Remarks, p *source.Problems) {
	k := &paramCheck{f, remarks, p}
	for _, role := range f.Score.Roles {
		for _, x := range role.Params {
			if x.Name.V == score.LowCut && !x.Value.Switch && !f.Mixer.has(score.LowCut) {
				continue // for levels only: nobody sends it
			}
			k.hold(nil, f.param(x.Name, p, "level", "policy"), x.Value, "role "+role.Name)
		}
	}
	if f.Mixer.has(score.LowCut) {
		for i := range f.Rig.Mics {
			m := &f.Rig.Mics[i]
			k.hold(nil, f.param(table.Text{V: score.LowCut}, p), m.LowCut, m.Name)
		}
	}
	columns := map[string]*Param{} // one misspelt name is one mistake, in however many rows
	for _, w := range f.Roster.Wears {
		for _, x := range w.Params {
			d, seen := columns[x.Name.V]
			if !seen {
				d = f.param(x.Name, p)
				columns[x.Name.V] = d
			}
			k.hold(nil, d, x.Value, w.Player)
		}
	}
	for i := range f.Score.Cues {
		c := &f.Score.Cues[i]
		known := map[string]*Param{}
		for _, x := range c.Params {
			d, seen := known[x.Name.V]
			if !seen {
				d = f.param(x.Name, p)
				known[x.Name.V] = d
			}
			k.hold(c, d, x.Value, fmt.Sprintf("cue %q, %s", c.ID.V, x.Of.V))
		}
		if f.Mixer.CheckRaw == nil {
			continue
		}
		for _, x := range c.Also {
			f.Mixer.CheckRaw(Raw(x), x.Address, p, func(at source.Span, what, do string) {
				remarks.About(c, "raw-scene", at, what, do)
			})
		}
	}
}

// paramIn sets what a cue sets for some of those whom it has open. A name beats a group.
func (o *opener) paramIn(c *TimedCue) {
	for _, x := range c.Cue.Params {
		for _, f := range o.named(x.Of, c.At, c.Cue.ID.V, o.p) {
			y, ok := c.Open[f.line]
			if !ok {
				if f.byName && o.knowsBefore(c) && o.p.Errors() == 0 {
					o.remarks.About(c.Cue, "param-closed", x.Of.Span,
						fmt.Sprintf("cue %q sets %s for %s but does not open it", c.Cue.ID.V, x.Name.V,
							x.Of.V), "open it, or remove this")
				}
				continue
			}
			next := Chosen{x.Name.V, x.Value, f.byName}
			at := slices.IndexFunc(y.Params, func(was Chosen) bool { return was.Name == next.Name })
			switch {
			case at < 0:
				y.Params = append(y.Params, next)
			case !y.Params[at].ByName:
				y.Params[at] = next
			}
			c.Open[f.line] = y
		}
	}
}

// Raw is an extra message of a cue as a snapshot has it.
func Raw(x score.Raw) cue.Extra { return cue.Extra{Address: x.Address.V, Types: x.Types, Args: x.Args} }
