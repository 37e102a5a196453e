package work

import (
	"fmt"
	"slices"

	"backfield/cue"
	"backfield/cue/roster"
	"backfield/cue/score"
	"backfield/cue/timeline"
	"backfield/layout/table"
	"backfield/layout/unit"
)

// LevelSum is a channel's level and what it adds up from, in dB.
type LevelSum struct {
	RoleDB, TrimDB, NudgeDB, MakeUpDB float64

	RawDB float64 // their sum
	Cut   bool    // the sum is outside the mixer's range
	DB    float64 // rounded to the mixer's step, as it is sent
}

// levelOf adds up role, trim, nudge and the make-up at the cue's moment, and rounds to the mixer's step.
func levelOf(p *micPart) LevelSum {
	makeUpDB := 0.0
	if p.stretch.MakeUpDB != nil {
		makeUpDB = p.stretch.MakeUpDB[p.lo]
	}
	return p.levelWith(makeUpDB)
}

// levelWith is the level with a make-up.
func (p *micPart) levelWith(makeUpDB float64) LevelSum {
	x := LevelSum{RoleDB: p.open.Role.LevelDB, NudgeDB: p.open.NudgeDB, MakeUpDB: makeUpDB}
	if p.line.Fixed != nil {
		x.TrimDB = p.line.Fixed.TrimDB
	} else {
		x.TrimDB = p.worn.TrimDB
	}
	x.RawDB = x.RoleDB + x.TrimDB + x.NudgeDB + x.MakeUpDB
	v := max(min(x.RawDB, p.Mixer.MostDB(p.line.Channel)), p.Mixer.Level.Min)
	x.Cut = v != x.RawDB
	x.DB = unit.Round(v, p.Mixer.Level.Step)
	return x
}

func (x LevelSum) notes(least, most float64) []string {
	if !x.Cut {
		return nil
	}
	return []string{fmt.Sprintf("the level of %.1f dB is outside the mixer's range, %g to %g dB", x.RawDB, least, most)}
}

// ChosenParam is the value of one of the mixer's own parameters on one channel, and what set it.
type ChosenParam struct {
	*timeline.Param
	By    string // what set it: "cue 5", "the roster", "role feature", "the mixer's default"
	Raw   float64
	Value float64 // rounded to the mixer's step, as it is sent
}

// paramsOf sets the mixer's own parameters of one open line: from the cue, the player or the fixed mic, the role, or the
// mixer's default, the first of these that has a value; then within the mixer's limits, rounded to its step.
func paramsOf(p *micPart) []ChosenParam {
	var list []ChosenParam
	for i := range p.Mixer.Params {
		d := &p.Mixer.Params[i]
		x := ChosenParam{Param: d, By: "the mixer's default", Raw: d.Default}
		take := func(v table.Setting, by string) {
			if v.Set {
				x.Raw, x.By = v.V, by
			}
		}
		role := p.open.Role
		if at := slices.IndexFunc(role.Params, func(x score.ScoreParam) bool { return x.Name.V == d.Name }); at >= 0 {
			take(role.Params[at].Value, "role "+role.Name)
		}
		if p.line.Fixed != nil && d.Name == score.LowCut {
			take(p.line.Fixed.LowCut, "the rig")
		}
		if p.worn != nil {
			at := slices.IndexFunc(p.worn.Params, func(x roster.RosterParam) bool { return x.Name.V == d.Name })
			if at >= 0 {
				take(p.worn.Params[at].Value, "the roster")
			}
		}
		at := slices.IndexFunc(p.open.Params, func(x timeline.Chosen) bool { return x.Name == d.Name })
		if at >= 0 {
			take(p.open.Params[at].Value, fmt.Sprintf("cue %s", p.cue.Cue.ID.V))
		}
		x.Value = unit.Round(max(min(x.Raw, d.Max), d.Min), d.Step)
		x.Value = max(min(x.Value, d.Max), d.Min)
		list = append(list, x)
	}
	return list
}

func paramNotes(params []ChosenParam) (notes []string) {
	for _, x := range params {
		if x.Raw < x.Min || x.Raw > x.Max {
			notes = append(notes, fmt.Sprintf("%s of %s is outside the mixer's range, %g to %g",
				x.Name, x.ValueText(x.Raw), x.Min, x.Max))
		}
	}
	return notes
}

// Values are the mixer's own parameters of a channel: those of a derivation, or the defaults if it is nil.
func Values(d *timeline.MixerSpec, w *Derivation) []cue.ParamValue {
	var list []cue.ParamValue
	for i, x := range d.Params {
		v := x.Default
		if w != nil {
			v = w.Params[i].Value
		}
		list = append(list, cue.ParamValue{Name: x.Name, Value: v})
	}
	return list
}
