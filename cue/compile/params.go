package compile

import (
	"fmt"
	"slices"

	"backfield/cue"
	"backfield/cue/roster"
	"backfield/cue/score"
	"backfield/layout/source"
	"backfield/layout/table"
	"backfield/layout/unit"
)

// Param is one of the desk's own parameters: what a channel has of it that nobody sets, and its limits in its own unit.
type Param struct {
	cue.Own
	Limits
	Default float64
}

// Given is how one of the desk's own parameters came to its value on one channel.
type Given struct {
	*Param
	By    string // what set it: "cue 5", "the roster", "role feature", "the desk's default"
	Raw   float64
	Value float64
}

// chosen is what a cue sets one of the desk's own parameters to, on one line.
type chosen struct {
	name  string
	value table.Setting
	named bool // by name, not through a group
}

// param finds one of the desk's own parameters, or reports that there is none of that name; others may stand there too.
func (r *Result) param(name table.Text, p *source.Problems, others ...string) *Param {
	for i := range r.Desk.Params {
		if r.Desk.Params[i].Name == name.V {
			return &r.Desk.Params[i]
		}
	}
	if r.Doubt { // it may well be in what could not be read
		return nil
	}
	names := others
	for _, x := range r.Desk.Params {
		names = append(names, x.Name)
	}
	switch {
	case slices.Contains([]string{cue.ParamLevel, cue.ParamMute, cue.ParamPan, cue.ParamDelay, cue.ParamSend}, name.V):
		p.Error("unknown-param", name.Span, fmt.Sprintf("%s is computed, and is no parameter of the desk's own", name.V), "a level is that of the role, or a nudge; mute, pan, delay and sends follow from who is open and where he stands")
	case len(r.Desk.Params) == 0:
		p.Error("unknown-param", name.Span, fmt.Sprintf("no parameter %q: this desk has none of its own", name.V), source.DidYouMean(name.V, names, fmt.Sprintf("add [param.%s] to desk.toml, or take this out", name.V)))
	default:
		p.Error("unknown-param", name.Span, fmt.Sprintf("no parameter %q", name.V), source.DidYouMean(name.V, names, "it is "+source.OneOf(names)+"; or add it to desk.toml"))
	}
	return nil
}

// holdParam holds what a parameter is set to, in the words of who does, to what it can be. m is the cue, nil for the show.
func (r *Result) holdParam(m *Moment, d *Param, v table.Setting, who string, p *source.Problems) {
	switch {
	case d == nil || !v.Set:
	case d.Switch && !v.Switch:
		p.Error("param-type", v.Span, fmt.Sprintf("%s is a switch, and %g is a number", d.Name, v.V), "write true or false; in the roster on or off")
	case !d.Switch && v.Switch:
		p.Error("param-type", v.Span, fmt.Sprintf("%s is a number", d.Name), "write a number, bare")
	case v.V < d.Min || v.V > d.Max:
		r.warn(m, "param-range", v.Span, fmt.Sprintf("%s: %s of %s is wanted and the desk holds %g to %g", who, d.Name, d.Words(v.V), d.Min, d.Max), "mend it; until then the nearer end is sent", p)
	}
}

// checkParams holds what roles, players and cues set of the desk's own parameters to what the desk has.
func (r *Result) checkParams(p *source.Problems) {
	for _, role := range r.Score.Roles {
		for _, x := range role.Params {
			r.holdParam(nil, r.param(x.Name, p, "level", "policy"), x.Value, "role "+role.Name, p)
		}
	}
	columns := map[string]*Param{} // one misspelt name is one mistake, in however many rows
	for _, w := range r.Roster.Wears {
		for _, x := range w.Params {
			d, seen := columns[x.Name.V]
			if !seen {
				d = r.param(x.Name, p)
				columns[x.Name.V] = d
			}
			r.holdParam(nil, d, x.Value, w.Player, p)
		}
	}
	for i := range r.Score.Cues {
		c := &r.Score.Cues[i]
		known := map[string]*Param{}
		for _, x := range c.Params {
			d, seen := known[x.Name.V]
			if !seen {
				d = r.param(x.Name, p)
				known[x.Name.V] = d
			}
			r.holdParam(&Moment{Cue: c}, d, x.Value, fmt.Sprintf("cue %q, %s", c.ID.V, x.Of.V), p)
		}
		if r.Desk.CheckRaw == nil {
			continue
		}
		for _, x := range c.Also {
			r.Desk.CheckRaw(raw(x), x.Address, p, func(at source.Span, what, do string) {
				r.warn(&Moment{Cue: c}, "raw-scene", at, what, do, p)
			})
		}
	}
}

// paramIn sets what a cue sets for some of those whom it has open. A name beats a group.
func (r *Result) paramIn(m *Moment, p *source.Problems) {
	for _, x := range m.Cue.Params {
		for _, f := range r.named(x.Of, m.At, m.Cue.ID.V, p) {
			o, ok := m.open[f.line]
			if !ok {
				if f.named && r.knowsBefore(m) && p.Errors() == 0 {
					r.warn(m, "param-closed", x.Of.Span, fmt.Sprintf("cue %q sets %s for %s and does not have it open", m.Cue.ID.V, x.Name.V, x.Of.V), "open it, or leave this out", p)
				}
				continue
			}
			next := chosen{x.Name.V, x.Value, f.named}
			at := slices.IndexFunc(o.params, func(c chosen) bool { return c.name == next.name })
			switch {
			case at < 0:
				o.params = append(o.params, next)
			case !o.params[at].named:
				o.params[at] = next
			}
			m.open[f.line] = o
		}
	}
}

// params settles the desk's own parameters of one open line: by the cue, the player, the role, or the desk's default, the
// first of these that says anything; then within the desk's limits, on its step.
func (r *Result) params(w *Working, m *Moment, l *line, o opening) {
	for i := range r.Desk.Params {
		d := &r.Desk.Params[i]
		s := Given{Param: d, By: "the desk's default", Raw: d.Default}
		take := func(v table.Setting, by string) {
			if v.Set {
				s.Raw, s.By = v.V, by
			}
		}
		if at := slices.IndexFunc(o.role.Params, func(x score.Param) bool { return x.Name.V == d.Name }); at >= 0 {
			take(o.role.Params[at].Value, "role "+o.role.Name)
		}
		if l.fixed == nil {
			worn := l.holder(w.From).Params
			if at := slices.IndexFunc(worn, func(x roster.Param) bool { return x.Name.V == d.Name }); at >= 0 {
				take(worn[at].Value, "the roster")
			}
		}
		if at := slices.IndexFunc(o.params, func(x chosen) bool { return x.name == d.Name }); at >= 0 {
			take(o.params[at].value, fmt.Sprintf("cue %s", m.Cue.ID.V))
		}
		s.Value = unit.Round(max(min(s.Raw, d.Max), d.Min), d.Step)
		s.Value = max(min(s.Value, d.Max), d.Min)
		if s.Raw < d.Min || s.Raw > d.Max {
			w.note(fmt.Sprintf("%s of %s is outside of the desk's range, %g to %g", d.Name, d.Words(s.Raw), d.Min, d.Max))
		}
		w.Params = append(w.Params, s)
	}
}

// values are the desk's own parameters of a channel: those of a working, or with nil what nobody has set.
func (r *Result) values(w *Working) []cue.Param {
	var list []cue.Param
	for i, d := range r.Desk.Params {
		v := d.Default
		if w != nil {
			v = w.Params[i].Value
		}
		list = append(list, cue.Param{Name: d.Name, Value: v})
	}
	return list
}

func raw(x score.Raw) cue.Raw { return cue.Raw{Address: x.Address.V, Types: x.Types, Args: x.Args} }

// raws are the messages that a cue sends besides.
func raws(list []score.Raw) []cue.Raw {
	var out []cue.Raw
	for _, x := range list {
		out = append(out, raw(x))
	}
	return out
}
