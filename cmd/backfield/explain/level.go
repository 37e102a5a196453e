package explain

import (
	"fmt"
	"strings"
)

// params writes where the mixer's own parameters come from.
func (e *explainer) params() {
	for _, s := range e.w.Params {
		e.say("%s\n  set by      %s: %s", strings.ToUpper(s.Name), s.By, s.ValueText(s.Raw))
		if s.Switch {
			e.say("")
			continue
		}
		e.round(s.Name, s.Raw, s.Value, s.Limits)
	}
}

func (e *explainer) level() {
	w := e.w
	e.say("LEVEL")
	parts := e.levelParts()
	if w.Level.MakeUpDB != 0 {
		m := e.s.Score.MakeUp
		e.say("  make-up     min(%.4g, 20 log10(%.2f m / %.4g m)) = %.3f dB", m.MaxDB, w.Place.ReferenceM, m.FromM,
			w.Level.MakeUpDB)
	}
	e.say("  sum         %s = %.4g dB", strings.Join(parts, ", "), w.Level.RawDB)
	e.round("level", w.Level.RawDB, w.Level.DB, e.s.Input.Mixer.Level)
}

// levelParts are the terms of the level: "role feature +0", "trim -1.5".
func (e *explainer) levelParts() []string {
	w := e.w
	parts := []string{fmt.Sprintf("role %s %+.4g", w.Role, w.Level.RoleDB)}
	for _, x := range []struct {
		name string
		db   float64
	}{{"trim", w.Level.TrimDB}, {"nudge", w.Level.NudgeDB}, {"make-up", w.Level.MakeUpDB}} {
		if x.db != 0 {
			parts = append(parts, fmt.Sprintf("%s %+.4g", x.name, x.db))
		}
	}
	return parts
}
