package page

import (
	"encoding/json"
	"errors"
	"math"
	"net/http"
	"strconv"

	"backfield/cue/clock"
	"backfield/cue/seat"
	"backfield/layout/rig"
	"backfield/layout/seatname"
)

// serveSeat answers what one seat hears of one mic at one count, as a seat.Heard:
//
//	GET /seat?row=12&seat=66&channel=7&count=123&way=compiled
//
// The seat is row= and seat=, with block= (its name) where the stands have several; or index=, its number in
// FieldView.Seats; or place=, "box" or any name that `backfield listen --seat` takes. The mic is channel=, or player=
// with the name of a player or a fixed mic. count is a count through the whole show, from 0. way is compiled (as without
// it), none, stereo or zones. What is wrong is answered in words, with the status 400 or 404.
func (t *Site) serveSeat(w http.ResponseWriter, r *http.Request) {
	audience, place, at, ok := t.seated(w, r)
	if !ok {
		return
	}
	q := seat.Question{Seat: place, Mic: r.FormValue("player"), At: at, Way: seat.Way(r.FormValue("way"))}
	if q.Way == "" {
		q.Way = seat.Compiled
	}
	if q.Mic == "" {
		channel, err := strconv.Atoi(r.FormValue("channel"))
		if err != nil {
			http.Error(w, "channel must be a whole number", http.StatusBadRequest)
			return
		}
		if q.Mic, err = audience.MicOf(channel, q.At); err != nil {
			http.Error(w, err.Error(), http.StatusNotFound)
			return
		}
	}
	heard, err := audience.Hear(q)
	if err != nil {
		http.Error(w, err.Error(), http.StatusNotFound)
		return
	}
	w.Header().Set("Content-Type", "application/json")
	json.NewEncoder(w).Encode(rounded(heard))
}

// serveGaps answers how all open worn mics arrive at one seat at one count, as a list of seat.MicGap:
//
//	GET /gaps?row=12&seat=66&count=123
func (t *Site) serveGaps(w http.ResponseWriter, r *http.Request) {
	audience, place, at, ok := t.seated(w, r)
	if !ok {
		return
	}
	list := audience.Gaps(place, at)
	for i := range list {
		list[i].GapMS = mm(list[i].GapMS)
	}
	w.Header().Set("Content-Type", "application/json")
	json.NewEncoder(w).Encode(list)
}

// seated is the show as its seats hear it, and the seat and the moment that a request names. If a request is wrong it is
// answered.
func (t *Site) seated(w http.ResponseWriter, r *http.Request) (*seat.Audience, seatname.NamedSeat, clock.Moment, bool) {
	var place seatname.NamedSeat
	s, l, ok := t.drawnShow(w)
	if !ok {
		return nil, place, clock.Moment{}, false
	}
	count, err := strconv.ParseFloat(r.FormValue("count"), 64)
	if err != nil || !(count >= 0 && count <= 1e6) {
		http.Error(w, "count must be a count of the show, 0 to 1000000", http.StatusBadRequest)
		return nil, place, clock.Moment{}, false
	}
	if place, err = seatAsked(r, s.Rig); err != nil {
		http.Error(w, err.Error(), http.StatusNotFound)
		return nil, place, clock.Moment{}, false
	}
	t.mu.Lock()
	audience := t.audience
	t.mu.Unlock()
	return audience(), place, l.at(count), true
}

// seatAsked is the seat that a request names.
func seatAsked(r *http.Request, of *rig.Rig) (seatname.NamedSeat, error) {
	stands := seatname.Of(of)
	if place := r.FormValue("place"); place != "" {
		return stands.Find(place)
	}
	if text := r.FormValue("index"); text != "" {
		n, err := strconv.Atoi(text)
		if err != nil {
			return seatname.NamedSeat{}, errors.New("index must be a whole number")
		}
		return stands.Index(n)
	}
	row, rowErr := strconv.Atoi(r.FormValue("row"))
	number, err := strconv.Atoi(r.FormValue("seat"))
	if err != nil || rowErr != nil {
		return seatname.NamedSeat{}, errors.New("row and seat must be whole numbers; or ask for place=box")
	}
	return stands.At(r.FormValue("block"), row, number)
}

// rounded is what the page needs of the digits: a thousandth of a millisecond, a hundredth of a dB and of a degree.
func rounded(h *seat.Heard) *seat.Heard {
	cents := func(v float64) float64 { return math.Round(v*100)/100 + 0 }
	h.XM, h.YM, h.ZM, h.DelayMS = mm(h.XM), mm(h.YM), mm(h.ZM), mm(h.DelayMS)
	for i := range h.Arrivals {
		a := &h.Arrivals[i]
		a.TimeMS, a.LeaveMS, a.DistanceM = mm(a.TimeMS), mm(a.LeaveMS), mm(a.DistanceM)
		for k := range a.At {
			a.At[k] = mm(a.At[k])
		}
		a.LevelDB, a.AzimuthDeg, a.ElevationDeg = cents(a.LevelDB), cents(a.AzimuthDeg), cents(a.ElevationDeg)
		if a.LevelDBA != nil {
			*a.LevelDBA = cents(*a.LevelDBA)
		}
	}
	for _, v := range []*float64{h.GapMS, h.InTime} {
		if v != nil {
			*v = mm(*v)
		}
	}
	return h
}
