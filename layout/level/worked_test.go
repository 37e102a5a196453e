package level_test

import (
	"math"
	"testing"

	"backfield/layout"
	"backfield/layout/level"
	"backfield/layout/level/advice"
	"backfield/layout/sound"
)

// TestByHand is the worked example that can be followed by hand: everything 1.5 m high and on the 50, at 20 C and 50 %.
func TestByHand(t *testing.T) {
	at := func(y float64) layout.Point { return layout.Point{Y: y, Z: 1.5} }
	box := at(-30)
	l, r := sound.ConstantPower.Gains(0)
	s := level.NewStadium(level.Conditions{Air: level.Air{C: 20, HumidityPct: 50}, Box: box,
		Stacks: []level.AimedStack{level.DefaultStack(at(-2), box)}, NominalDB: 100})
	p := &level.Playing{
		Performers: []level.Performer{{Name: "T", Instrument: instrument("trumpet"), At: at(10), Featured: true}},
		Worn: []level.WornMic{{Strip: level.Strip{Name: "T", FaderDB: -3,
			SendDB: []float64{level.StereoSendDB(0.7071, 0.7071, l, r)}}, FromBellM: 0.12}},
	}
	own := s.OwnTerms(&p.Performers[0], box)
	stack, _ := s.WornTerms(p, &p.Worn[0], 0, box)
	loop, _ := s.WornLoopTerms(p, &p.Worn[0], 0)
	neg := func(b level.Bands) level.Bands {
		for i := range b {
			b[i] = -b[i]
		}
		return b
	}
	for _, c := range []struct {
		what      string
		got, want level.Bands
		tol       float64
	}{
		{"Lw", own.PowerDB, level.Bands{61.56, 92.56, 95.56, 96.56, 93.56, 85.56, 73.56}, half},
		{"DI", own.IndexDB, level.Bands{0.06, 0.22, 0.76, 2.39, 6.49, 12.79, 13.61}, half},
		{"bell on its axis", own.TowardDB, level.Bands{}, 1e-9},
		{"40 m of air", neg(own.AirDB), level.Bands{0.02, 0.05, 0.11, 0.19, 0.39, 1.18, 4.16}, half},
		{"own", own.LevelDB, level.Bands{18.57, 49.69, 53.18, 55.74, 56.63, 54.14, 39.98}, half},
		{"mic", stack.MicDB, level.Bands{68.04, 99.20, 102.75, 105.38, 106.48, 104.78, 93.60}, half},
		{"28 m of air", neg(stack.AirDB), level.Bands{0.01, 0.04, 0.08, 0.13, 0.28, 0.82, 2.91}, half},
		{"stacks", stack.LevelDB, level.Bands{24.67, 55.81, 59.31, 61.89, 62.85, 60.59, 47.33}, half},
		{"the stack toward the mic", loop.TowardDB, level.Bands{-3, -6, -9, -14, -18, -20, -20}, half},
		{"loop", loop.LevelDB, level.Bands{-39.0, -42.0, -45.0, -50.0, -54.0, -56.0, -56.0}, 0.051},
	} {
		for b, want := range c.want {
			near(t, c.what, c.got[b], want, c.tol)
		}
	}
	near(t, "az of the mic", math.Abs(loop.AzDeg), 180, 1e-9)
	near(t, "own, dBA", own.LevelDB.ADB(), 61.55, half)
	near(t, "mic, sum", stack.MicDB.SumDB(), 111.42, half)
	near(t, "gain", stack.GainDB, -11.42, half)
	near(t, "stacks, dBA", stack.LevelDB.ADB(), 67.81, half)
	near(t, "send", p.Worn[0].SendDB[0], 0, 1e-3)

	b := s.Hear(p)
	near(t, "own at the box", b.Box.FeaturedOwn.ADB(), 61.55, half)
	near(t, "stacks at the box", b.Box.FeaturedStacks.ADB(), 67.81, half)
	over, _ := level.Ends{b}.OverAtBox()
	near(t, "over", over.DB, 6.3, 0.051)
	if lead, _ := (level.Ends{b}).LeadAt(90); lead.OK {
		t.Errorf("a lead of %v over nothing", lead)
	}
	loops := s.Loops(p)
	db, band := loops.GreatestDB()
	near(t, "margin", -db, 39.0, 0.051)
	if band != 0 {
		t.Errorf("the loop is greatest in band %d, want 125 Hz", band)
	}
	// The background takes the place of a bed of 60 dBA.
	bed := 60.0
	s.BackgroundDB = &bed
	ends := level.Ends{s.Hear(p)}
	lead, _ := ends.LeadAtBox()
	near(t, "lead", lead.DB, 8.7, 0.051)
	got, ok := advice.Propose(ends, []*level.LoopGains{loops}, advice.DefaultGoal(30, 99))
	if !ok || got.CapDB != 3.5 || got.Limit != advice.OverLimit {
		t.Errorf("cap %v by %s, want 3.5 by over", got.CapDB, got.Limit)
	}
}

// TestBells is the table of directivity indices at 20 C.
func TestBells(t *testing.T) {
	for name, want := range map[string]level.Bands{
		"trumpet":    {0.06, 0.22, 0.76, 2.39, 6.49, 12.79, 13.61},
		"mellophone": {0.24, 0.85, 2.66, 7.06, 13.10, 13.61, 13.61},
		"baritone":   {0.23, 0.82, 2.56, 6.86, 13.00, 13.61, 13.61},
		"tuba":       {0.82, 2.57, 6.88, 13.01, 13.61, 13.61, 13.61},
	} {
		got := level.BellDirections(instrument(name).BellM, 20).IndexDB
		for b := range want {
			near(t, name, got[b], want[b], half)
		}
	}
}

// TestBehindTheBell: at forte, how much quieter it is straight behind a bell than on its axis, in dBA.
func TestBehindTheBell(t *testing.T) {
	s := level.NewStadium(level.Conditions{Air: level.Air{C: 20, HumidityPct: 50}, Box: layout.Point{Y: -30}})
	for name, want := range map[string]float64{"trumpet": 7, "mellophone": 11, "baritone": 9, "tuba": 11} {
		p := level.Performer{Instrument: instrument(name), Facing: level.FacingDeg(0)}
		front, back := s.Own(&p, layout.Point{Y: -20}), s.Own(&p, layout.Point{Y: 20})
		near(t, name, front.ADB()-back.ADB(), want, 0.5)
	}
}

// TestExample9 and the ones after it are numbered as in the specification of levels.
func TestExample9(t *testing.T) {
	d := level.BellDirections(0.061, 24)
	for deg, want := range map[int]float64{30: -1.85, 90: -9.27, 180: -10.12} {
		near(t, "trumpet, 2 kHz", d.DB[4][deg], want, half)
	}
}

func TestExample10(t *testing.T) {
	s := smallStadium(100, 0)
	p := level.Performer{Instrument: instrument("trumpet"), At: layout.Point{Y: 2.86, Z: 1.5}}
	own := func(p level.Performer) float64 { return s.Own(&p, smallBox).ADB() }
	near(t, "forte", own(p), 60.46, half)
	mic := s.WornMicDB(&p, &level.WornMic{FromBellM: 0.12})
	near(t, "its mic", mic.SumDB(), 111.38, half)
	back := p
	back.Facing = level.Back
	near(t, "turned to the back", own(back), 54.45, half)
	p.DynamicsDB, _ = level.DynamicsDB("p")
	near(t, "piano", own(p), 46.83, half)
}

func TestExample11(t *testing.T) {
	s, p := smallStadium(100, 0), smallScene(0)
	b := s.Hear(p)
	ends := level.Ends{b}
	lead, _ := ends.LeadAtBox()
	over, _ := ends.OverAtBox()
	at90, _ := ends.LeadAt(90)
	best, _ := ends.BestAt(90)
	for _, c := range []struct {
		what      string
		got, want float64
	}{
		{"own", b.Box.FeaturedOwn.ADB(), 60.46}, {"stacks", b.Box.FeaturedStacks.ADB(), 58.00},
		{"bed own", b.Box.BedOwn.ADB(), 56.52}, {"bed stacks", b.Box.BedStacks.ADB(), 54.98},
		{"lead", lead.DB, 3.58}, {"over", over.DB, -2.46}, {"lead at 90 %", at90.DB, 2.75}, {"best at 90 %", best.DB, 4.15},
	} {
		near(t, c.what, c.got, c.want, half)
	}
	loops := s.Loops(p)
	near(t, "gain of T", s.WornGainDB(&p.Performers[0], &p.Worn[0]), -11.38, half)
	near(t, "gain of B1", s.WornGainDB(&p.Performers[1], &p.Worn[1]), -9.19, half)
	near(t, "gain of the field mic", s.FixedGainDB(&p.Fixed[0]), 20.00, half)
	for i, want := range []float64{-44.44, -53.95, -25.14} {
		db, band := loops.Mics[i].GreatestDB()
		near(t, "loop of "+loops.Mics[i].Name, db, want, half)
		if band != 0 {
			t.Errorf("the loop of %s is greatest in band %d", loops.Mics[i].Name, band)
		}
	}
	total, _ := loops.GreatestDB()
	near(t, "total loop", total, -25.08, half)
	near(t, "ring", s.RingFromFader(p.Fixed[0], 12), 4.14, half)
	got, ok := advice.Propose(ends, []*level.LoopGains{loops}, advice.DefaultGoal(6, 9))
	if !ok || got.Need.DB != 5 || got.ChangeDB != 5 || got.BedAsked || got.Short.DB != 0 {
		t.Errorf("proposal %+v, want need and change 5", got)
	}

	// One omni mic 3 m from an omni stack, gain 20 lg 3, all else 0 dB; then four of them.
	omni := level.AimedStack{At: layout.Point{X: 3}, Aim: layout.Point{X: 4}, AcrossDeg: 90, UpDeg: 40, MouthM: 0.5}
	one := level.NewStadium(level.Conditions{Air: level.Air{C: 20, HumidityPct: 50}, Stacks: []level.AimedStack{omni},
		NominalDB: 100})
	mic := level.FixedMic{Strip: level.Strip{SendDB: []float64{0}}, OmniShare: level.OmniMic,
		HighestDB: 100 - 20*math.Log10(3)}
	ring, _ := one.Loops(&level.Playing{Fixed: []level.FixedMic{mic}}).GreatestDB()
	near(t, "one omni mic", ring, 0, 1e-9)
	ring, _ = one.Loops(&level.Playing{Fixed: []level.FixedMic{mic, mic, mic, mic}}).GreatestDB()
	near(t, "four omni mics", ring, 6.02, half)
}

func TestExample12(t *testing.T) {
	truth := smallStadium(103, 2.5)
	noise := 103 - truth.NominalFromNoise(0, 0, 0, smallBox) // N less what a reading of 0 dBA would give
	near(t, "noise", noise, 62.37, half)
	pair := smallScene(2.5).Performers[1:3]
	brass := truth.Own(&pair[0], smallBox)
	other := truth.Own(&pair[1], smallBox)
	for b := range brass {
		brass[b] += other[b]
	}
	near(t, "brass", brass.ADB(), 57.65, half)

	blank := smallStadium(level.DefaultNominalDB, 0)
	n := blank.NominalFromNoise(62.37+1.7, 0, 0, smallBox)
	band := blank.BandFromBrass(57.65+1.7, pair, smallBox)
	near(t, "N", n, 104.70, half)
	near(t, "band", band, 4.20, half)
	for _, c := range []struct{ n, band float64 }{{103, 2.5}, {104.70, 4.20}} {
		s, p := smallStadium(c.n, c.band), smallScene(c.band)
		ends, loops := level.Ends{s.Hear(p)}, []*level.LoopGains{s.Loops(p)}
		lead, _ := ends.LeadAt(90)
		over, _ := ends.OverAtBox()
		_, loop := level.WorstLoop(loops)
		near(t, "lead at 90 %", lead.DB, 2.78, half)
		near(t, "over", over.DB, -1.96, half)
		near(t, "total loop", loop, -24.58, half)
		got, _ := advice.Propose(ends, loops, advice.DefaultGoal(6, 9))
		if got.Need.DB != 4.5 || got.ChangeDB != 4.5 {
			t.Errorf("proposal %+v, want need and change 4.5", got)
		}
		w := advice.DefaultGoal(6.5, 9)
		w.OverDB = 1.5
		got, _ = advice.Propose(ends, loops, w)
		want := advice.Proposal{Need: level.Figure{DB: 5.5, OK: true}, CapDB: 3, Limit: advice.OverLimit, ChangeDB: 3,
			Short: level.Figure{DB: 2.5, OK: true}, BedAsked: true, Bed: level.Figure{DB: -4, OK: true}}
		if got != want {
			t.Errorf("proposal %+v, want %+v", got, want)
		}
	}
}
