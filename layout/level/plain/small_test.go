package plain

import (
	"math"
	"testing"

	"backfield/layout"
)

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s: %v, want %v", what, got, want)
	}
}

// The worked examples give two or three decimals: the last one is rounded.
const (
	cents = 0.0051
	tenth = 0.051
)

func nearAll(t *testing.T, what string, got Octaves, want Octaves, within float64) {
	t.Helper()
	for b := range got {
		near(t, what, got[b], want[b], within)
	}
}

// constantPower are the gains of the pan law.
func constantPower(pan float64) (left, right float64) {
	return math.Cos((pan + 1) * math.Pi / 4), math.Sin((pan + 1) * math.Pi / 4)
}

func (s *PlainScene) sends(pan float64) (list []float64) {
	l, r := constantPower(pan)
	for _, k := range s.Speakers {
		list = append(list, StereoSend(k, l, r))
	}
	return list
}

// examples is the air of the worked examples 9 to 12, with their box and no one on the field.
func examples() *PlainScene {
	return &PlainScene{AirC: 24, Humidity: 50, BellUp: 10, Box: layout.Point{Y: -36.576, Z: 18.288}, Nominal: 100,
		Background: math.Inf(-1), Horns: Sections()}
}

// small is the scene of the worked examples 11 and 12.
func small() *PlainScene {
	s := examples()
	s.Seats = []WeightedSeat{{layout.Point{X: -20, Y: -14, Z: 3}, 1}, {layout.Point{X: 0, Y: -20, Z: 6}, 2},
		{layout.Point{X: 25, Y: -40, Z: 17}, 1}, {layout.Point{X: 0, Y: -44, Z: 19}, 1}}
	left := Usual(layout.Point{X: -24, Y: -2, Z: 2.5}, layout.Point{X: -27.6, Y: -28, Z: 10})
	right := Usual(layout.Point{X: 24, Y: -2, Z: 2.5}, layout.Point{X: 27.6, Y: -28, Z: 10})
	left.BusLeft, right.BusRight = 1, 1
	s.Speakers = []Speaker{left, right}
	worn := func(fader, pan float64) *WornEar {
		return &WornEar{0.12, PlainChannel{Fader: fader, Ceiling: 6, Sends: s.sends(pan)}}
	}
	s.Players = []Musician{
		{Name: "T", Instrument: "trumpet", At: layout.Point{X: 0, Y: 2.86, Z: 1.5}, FacingDeg: ToBox, Plays: true,
			Featured: true, Mic: worn(-3, 0)},
		{Name: "B1", Instrument: "baritone", At: layout.Point{X: -6, Y: 20, Z: 1.5}, FacingDeg: ToBox, Plays: true,
			Dynamics: -4, Mic: worn(-12, -0.2)},
		{Name: "B2", Instrument: "baritone", At: layout.Point{X: 6, Y: 20, Z: 1.5}, FacingDeg: ToBox, Plays: true,
			Dynamics: -4},
		{Name: "B3", Instrument: "baritone", At: layout.Point{X: 12, Y: 21, Z: 1.5}, FacingDeg: 30, Plays: true,
			Dynamics: -4},
		{Name: "U", Instrument: "tuba", At: layout.Point{X: 0, Y: 24, Z: 1.7}, FacingDeg: 180, Plays: true,
			Dynamics: -4},
		{Name: "S", Instrument: "snare", At: layout.Point{X: 3, Y: 30, Z: 1.0}, FacingDeg: ToBox, Plays: true,
			Dynamics: -12},
	}
	s.Fixed = []FixedEar{{Name: "field", Kind: "field", At: layout.Point{X: 0, Y: -0.6, Z: 1.2}, K: 0.5, FacingDeg: 180,
		Highest: 80, PlainChannel: PlainChannel{Fader: -9, Sends: s.sends(0)}}}
	return s
}

func (s *PlainScene) cue(target, over float64) PlainCue {
	return PlainCue{Ends: []*PlainScene{s}, Walk: []*PlainScene{s}, Target: target, Share: 90, Over: over, Margin: 6}
}

func TestExample9(t *testing.T) {
	table := newBell(0.061, 24)
	near(t, "30", table.at(30)[4], -1.85, cents)
	near(t, "90", table.at(90)[4], -9.27, cents)
	near(t, "180", table.at(180)[4], -10.12, cents)
}

func TestExample10(t *testing.T) {
	s := examples()
	m := small().Players[0]
	near(t, "box", s.OwnAt(m, s.Box).DBA(), 60.46, cents)
	near(t, "mic", s.wornLevel(m, 0).Flat(), 111.38, cents)
	m.FacingDeg = 180
	near(t, "back", s.OwnAt(m, s.Box).DBA(), 54.45, cents)
	m.FacingDeg, m.Dynamics = ToBox, Dynamics()["p"]
	near(t, "p", s.OwnAt(m, s.Box).DBA(), 46.83, cents)
}

func TestExample11(t *testing.T) {
	s := small()
	box := s.Hear(s.Box)
	near(t, "own", box.OwnFeatured.DBA(), 60.46, cents)
	near(t, "stacks", box.StacksFeatured.DBA(), 58.00, cents)
	near(t, "bed own", box.OwnBed.DBA(), 56.52, cents)
	near(t, "bed stacks", box.StacksBed.DBA(), 54.98, cents)
	f := s.Figures(90, 10)
	near(t, "lead", f.LeadBox, 3.58, cents)
	near(t, "over", f.OverBox, -2.46, cents)
	near(t, "lead of the seats", f.LeadShare, 2.75, cents)
	near(t, "best of the seats", f.BestShare, 4.15, cents)
	p := s.cue(6, 10).Propose()
	if p.Need != 5 || p.Change != 5 || p.Short != 0 || p.AskBed {
		t.Errorf("proposal %+v, want a change of 5", p)
	}

	near(t, "T gain", s.WornGain(s.Players[0]), -11.38, cents)
	near(t, "T loop", s.WornLoop(s.Players[0])[0], -44.44, cents)
	near(t, "B1 gain", s.WornGain(s.Players[1]), -9.19, cents)
	near(t, "B1 loop", s.WornLoop(s.Players[1])[0], -53.95, cents)
	near(t, "field gain", s.FixedGain(s.Fixed[0]), 20, cents)
	near(t, "field loop", s.FixedLoop(s.Fixed[0])[0], -25.14, cents)
	near(t, "total", s.TotalLoop()[0], -25.08, cents)
	near(t, "ring", s.RingFrom(s.Fixed[0], 12), 4.14, cents)
}

// omni is a stack without a pattern and n omni mics 3 m from it.
func omni(n int) *PlainScene {
	s := examples()
	s.Speakers = []Speaker{{At: layout.Point{Z: 3}, Aim: layout.Point{Y: -30}, WideDeg: 90, HighDeg: 40, MouthM: 0.5}}
	for range n {
		s.Fixed = append(s.Fixed, FixedEar{At: layout.Point{}, K: 1, FacingDeg: 180, Highest: 100 - 20*lg(3),
			PlainChannel: PlainChannel{Sends: []float64{0}}})
	}
	return s
}

func TestOmniLoops(t *testing.T) {
	near(t, "gain", omni(1).FixedGain(omni(1).Fixed[0]), 20*lg(3), 1e-9)
	near(t, "one", highest(omni(1).TotalLoop()), 0, 1e-9)
	near(t, "four", highest(omni(4).TotalLoop()), 6.02, cents)
}

func TestExample12(t *testing.T) {
	truth := small()
	truth.Nominal, truth.Band = 103, 2.5
	noise := truth.Nominal + truth.NoiseDBA(truth.Speakers[0], 0)
	near(t, "noise", noise, 62.37, cents)
	section := truth.Players[1:3]
	brass := truth.OwnDBA(section)
	near(t, "brass", brass, 57.65, cents)

	s := small()
	s.Nominal = s.NominalFrom(noise+1.7, s.Speakers[0], 0)
	s.Band = s.BandFrom(brass+1.7, section)
	near(t, "N", s.Nominal, 104.70, cents)
	near(t, "band", s.Band, 4.20, cents)
	for name, s := range map[string]*PlainScene{"truth": truth, "both too high": s} {
		s.Fixed[0].Highest = 80 + s.Band
		f := s.Figures(90, 10)
		near(t, name+": lead", f.LeadShare, 2.78, cents)
		near(t, name+": over", f.OverBox, -1.96, cents)
		near(t, name+": total loop", -f.Margin, -24.58, cents)
		if p := s.cue(6, 10).Propose(); p.Need != 4.5 || p.Change != 4.5 {
			t.Errorf("%s: %+v, want 4.5", name, p)
		}
		p := s.cue(6.5, 1.5).Propose()
		if p.Need != 5.5 || p.Change != 3 || p.Limit != "over" || p.Short != 2.5 || p.Bed != -4 {
			t.Errorf("%s: %+v, want need 5.5, change 3, short 2.5, bed -4", name, p)
		}
	}
}

// TestByHand is the trumpet on the 50 and one stack in front of it.
func TestByHand(t *testing.T) {
	s := &PlainScene{AirC: 20, Humidity: 50, Box: layout.Point{Y: -30, Z: 1.5}, Nominal: 100,
		Background: math.Inf(-1), Horns: Sections()}
	k := Usual(layout.Point{Y: -2, Z: 1.5}, s.Box)
	k.BusLeft, k.BusRight = 0.7071, 0.7071
	s.Speakers = []Speaker{k}
	m := Musician{Instrument: "trumpet", At: layout.Point{Y: 10, Z: 1.5}, FacingDeg: ToBox, Plays: true, Featured: true,
		Mic: &WornEar{0.12, PlainChannel{Fader: -3, Ceiling: 10, Sends: s.sends(0)}}}
	s.Players = []Musician{m}
	near(t, "send", m.Mic.Sends[0], 0, 1e-3)
	nearAll(t, "power", s.Horns["trumpet"].power(0), Octaves{61.56, 92.56, 95.56, 96.56, 93.56, 85.56, 73.56}, cents)
	nearAll(t, "DI", newBell(0.061, 20).index, Octaves{0.06, 0.22, 0.76, 2.39, 6.49, 12.79, 13.61}, cents)
	nearAll(t, "40 m", s.air(40), Octaves{0.02, 0.05, 0.11, 0.19, 0.39, 1.18, 4.16}, cents)
	nearAll(t, "28 m", s.air(28), Octaves{0.01, 0.04, 0.08, 0.13, 0.28, 0.82, 2.91}, cents)
	own := s.OwnAt(m, s.Box)
	nearAll(t, "own", own, Octaves{18.57, 49.69, 53.18, 55.74, 56.63, 54.14, 39.98}, cents)
	near(t, "own", own.DBA(), 61.55, cents)
	mic := s.wornLevel(m, 0)
	nearAll(t, "mic", mic, Octaves{68.04, 99.20, 102.75, 105.38, 106.48, 104.78, 93.60}, cents)
	near(t, "mic", mic.Flat(), 111.42, cents)
	pa := s.WornAt(m, s.Box)
	nearAll(t, "PA", pa, Octaves{24.67, 55.81, 59.31, 61.89, 62.85, 60.59, 47.33}, cents)
	near(t, "PA", pa.DBA(), 67.81, cents)
	nearAll(t, "att", k.attenuation(m.At), Octaves{-3, -6, -9, -14, -18, -20, -20}, 1e-12)
	nearAll(t, "loop", s.WornLoop(m), Octaves{-39.0, -42.0, -45.0, -50.0, -54.0, -56.0, -56.0}, tenth)
	near(t, "gain", s.WornGain(m), -11.42, cents)
	f := s.Figures(90, 10)
	near(t, "over", f.OverBox, 6.3, tenth)
	near(t, "margin", f.Margin, 39.0, tenth)
	if Precedence(f.OverBox) != "player leads" || !math.IsNaN(f.LeadBox) {
		t.Errorf("%+v: want the player ahead, and no lead over no bed", f)
	}
	if most := s.cue(6, 10).overCap(); most != 3.5 {
		t.Errorf("over cap %v, want 3.5", most)
	}
	s.Background = 60
	near(t, "F", s.Hear(s.Box).Featured().DBA(), 68.73, cents)
	near(t, "lead", s.Hear(s.Box).Lead(), 8.7, tenth)
}

func TestBells(t *testing.T) {
	for name, want := range map[string]Octaves{
		"mellophone": {0.24, 0.85, 2.66, 7.06, 13.10, 13.61, 13.61},
		"baritone":   {0.23, 0.82, 2.56, 6.86, 13.00, 13.61, 13.61},
		"tuba":       {0.82, 2.57, 6.88, 13.01, 13.61, 13.61, 13.61},
	} {
		nearAll(t, name, newBell(Sections()[name].RadiusM, 20).index, want, cents)
	}
	// Behind the bell, A-weighted at forte, less than on its axis by whole dB.
	for name, want := range map[string]float64{"trumpet": 7, "mellophone": 11, "baritone": 9, "tuba": 11} {
		s := &PlainScene{AirC: 20, Humidity: 50, Horns: Sections(), Box: layout.Point{Y: -40}}
		m := Musician{Instrument: name, FacingDeg: ToBox, Plays: true}
		front := s.OwnAt(m, s.Box).DBA()
		near(t, name, front-s.OwnAt(m, layout.Point{Y: 40}).DBA(), want, 0.5)
	}
}
