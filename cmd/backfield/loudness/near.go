package loudness

import (
	"fmt"
	"io"
	"math"
	"strings"

	"backfield/cmd/backfield/show"
	"backfield/cue"
	"backfield/cue/balance"
	"backfield/layout/level"
)

// NearLevels is how loud it is near people at the most: of a cue, or of the show.
type NearLevels struct {
	Stacks *NearMost `json:"stacks"`    // the loudspeakers alone; null where they are silent
	All    *NearMost `json:"all_sound"` // with everybody's own sound

	StacksDose *NearDose `json:"stacks_day_dose,omitempty"` // only of the show
	AllDose    *NearDose `json:"all_sound_day_dose,omitempty"`
	DayS       float64   `json:"day_s,omitempty"` // how long the day of rehearsal is
}

// NearMost is the loudest moment near anybody.
type NearMost struct {
	Kind     string   `json:"near"` // player, people or seat
	Name     string   `json:"name,omitempty"`
	Where    string   `json:"dot"`
	DBA      *float64 `json:"dba"`
	Movement int      `json:"movement"`
	Count    float64  `json:"count"`
	TimeS    float64  `json:"time_s"`
}

// NearDose is the greatest part of a day's dose that anybody gets.
type NearDose struct {
	Kind string   `json:"near"`
	Name string   `json:"name,omitempty"`
	Pct  *float64 `json:"pct"`
}

// AddNear adds the levels near people: of each cue of the report, and, if these are all cues, of the show. It adds
// nothing before noise and brass were measured.
func (r *LoudnessReport) AddNear(s *show.Loaded, l *balance.Loudness, cues []*balance.CueLoudness) {
	if !r.measured() {
		return
	}
	if len(cues) < len(s.Show.Cues) {
		for i, c := range cues {
			r.Cues[i].Near = nearLevels(s, l.Near(c).Ears)
		}
		return
	}
	n := l.NearShow(cues)
	for i, c := range n.Cues {
		r.Cues[i].Near = nearLevels(s, c.Ears)
	}
	r.Near = nearLevels(s, n.Ears)
	r.Near.DayS = n.DayS
	r.Near.StacksDose = nearDose(s, n.Ears, func(x *balance.NearEar) float64 { return x.Stacks.DosePct })
	r.Near.AllDose = nearDose(s, n.Ears, func(x *balance.NearEar) float64 { return x.All.DosePct })
}

func nearLevels(s *show.Loaded, ears []balance.NearEar) *NearLevels {
	most := func(of func(*balance.NearEar) *balance.NearSound) *NearMost {
		x := balance.Loudest(ears, func(x *balance.NearEar) float64 { return of(x).DBA })
		if x == nil {
			return nil
		}
		v := of(x)
		return &NearMost{x.Kind, nearName(s, x), s.Setup.Rig.Field.Dot(v.Ear), rounded(v.DBA), v.At.Movement,
			v.At.Count(), *rounded(s.Clock.Seconds(v.At))}
	}
	return &NearLevels{Stacks: most(func(x *balance.NearEar) *balance.NearSound { return &x.Stacks }),
		All: most(func(x *balance.NearEar) *balance.NearSound { return &x.All })}
}

func nearDose(s *show.Loaded, ears []balance.NearEar, of func(*balance.NearEar) float64) *NearDose {
	x := balance.Loudest(ears, of)
	return &NearDose{x.Kind, nearName(s, x), rounded(of(x))}
}

// nearName names whose ear it is. Without stands the press box is the only seat.
func nearName(s *show.Loaded, x *balance.NearEar) string {
	if x.Kind == balance.NearSeat && len(s.Setup.Rig.Seats()) == 0 {
		return "the press box (the rig has no stands)"
	}
	return x.Name
}

// near writes the levels near people of a cue, or of the show.
func (r *LoudnessReport) near(out io.Writer, n *NearLevels, take float64) {
	switch {
	case !r.measured():
		fmt.Fprintln(out, "NEAR PEOPLE  "+measureFirst)
		return
	case n == nil: // not asked for
		return
	}
	doses := ""
	if n.AllDose != nil {
		doses = fmt.Sprintf(" (doses: %.2g times more or less)", math.Exp2(take/3)) // twice for every 3 dB
	}
	fmt.Fprintf(out, "NEAR PEOPLE  at most, give or take %s%s; measure it there\n", plain(take), doses)
	for _, x := range []struct {
		what string
		most *NearMost
		dose *NearDose
	}{{"stacks", n.Stacks, n.StacksDose}, {"all sound", n.All, n.AllDose}} {
		if x.most == nil {
			fmt.Fprintf(out, "  %-9s  silent\n", x.what)
			continue
		}
		m := x.most
		fmt.Fprintf(out, "  %-9s  %s dBA, %s, at %d:%.6g (%s), %s\n", x.what, whole(m.DBA), nearWords(m.Kind, m.Name),
			m.Movement, m.Count, cue.ClockTime(m.TimeS), m.Where)
		if x.dose != nil {
			fmt.Fprintf(out, "             %s %% of a day's dose in %.3g h, %s\n", whole(x.dose.Pct), n.DayS/3600,
				nearWords(x.dose.Kind, x.dose.Name))
		}
	}
}

// nearWords says at whose ear it is.
func nearWords(kind, name string) string {
	switch {
	case kind == balance.NearPlayer:
		return "ear of " + name
	case name == "":
		return "a seat"
	}
	return name
}

// noLowCut writes the roles in which a mic is open without a low cut.
func noLowCut(out io.Writer, roles []string) {
	if len(roles) > 0 {
		fmt.Fprintf(out, "NO LOW CUT  %s: %d Hz may decide the margin; write low_cut in [mix], as the mixer has it\n",
			strings.Join(roles, ", "), level.NominalHz[0])
	}
}
