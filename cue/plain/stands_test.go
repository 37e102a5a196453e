package plain

import (
	"math"
	"math/rand"
	"slices"
	"testing"

	"backfield/layout/stands"
)

func (s *Scene) listeners() *stands.Listeners {
	var seats []stands.Seat
	for _, q := range s.Seats {
		seats = append(seats, stands.Seat{At: q.At, Weight: q.Weight})
	}
	return stands.New(seats, s.Box, s.system(), 100)
}

// through are the compiler's gains at a pan or place.
func (s *Scene) through(pan float64) []float64 {
	if s.Zones {
		return s.system().Through(s.system().Row(s.Box).Sends(pan))
	}
	return s.system().Gains(pan)
}

// TestStands compares what the compiler says of the seats and the press box with what is found here, at every sample.
func TestStands(t *testing.T) {
	eachScene(t, func(t *testing.T, s *Scene, list []PlainSample) {
		r := rand.New(rand.NewSource(int64(len(list))))
		listeners := s.listeners()
		window := stands.Window{MostMS: s.WindowMS, MarginMS: s.MarginMS}
		needs := listeners.SeatNeeds()
		var all stands.GapTally
		all.Reset(window)
		row := s.system().Row(s.Box)
		var served, echo, seconds float64
		same := func(what string, k int, got, want, within float64) {
			t.Helper()
			if !(math.Abs(got-want) <= within) && !(math.IsNaN(got) && math.IsNaN(want)) {
				t.Errorf("sample %d: %s %v, want %v", k, what, got, want)
			}
		}
		weights := weights(list)
		for k, want := range s.wanted(list, 0) {
			gains := s.gains(want)
			through := s.through(want)
			if s.Zones && !s.MostOne {
				same("place", k, row.Place(list[k].At.Azimuth(s.Box)), want, 1e-12)
			}
			for i := range gains {
				if math.Abs(gains[i]) < quiet {
					gains[i] = 0
				}
				same("gain", k, through[i], gains[i], 1e-12)
			}
			box, parts, ok := listeners.BoxNeedMS(through, list[k].At)
			if !ok {
				box = math.NaN()
			}
			same("need of the box", k, box, s.boxNeed(list[k].At, gains), 1e-9)
			share := 0.0
			for _, p := range parts {
				share += p.Share
			}
			if ok {
				same("parts of the box", k, share, 1, 1e-12)
			}
			needs.Hear(through, list[k].At)
			mine := s.needs(list[k].At, gains)
			if needs.Heard == slices.ContainsFunc(mine, math.IsNaN) {
				t.Fatalf("sample %d: heard %v, needs %v", k, needs.Heard, mine)
			}
			if !needs.Heard {
				continue
			}
			for i := range mine {
				same("need", k, needs.MS[i], mine[i], 1e-9)
			}
			same("least need", k, needs.LeastMS, slices.Min(mine), 1e-9)
			same("greatest need", k, needs.MostMS, slices.Max(mine), 1e-9)
			same("median", k, needs.MedianMS(), s.middleNeed(mine), 1e-9)
			first, step := r.Intn(1200), pick(r, 0.1, s.StepMS)
			inTime := make([]float64, 60)
			needs.InTime(window, step, first, inTime)
			for i, v := range inTime {
				same("in time", k, v, s.served(mine, float64(first+i)*step), 1e-10)
			}
			d := float64(first) * step
			heard := s.Echo(list[k].At, want, d)
			same("echo", k, needs.Echo(d), heard, 1e-12)
			all.Add(needs, weights[k], d)
			served, echo = served+weights[k]*s.served(mine, d), echo+weights[k]*heard
			seconds += weights[k]
		}
		if fit, ok := all.Fit(); ok && seconds > 0 {
			same("in time on the whole", -1, fit.Served, served/seconds, 1e-9)
			same("echo on the whole", -1, fit.Echo, echo/seconds, 1e-9)
		}
	})
}
