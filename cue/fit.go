package cue

import (
	"fmt"
	"math"
	"slices"
)

// SeatFit is how an open channel's path works for the seats, over all seats and the whole time of the snapshot. It has
// the shares of the seats, 0 to 1, at which the loudspeaker is in time, ahead of the player (early), or behind the player
// by more than the window (late); the worst of either in ms (late beyond the window); and the median arrival gap in ms.
type SeatFit struct {
	Served       float64     `json:"served"` // in time, by parts within the margin of the window's edges
	InTime       float64     `json:"inside"`
	Early        float64     `json:"early"`
	Late         float64     `json:"late"`
	Echo         float64     `json:"echo"`           // hear another stack more than 50 ms after the first sound
	NoEcho       float64     `json:"inside_no_echo"` // are in time and hear none
	WorstEarlyMS float64     `json:"worst_early_ms"`
	WorstLateMS  float64     `json:"worst_late_ms"`
	MedianMS     float64     `json:"median_ms"`
	BoxLateMS    *[2]float64 `json:"box_late_ms,omitempty"` // the least and the greatest arrival gap at the press box
}

// FitFigures are the three figures by which people judge how delays work.
type FitFigures struct {
	InTime float64     // share of the seats in time, 0 to 1
	NoEcho float64     // of those that are in time and hear no echo
	BoxMS  *[2]float64 // the least and the greatest arrival gap at the press box, in ms; nil if nothing is heard there
}

// Figures are the three figures of a channel.
func (f *SeatFit) Figures() FitFigures { return FitFigures{f.InTime, f.NoEcho, f.BoxLateMS} }

// String is the figures in words: "60 % of seats in time, 55 % without an echo; press box 18.0 to 20.3 ms after the
// player".
func (f FitFigures) String() string {
	text := fmt.Sprintf("%.0f %% of seats in time, %.0f %% without an echo", 100*f.InTime, 100*f.NoEcho)
	if f.BoxMS != nil {
		text += "; press box " + f.BoxText()
	}
	return text
}

// BoxText is the arrival gap at the press box in words: "18.0 to 20.3 ms after the player"; "" if nothing is heard there.
func (f FitFigures) BoxText() string {
	if f.BoxMS == nil {
		return ""
	}
	least, most := fmt.Sprintf("%.1f", f.BoxMS[0]), fmt.Sprintf("%.1f", f.BoxMS[1])
	if least == most {
		return most + " ms after the player"
	}
	return least + " to " + most + " ms after the player"
}

// InTimeOf is the mean share of the seats, 0 to 1, that are in time for some players' mics. ok is false where no stands hear
// any of them.
func (s *Snapshot) InTimeOf(players []string) (share float64, ok bool) {
	n := 0.0
	for i := range s.Channels {
		ch := &s.Channels[i]
		if ch.Open && ch.Fit != nil && slices.Contains(players, ch.Player) {
			share, n = share+ch.Fit.InTime, n+1
		}
	}
	return share / max(n, 1), n > 0
}

// MeanFit is the figures of the whole show: the mean shares of seats over the open worn mics, each counting for as long
// as it is open, and the least and the greatest arrival gap at the press box. ok is false if there are no stands or
// nobody opens.
func (s *Show) MeanFit() (f FitFigures, ok bool) {
	return s.MeanFitOf(func(ch *Channel) bool { return ch.Kind == Worn })
}

// MeanFitOf is MeanFit over other channels: those that count.
func (s *Show) MeanFitOf(counts func(*Channel) bool) (f FitFigures, ok bool) {
	total := 0.0
	box := [2]float64{math.Inf(1), math.Inf(-1)}
	for i := range s.Cues {
		end := s.EndS
		if i+1 < len(s.Cues) {
			end = s.Cues[i+1].TimeS
		}
		holdsS := max(end-s.Cues[i].TimeS, 0)
		for k := range s.Cues[i].Channels {
			ch := &s.Cues[i].Channels[k]
			if ch.Fit == nil || !counts(ch) {
				continue
			}
			f.InTime, f.NoEcho, total = f.InTime+holdsS*ch.Fit.InTime, f.NoEcho+holdsS*ch.Fit.NoEcho, total+holdsS
			if b := ch.Fit.BoxLateMS; b != nil {
				box[0], box[1] = min(box[0], b[0]), max(box[1], b[1])
			}
		}
	}
	if box[0] <= box[1] {
		f.BoxMS = &box
	}
	f.InTime, f.NoEcho = f.InTime/total, f.NoEcho/total
	return f, total > 0
}
