package page

import (
	"encoding/json"
	"net/http"
)

// Paths is what a player's mic does while it is open: where its delay and pan go.
type Paths struct {
	Player    string        `json:"player"`
	Zones     int           `json:"zones"` // how many stacks the place goes along; 0 in stereo
	Stretches []StretchView `json:"stretches"`
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
	w.Header().Set("Content-Type", "application/json")
	json.NewEncoder(w).Encode(out)
}
