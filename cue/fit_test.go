package cue

import (
	"math"
	"testing"
)

// The figures of a show are means over its open worn mics by time, and the range at the press box over all of them.
func TestMeanFit(t *testing.T) {
	fit := func(in, noEcho, least, most float64) *SeatFit {
		return &SeatFit{InTime: in, NoEcho: noEcho, BoxLateMS: &[2]float64{least, most}}
	}
	s := &Show{EndS: 40, Cues: []Snapshot{
		{TimeS: 0, Channels: []Channel{{Kind: Worn, Fit: fit(0.5, 0.4, 12, 19.96)}, {Kind: Fixed, Fit: fit(0, 0, 0, 90)}}},
		{TimeS: 10, Channels: []Channel{{Kind: Worn, Fit: fit(0.9, 0.6, 4.5, 18)}, {Kind: Worn}}},
	}}
	f, ok := s.MeanFit()
	if want := "80 % of seats in time, 55 % without an echo; press box 4.5 to 20.0 ms after the player"; !ok ||
		math.Abs(f.InTime-0.8) > 1e-12 || math.Abs(f.NoEcho-0.55) > 1e-12 || f.String() != want {
		t.Errorf("%v, %q, want %q", ok, f, want)
	}
	if got := (FitFigures{InTime: 1, BoxMS: &[2]float64{20, 20.04}}).BoxText(); got != "20.0 ms after the player" {
		t.Error(got)
	}
	if got := (FitFigures{InTime: 0.5}).String(); got != "50 % of seats in time, 0 % without an echo" {
		t.Error(got)
	}
	if f, ok := (&Show{}).MeanFit(); ok {
		t.Errorf("a show without stands: %v", f)
	}
}

// The players' mean of those that are open and heard in the stands, and nothing of others.
func TestInTimeOf(t *testing.T) {
	s := &Snapshot{Channels: []Channel{
		{Player: "Tpt 1", Open: true, Fit: &SeatFit{InTime: 0.4}}, {Player: "Tpt 2", Open: true, Fit: &SeatFit{InTime: 0.7}},
		{Player: "Tpt 3", Fit: &SeatFit{InTime: 1}}, {Player: "Tpt 4", Open: true},
		{Player: "Bari 1", Open: true, Fit: &SeatFit{InTime: 1}},
	}}
	if got, ok := s.InTimeOf([]string{"Tpt 1", "Tpt 2", "Tpt 3", "Tpt 4"}); !ok || math.Abs(got-0.55) > 1e-12 {
		t.Error(got, ok)
	}
	if got, ok := s.InTimeOf([]string{"Tpt 3", "Tpt 4"}); ok {
		t.Error(got)
	}
}
