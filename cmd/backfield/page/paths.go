package page

import (
	"encoding/json"
	"net/http"

	"backfield/layout/field"
)

// Paths is what a player's mic does while it is open: where its delay and pan go.
type Paths struct {
	Player    string        `json:"player"`
	Zones     int           `json:"zones"` // how many stacks the place goes along; 0 in stereo
	Stretches []StretchView `json:"stretches"`
	// Walks say where the player goes until the first cue, from each cue until the next, and after the last.
	Walks []string `json:"walks"`
}

// StretchView is a time in which a mic stays open with one wearer, sampled. In a show with zones the pans are places
// along the row of stacks, from 0.
type StretchView struct {
	At      []float64     `json:"at"`       // counts through the show
	BoxMS   []*[2]float64 `json:"box_ms"`   // the bound that the press box puts on the delay; null for none
	WantMS  []float64     `json:"want_ms"`  // the chosen path
	SentMS  []float64     `json:"sent_ms"`  // the lines between its knots
	WantPan []float64     `json:"want_pan"` // in the direction of the player
	SentPan []float64     `json:"sent_pan"`
	Knots   []float64     `json:"knots"` // counts
}

func (t *Site) servePaths(w http.ResponseWriter, r *http.Request) {
	s, l, ok := t.drawnShow(w)
	if !ok {
		return
	}
	out := Paths{Player: r.FormValue("player"), Stretches: []StretchView{}}
	if s.Rig.Zones {
		out.Zones = len(s.Rig.MainStacks())
	}
	for _, path := range s.Paths(out.Player) {
		var v StretchView
		for _, p := range path {
			at := mm(l.count(p.Moment))
			if p.BoxMS != nil {
				p.BoxMS = &[2]float64{mm(p.BoxMS[0]), mm(p.BoxMS[1])}
			}
			v.At, v.BoxMS = append(v.At, at), append(v.BoxMS, p.BoxMS)
			v.WantMS, v.SentMS = append(v.WantMS, mm(p.WantMS)), append(v.SentMS, mm(p.SentMS))
			v.WantPan, v.SentPan = append(v.WantPan, mm(p.WantPan)), append(v.SentPan, mm(p.SentPan))
			if p.Knot {
				v.Knots = append(v.Knots, at)
			}
		}
		out.Stretches = append(out.Stretches, v)
	}
	out.Walks = l.walks(out.Player)
	w.Header().Set("Content-Type", "application/json")
	json.NewEncoder(w).Encode(out)
}

// walks says where a player goes between two cues, also one without a mic: "walks 12.0 steps toward side 1, to S2, 2
// outside the 45; 4 behind front hash".
func (l *viewBuilder) walks(player string) []string {
	marcher, ok := l.s.Drill.Player(player)
	if !ok {
		return []string{}
	}
	ends := []float64{0}
	for _, c := range l.v.Cues {
		ends = append(ends, c.At)
	}
	ends = append(ends, l.v.Counts)
	list := []string{}
	for i, to := range ends[1:] {
		a, b := l.at(ends[i]), l.at(to)
		from, known := marcher.At(l.s.Drill, a.Movement, a.Elapsed)
		at, also := marcher.At(l.s.Drill, b.Movement, b.Elapsed)
		const tinySteps = 0.05
		moves := false // also who comes back
		for _, key := range l.v.Keys {
			k := l.at(key)
			p, _ := marcher.At(l.s.Drill, k.Movement, k.Elapsed)
			moves = moves || key > ends[i] && key < to && field.Steps(from, p) >= tinySteps
		}
		switch dot := l.s.Drill.Field.Dot(at); {
		case !known || !also:
			list = append(list, "no dots here")
		case field.Steps(from, at) < tinySteps && moves:
			list = append(list, "walks, and comes back to "+dot)
		case field.Steps(from, at) < tinySteps:
			list = append(list, "stays: "+dot)
		default:
			list = append(list, "walks "+l.s.Drill.Field.Walk(from, at))
		}
	}
	return list
}
