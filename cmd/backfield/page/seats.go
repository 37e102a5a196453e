package page

import (
	"encoding/json"
	"math"
	"net/http"
	"strconv"
)

// Seats is how a mic is heard in the stands at one count.
type Seats struct {
	Player string    `json:"player"`
	Cue    string    `json:"cue"`     // the cue that the numbers are from
	Closed bool      `json:"closed"`  // the mic is closed here; the numbers are for its next opening
	GapMS  []float64 `json:"gap_ms"`  // arrival gap at each of FieldView.Seats; none if no stack reaches them
	Echo   []int     `json:"echo"`    // the indices of the seats that hear an echo
	InTime float64   `json:"in_time"` // share of the seats in time, by weight, 0 to 1
	NoEcho float64   `json:"no_echo"` // of those that are in time and hear no echo
	BoxMS  float64   `json:"box_ms"`  // arrival gap at the press box
}

func (t *Site) serveSeats(w http.ResponseWriter, r *http.Request) {
	s, l, ok := t.drawnShow(w)
	if !ok {
		return
	}
	count, err := strconv.ParseFloat(r.FormValue("at"), 64)
	if err != nil || !(count >= 0 && count <= 1e6) {
		http.Error(w, "at must be a count of the show, 0 to 1000000", http.StatusBadRequest)
		return
	}
	player := r.FormValue("player")
	working, at, closed, err := s.Explain(r.FormValue("cue"), player)
	if err != nil {
		http.Error(w, err.Error(), http.StatusNotFound)
		return
	}
	if mic := s.Lines.List[working.Line].Fixed; mic != nil && !mic.HasPlayer() {
		http.Error(w, player+" is a line: there is no player for the stacks to be in time with", http.StatusNotFound)
		return
	}
	moment := l.at(count)
	place, known := s.Where(player, moment)
	if !known {
		http.Error(w, player+" has no dots", http.StatusNotFound)
		return
	}
	place.Z = working.Place.Start.Z
	if closed {
		moment = working.From // the channel waits with the values that it opens with
	}
	out := Seats{Player: player, Cue: at, Closed: closed, GapMS: []float64{}, Echo: []int{}}
	if heard, ok := s.HeardAt(working, moment, place); ok {
		for i, gapMS := range heard.GapsMS {
			out.GapMS = append(out.GapMS, tenth(gapMS))
			if heard.Echo[i] {
				out.Echo = append(out.Echo, i)
			}
		}
		out.InTime, out.NoEcho, out.BoxMS = heard.Fit.Inside, heard.Fit.NoEcho, tenth(heard.BoxGapMS)
	}
	w.Header().Set("Content-Type", "application/json")
	json.NewEncoder(w).Encode(out)
}

func tenth(v float64) float64 { return math.Round(v*10) / 10 }
