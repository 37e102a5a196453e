package compile

import (
	"cmp"
	"fmt"
	"slices"

	"backfield/cue/timeline"
	"backfield/cue/work"
	"backfield/layout/source"
	"backfield/layout/stands"
)

// Attention is something about one open channel that a person should look at before the show.
type Attention struct {
	Cue, Player, Text string
	weight            float64 // how bad it is, in ms of delay (work.Derivation.UrgencyMS)
}

// checkPolicies reports policies that need stands if there are none.
func checkPolicies(s *work.CompileSetup, cues []timeline.TimedCue, p *source.Problems) {
	if s.Seats > 0 || s.Rig.Partial {
		return
	}
	need := func(what string, at source.Span) {
		p.Error("no-stands", at, what+" needs stands, and the rig has none",
			"add [[stands]] or seats to the rig, or use \"reference\"")
	}
	policy := func(name string, at source.Span) {
		if x := stands.PolicyByName(name); x != nil && x.NeedsStands {
			need(fmt.Sprintf("the policy %q", name), at)
		}
	}
	policy(s.Score.Policy.V, s.Score.Policy.Span)
	for _, role := range s.Score.Roles {
		policy(role.Policy, role.Span)
	}
	for i := range cues {
		policy(cues[i].Cue.Policy, cues[i].Cue.ID.Span)
	}
	for _, w := range s.Roster.Wears {
		policy(w.Policy, w.Span)
	}
	if s.Score.PanByStands {
		need("pan.by = \"stands\"", s.Score.File.Whole())
	}
}

// checkZones reports pan settings that a rig with zones does not use.
func checkZones(f *timeline.Files, p *source.Problems) {
	if f.Rig.Zones && f.Score.PanByStands {
		p.Warn("zones-pan", f.Score.File.Whole(),
			"the score has pan.by = \"stands\", and this rig has zones",
			"the sends follow the player's direction instead; leave it for stereo nights, or take it out")
	}
}

// report turns what the mixer or the drill cannot do into problems, each where the score opens the mic, and lists what
// a person should look at, worst first.
func report(
	f *timeline.Files, cues []timeline.TimedCue, works [][]*work.Derivation,
	remarks *timeline.Remarks, p *source.Problems,
) []Attention {
	var list []Attention
	cut := levelsCut{first: map[string]int{}}
	for i := range cues {
		c := &cues[i]
		id := c.Cue.ID.V
		for _, w := range works[i] {
			for _, n := range w.Notes {
				list = append(list, Attention{id, w.Name, n, w.UrgencyMS()})
			}
			o := c.Open[w.Line]
			if w.Place.UnknownDots {
				p.Error("no-dot", o.At, fmt.Sprintf("%s has no dot while cue %q has them open", w.Name, c.Cue.ID.V),
					"add their dot for every set of that time")
			}
			if w.Level.Cut && !o.BadRole {
				why := fmt.Sprintf("%s: a level of %.1f dB is outside the mixer's %g to %g dB", w.Name, w.Level.RawDB,
					f.Mixer.Level.Min, f.Mixer.MostDB(w.Channel))
				if !remarks.Note(c.Cue, "level-range", fmt.Sprintf("cue %q, %s", id, why)) {
					cut.add(id, o.At, why)
				}
			}
			if !w.Finite() {
				p.Error("not-finite", o.At, fmt.Sprintf("cue %q, %s: a value is not a number", id, w.Name),
					"this is a bug in Backfield; please report it with the show")
			}
		}
	}
	cut.report(p)
	slices.SortStableFunc(list, func(a, b Attention) int { return cmp.Compare(b.weight, a.weight) })
	return list
}

// levelsCut are the levels that the mixer cannot make. One that is wrong for the same reason in many cues, since a role
// gives it, is one warning.
type levelsCut struct {
	list  []levelCut
	first map[string]int // by place and text, where it is in the list
}

type levelCut struct {
	at       source.Span
	cue, why string
	more     int // cues
}

func (l *levelsCut) add(cue string, at source.Span, why string) {
	key := at.Where() + why
	if i, again := l.first[key]; again {
		l.list[i].more++
		return
	}
	l.first[key] = len(l.list)
	l.list = append(l.list, levelCut{at: at, cue: cue, why: why})
}

func (l *levelsCut) report(p *source.Problems) {
	for _, x := range l.list {
		cues := fmt.Sprintf("cue %q", x.cue)
		if x.more > 0 {
			cues += " and " + source.Count(float64(x.more), "more cue")
		}
		p.Warn("level-range", x.at, cues+", "+x.why,
			"fix the role, the trim or the nudge, or the ceiling in mixer.toml")
	}
}
