package plain

import (
	"fmt"
	"math"
	"math/rand"
	"slices"
	"testing"

	"backfield/layout"
	"backfield/layout/level"
	"backfield/layout/level/advice"
	"backfield/layout/stands"
)

// most is how far the engine may be off, in dB.
const most = 0.01

// comparison counts what is compared, and how far off the worst was.
type comparison struct {
	tried map[string]int
	worst map[string]float64
}

func newComparison() *comparison { return &comparison{map[string]int{}, map[string]float64{}} }

// level compares a figure in dB, where NaN and -Inf must be the same on both sides.
func (c *comparison) level(t *testing.T, what string, got, want float64) {
	t.Helper()
	if got == want || math.IsNaN(got) && math.IsNaN(want) {
		c.tried[what+", the same"]++
		return
	}
	c.tried[what]++
	off := math.Abs(got - want)
	if !(off <= most) {
		t.Errorf("%s: %v, want %v", what, got, want)
	}
	c.worst[what] = max(c.worst[what], off)
}

func (c *comparison) octaves(t *testing.T, what string, got level.Bands, want Octaves) {
	t.Helper()
	for b := range want {
		c.level(t, what, got[b], want[b])
	}
}

// figure is a figure of the engine as a number, NaN where there is none.
func figure(f level.Figure) float64 {
	if !f.OK {
		return math.NaN()
	}
	return f.DB
}

func facing(deg float64) level.Facing {
	if math.IsNaN(deg) {
		return level.Facing{}
	}
	return level.FacingDeg(deg)
}

func strip(name string, c PlainChannel) level.Strip {
	return level.Strip{Name: name, MeterDB: c.Meter, FaderDB: c.Fader, LowCutHz: c.LowCut, SendDB: c.Sends}
}

// stadium is what the engine takes of a scene.
func (s *PlainScene) stadium() (*level.Stadium, map[string]*level.Instrument) {
	c := level.Conditions{Air: level.Air{C: s.AirC, HumidityPct: s.Humidity}, Box: s.Box, BellUpDeg: s.BellUp,
		NominalDB: s.Nominal, BandDB: s.Band}
	if !math.IsInf(s.Background, -1) {
		c.BackgroundDB = &s.Background
	}
	for _, seat := range s.Seats {
		c.Seats = append(c.Seats, stands.Seat{At: seat.At, Weight: seat.Weight})
	}
	for i, k := range s.Speakers {
		c.Stacks = append(c.Stacks, level.AimedStack{Name: fmt.Sprint(i), At: k.At, Aim: k.Aim, TrimDB: k.Trim,
			AcrossDeg: k.WideDeg, UpDeg: k.HighDeg, MouthM: k.MouthM, FrontBackDB: level.Bands(k.FrontBack)})
	}
	instruments := map[string]*level.Instrument{}
	var own []*level.Instrument
	for name, h := range s.Horns {
		if known, ok := level.InstrumentByName(name); ok {
			instruments[name] = known
			continue
		}
		instruments[name] = &level.Instrument{Name: name, PowerDB: h.Power, BellM: h.RadiusM, ShapeDB: level.Bands(h.Shape)}
		own = append(own, instruments[name])
	}
	return level.NewStadium(c, own...), instruments
}

// playing is what the engine takes of the players and mics of a scene. Who wears an open mic without playing
// rests there: the mic hears its loop all the same.
func (s *PlainScene) playing(instruments map[string]*level.Instrument) *level.Playing {
	p := &level.Playing{}
	for _, m := range s.Players {
		if m.NoDot || !m.Plays && m.Mic == nil {
			continue
		}
		if m.Mic != nil {
			p.Worn = append(p.Worn, level.WornMic{Strip: strip(m.Name, m.Mic.PlainChannel), Wearer: len(p.Performers),
				FromBellM: m.Mic.FromBellM})
		}
		p.Performers = append(p.Performers, level.Performer{Name: m.Name, Section: m.Section,
			Instrument: instruments[m.Instrument], At: m.At, Facing: facing(m.FacingDeg), DynamicsDB: m.Dynamics,
			PlayerDB: m.Own, Featured: m.Featured, Rests: !m.Plays})
	}
	for _, f := range s.Fixed {
		highest := f.Highest
		if math.IsNaN(highest) {
			highest = math.Inf(-1)
		}
		p.Fixed = append(p.Fixed, level.FixedMic{Strip: strip(f.Name, f.PlainChannel), Kind: f.Kind, At: f.At,
			OmniShare: f.K, Facing: facing(f.FacingDeg), RingDB: f.Ring, HighestDB: highest})
	}
	return p
}

// TestEngine compares the level engine with this package, over random cues: each figure to 0.01 dB, shares and proposals
// equal.
func TestEngine(t *testing.T) {
	all := newComparison()
	eachCue(t, func(t *testing.T, c PlainCue) {
		stadium, instruments := c.Walk[0].stadium()
		var ends level.Ends
		var loops []*level.LoopGains
		for _, s := range c.Walk {
			loops = append(loops, all.loops(t, s, stadium, s.playing(instruments)))
		}
		for _, s := range c.Ends {
			p := s.playing(instruments)
			ends = append(ends, all.heard(t, s, stadium, p))
			all.near(t, s, stadium, p)
			all.more(t, s, stadium, p)
		}
		all.cue(t, c, ends, loops)
		all.night(t, c.Ends[0], stadium, instruments)
	})
	for _, what := range slices.Sorted(keys(all.tried)) {
		t.Logf("%-24s %8d compared, off by at most %.2g dB", what, all.tried[what], all.worst[what])
	}
}

func keys[V any](m map[string]V) func(func(string) bool) {
	return func(yield func(string) bool) {
		for k := range m {
			if !yield(k) {
				return
			}
		}
	}
}

// heard compares what is heard at each seat and the box.
func (c *comparison) heard(t *testing.T, s *PlainScene, stadium *level.Stadium, p *level.Playing) *level.Balance {
	t.Helper()
	b := stadium.Hear(p)
	place := func(got *level.PlaceSound, at layout.Point) {
		t.Helper()
		want := s.Hear(at)
		c.octaves(t, "featured own", got.FeaturedOwn.DB(), want.OwnFeatured)
		c.octaves(t, "featured stacks", got.FeaturedStacks.DB(), want.StacksFeatured)
		c.octaves(t, "bed own", got.BedOwn.DB(), want.OwnBed)
		c.octaves(t, "bed stacks", got.BedStacks.DB(), want.StacksBed)
		c.level(t, "lead", figure(got.Lead()), want.Lead())
		c.level(t, "over", figure(got.Over()), want.Over())
		gotBest, gotBand := got.Best()
		best, band := want.Best()
		c.level(t, "best", figure(gotBest), best)
		if gotBest.OK && gotBand != band {
			t.Errorf("best band %d, want %d", gotBand, band)
		}
	}
	place(&b.Box, s.Box)
	if len(b.Seats) != len(s.seats()) {
		t.Fatalf("%d seats, want %d", len(b.Seats), len(s.seats()))
	}
	for i, seat := range s.seats() {
		place(&b.Seats[i], seat.At)
	}
	parts := s.BedParts()
	for i, part := range b.Parts {
		want, ok := parts[PlainPart{part.Name, part.Stacks, part.Fixed}]
		if !ok || i > 0 && part.DBA > b.Parts[i-1].DBA {
			t.Errorf("part %+v of the bed: not there, or out of order", part)
			continue
		}
		c.level(t, "part of the bed", part.DBA, want)
	}
	if len(b.Parts) != len(parts) {
		t.Errorf("%d parts of the bed, want %d", len(b.Parts), len(parts))
	}
	return b
}

// more compares the lead with one more trumpet, who plays at mf.
func (c *comparison) more(t *testing.T, s *PlainScene, stadium *level.Stadium, p *level.Playing) {
	t.Helper()
	trumpet, _ := level.InstrumentByName("trumpet")
	at := layout.Point{X: 3, Y: 15, Z: 1.5}
	one := []level.Performer{{Instrument: trumpet, At: at, DynamicsDB: -4}}
	together := *p
	together.Performers = slices.Concat(p.Performers, one)
	b := stadium.HearWith(&together, stadium.OwnSound(p.Performers), stadium.OwnSound(one))
	more := *s
	more.Players = append(slices.Clone(s.Players),
		Musician{Instrument: "trumpet", At: at, FacingDeg: ToBox, Dynamics: -4, Plays: true})
	c.level(t, "lead with more", figure(b.Box.Lead()), more.Hear(s.Box).Lead())
	for i, seat := range s.seats() {
		c.level(t, "lead with more", figure(b.Seats[i].Lead()), more.Hear(seat.At).Lead())
	}
}

// loops compares gains and loops, mic by mic and in total.
func (c *comparison) loops(t *testing.T, s *PlainScene, stadium *level.Stadium, p *level.Playing) *level.LoopGains {
	t.Helper()
	got := stadium.Loops(p)
	find := func(name string) level.Bands {
		for _, m := range got.Mics {
			if m.Name == name {
				return m.Loop.DB()
			}
		}
		return level.Energies{}.DB()
	}
	for i := range p.Worn {
		w := &p.Worn[i]
		for _, m := range s.Players {
			if m.Name == w.Name {
				c.level(t, "worn gain", stadium.WornGainDB(&p.Performers[w.Wearer], w), s.WornGain(m))
				if m.Plays {
					c.octaves(t, "worn mic", stadium.WornMicDB(&p.Performers[w.Wearer], w), s.wornLevel(m, m.Dynamics))
				}
				c.octaves(t, "worn loop", find(m.Name), s.WornLoop(m))
			}
		}
	}
	for i, f := range s.Fixed {
		c.level(t, "fixed mic", stadium.MicDB(p, &p.Fixed[i]), s.FixedLevel(f).Flat())
		if !math.IsNaN(f.Highest) {
			c.level(t, "fixed gain", stadium.FixedGainDB(&p.Fixed[i]), s.FixedGain(f))
		}
		c.octaves(t, "fixed loop", find(f.Name), s.FixedLoop(f))
	}
	c.octaves(t, "total loop", got.Total().DB(), s.TotalLoop())
	db, _ := got.GreatestDB()
	if want := highest(s.TotalLoop()); math.IsNaN(want) {
		c.level(t, "margin", db, math.Inf(-1))
	} else {
		c.level(t, "margin", db, want)
	}
	return got
}

// near compares the levels at ears and other places.
func (c *comparison) near(t *testing.T, s *PlainScene, stadium *level.Stadium, p *level.Playing) {
	t.Helper()
	places := slices.Clone(s.People)
	for _, m := range s.Players {
		places = append(places, EarOf(m))
	}
	for i, got := range stadium.Sounding(p).Near(places) {
		want := s.Hear(places[i])
		c.level(t, "near, stacks", got.StacksDBA, want.StacksDBA())
		c.level(t, "near, all", got.AllDBA, want.AllDBA())
	}
	for i, e := range stadium.Sounding(p).StacksAtSeats() {
		c.level(t, "stacks at a seat", level.Decibels(e), s.Hear(s.seats()[i].At).StacksDBA())
	}
}

// cue compares the figures of a whole cue, and its proposal.
func (c *comparison) cue(t *testing.T, x PlainCue, ends level.Ends, loops []*level.LoopGains) {
	t.Helper()
	worst := PlainFigures{}
	for i, s := range x.Ends {
		f := s.Figures(x.Share, x.Over)
		if i == 0 {
			worst = f
		}
		worst = worst.worse(f)
	}
	first := func(f level.Figure, _ int) float64 { return figure(f) }
	c.level(t, "cue: lead at the box", first(ends.LeadAtBox()), worst.LeadBox)
	c.level(t, "cue: lead", first(ends.LeadAt(x.Share)), worst.LeadShare)
	c.level(t, "cue: best", first(ends.BestAt(x.Share)), worst.BestShare)
	c.level(t, "cue: over", first(ends.OverAtBox()), worst.OverBox)
	give := PlainMeasured{Noise: true, Brass: true}.GiveTake().Over
	c.share(t, ends, x, worst.OverShare, 0)
	least, most := math.Inf(1), math.Inf(1)
	for _, s := range x.Ends {
		var overs []float64
		for _, seat := range s.seats() {
			overs = append(overs, s.Hear(seat.At).Over())
		}
		if lo, hi := ShareRange(s.seats(), overs, x.Over, give); !math.IsNaN(lo) {
			least, most = min(least, lo), min(most, hi)
		}
	}
	c.share(t, ends, x, least, -give)
	c.share(t, ends, x, most, give)

	want := x.Propose()
	if math.IsNaN(x.Target) {
		return // the engine takes a target as given
	}
	got, ok := advice.Propose(ends, loops, advice.Goal{TargetDB: x.Target, SharePct: x.Share, OverDB: x.Over,
		MarginDB: x.Margin, RoomDB: x.room()})
	have := PlainProposal{Need: math.NaN(), Cap: math.NaN(), Short: math.NaN(), Bed: math.NaN()}
	if ok {
		have = PlainProposal{Has: true, Need: figure(got.Need), Cap: got.CapDB, Limit: string(got.Limit),
			Change: got.ChangeDB, Short: figure(got.Short), AskBed: got.BedAsked, Bed: figure(got.Bed)}
	}
	if fmt.Sprintf("%+v", have) != fmt.Sprintf("%+v", want) {
		t.Errorf("proposal %+v,\n          want %+v", have, want)
	}
	c.tried[fmt.Sprint("proposal: ", want.Has, " ", want.Limit)]++
}

// share compares the share of the seats within the limit of over, moved by some dB; infinite: none.
func (c *comparison) share(t *testing.T, ends level.Ends, x PlainCue, want, moved float64) {
	t.Helper()
	got, ok := ends.ShareOver(x.Over + moved)
	none := math.IsNaN(want) || math.IsInf(want, 1)
	if ok == none || ok && math.Abs(100*got-want) > 1e-9 {
		t.Errorf("share %v %v, want %v", got, ok, want)
	}
	c.tried[fmt.Sprint("cue: share, ", !none)]++
}

// worse is the worse of two ends, figure by figure.
func (f PlainFigures) worse(g PlainFigures) PlainFigures {
	pick := func(a, b float64, worse func(a, b float64) float64) float64 {
		switch {
		case math.IsNaN(a):
			return b
		case math.IsNaN(b):
			return a
		}
		return worse(a, b)
	}
	low := func(a, b float64) float64 { return min(a, b) }
	high := func(a, b float64) float64 { return max(a, b) }
	return PlainFigures{pick(f.LeadBox, g.LeadBox, low), pick(f.LeadShare, g.LeadShare, low),
		pick(f.BestBox, g.BestBox, low), pick(f.BestShare, g.BestShare, low), pick(f.OverBox, g.OverBox, high),
		pick(f.OverShare, g.OverShare, low), pick(f.Margin, g.Margin, low)}
}

// room is what is left to the ceiling of the featured channel that is nearest to its own.
func (c PlainCue) room() float64 {
	room := math.Inf(1)
	for _, s := range c.Ends {
		for _, m := range s.Players {
			if m.Featured && m.Mic != nil {
				room = min(room, m.Mic.Ceiling-m.Mic.Fader)
			}
		}
	}
	return room
}

// night compares what the readings give.
func (c *comparison) night(t *testing.T, s *PlainScene, stadium *level.Stadium, instruments map[string]*level.Instrument) {
	t.Helper()
	for i, k := range s.Speakers {
		send := float64(-3 * i)
		c.level(t, "N", stadium.NominalFromNoise(65, i, send, s.Box), s.NominalFrom(65, k, send))
	}
	p := s.playing(instruments)
	var section []Musician
	for _, m := range s.Players {
		if !m.NoDot && m.Plays {
			section = append(section, m)
		}
	}
	var performers []level.Performer
	for _, m := range p.Performers {
		if !m.Rests {
			performers = append(performers, m)
		}
	}
	if len(section) > 0 {
		c.level(t, "band", stadium.BandFromBrass(70, performers, s.Box), s.BandFrom(70, section))
		performers[0].DynamicsDB = 0
		c.level(t, "player", stadium.PlayerFromSolo(60, performers[0], s.Box), s.PlayerFrom(60, section[0]))
	}
	for i, f := range s.Fixed {
		if want := s.RingFrom(f, 4); !math.IsNaN(want) {
			c.level(t, "ring", stadium.RingFromFader(p.Fixed[i], 4), want)
		}
	}
}

// TestFormulas compares what the engine makes its tables of.
func TestFormulas(t *testing.T) {
	for ka := 0.01; ka < 4.5; ka *= 1.1 {
		near(t, "|R|", level.Reflection(ka), reflection(ka), 1e-12)
		for _, deg := range []float64{0, 1, 44.5, 89.9, 90, 90.1, 135, 180} {
			near(t, fmt.Sprint("pattern at ", deg), level.Pattern(ka, deg), toneDB(ka, deg), 1e-9)
		}
	}
	for _, tC := range []float64{-10, 20, 45} {
		for _, humidity := range []float64{10, 50, 100} {
			got := level.Air{C: tC, HumidityPct: humidity}
			for b := range 7 {
				near(t, "absorption", got.AbsorptionDBPerM(midbandHz(b)), alphaDBPerM(midbandHz(b), tC, humidity), 1e-12)
			}
		}
	}
	for pan := -1.0; pan <= 1; pan += 0.25 {
		l, r := constantPower(pan)
		k := Speaker{BusLeft: 1, BusRight: 0.5}
		near(t, "send", level.StereoSendDB(k.BusLeft, k.BusRight, l, r), StereoSend(k, l, r), 1e-12)
	}
	// The middle row of 4 rows of 10 seats of weight 2, and of three surveyed seats that count 20 together.
	row := func(y, z float64) stands.SeatRow { return stands.SeatRow{Y: y, Z: z, WidthM: 20} }
	block := stands.Block{Front: row(-10, 2), Back: row(-30, 12), Rows: 4, Seats: 10, Weight: 2}
	surveyed := []stands.Seat{{At: layout.Point{Y: -40, Z: 9}, Weight: 10}, {At: layout.Point{Y: -50, Z: 9}, Weight: 5},
		{At: layout.Point{Y: -60, Z: 12}, Weight: 5}}
	y, z := level.MiddleRow([]stands.Block{block}, surveyed, layout.Point{})
	near(t, "middle row, y", y, (80*-20.0+20*-50)/100, 1e-9)
	near(t, "middle row, z", z, (80*7.0+20*10)/100, 1e-9)
	y, z = level.MiddleRow(nil, nil, layout.Point{Y: -36, Z: 18})
	near(t, "no stands", y+z, -18, 1e-9)
}

// TestWords compares what needs no scene: the spreads, the verdicts, the background, doses and the change of a role.
func TestWords(t *testing.T) {
	for i := range 16 {
		m := PlainMeasured{i&1 > 0, i&2 > 0, i&4 > 0, i&8 > 0}
		g := m.GiveTake()
		got := advice.SpreadOf(advice.Measured{Noise: m.Noise, Brass: m.Brass, Solo: m.Solo, Ring: m.Ring})
		if got != (advice.Spread{LeadDB: g.Lead, OverDB: g.Over, LoopDB: g.Loop, NearDB: g.Near}) {
			t.Errorf("%+v: %+v, want %+v", m, got, g)
		}
	}
	for _, value := range []float64{-9, -5, -4.9, -0.1, 0, 0.1, 4.9, 5, 5.1} {
		if got := string(advice.AtLeast(value, 0, 5)); got != Word(value, 0, 5) {
			t.Errorf("%v at least 0: %s, want %s", value, got, Word(value, 0, 5))
		}
		if got := string(advice.AtMost(value, 0, 5)); got != Word(-value, 0, 5) {
			t.Errorf("%v at most 0: %s, want %s", value, got, Word(-value, 0, 5))
		}
	}
	for _, reading := range []float64{40, 49.99, 50, 50.01, 70} {
		got, gotOK := level.OffBackground(reading, 47)
		want, ok := WithoutBackground(reading, 47)
		if gotOK != ok || ok && math.Abs(got-want) > most {
			t.Errorf("%v over 47: %v %v, want %v %v", reading, got, gotOK, want, ok)
		}
		near(t, "hours", level.AllowedHours(reading), AllowedHours(reading), 1e-9)
		near(t, "dose", level.DosePct(reading, 2), Dose([]LevelHeld{{reading, 2}}, 2), 1e-9)
	}
	r := rand.New(rand.NewSource(*firstSeed))
	for range 200 {
		var changes []float64
		var cues []advice.RoleCue
		for range 1 + r.Intn(9) {
			changes = append(changes, halves(r, -4, 4))
			cues = append(cues, advice.RoleCue{Role: "solo", Mics: 1 + r.Intn(2), ChangeDB: changes[len(changes)-1]},
				advice.RoleCue{Role: "solo", Mics: 3 + r.Intn(3), ChangeDB: 9}, advice.RoleCue{Role: "duet", Mics: 1, ChangeDB: -9})
		}
		groups, got := advice.RoleChanges(cues)
		change, nudges := GroupChange(changes)
		if len(groups) != 3 || groups[0].ChangeDB != change {
			t.Errorf("%v: groups %+v, want 3, and %v", changes, groups, change)
		}
		for i, want := range nudges {
			if got[3*i] != want || got[3*i+1] != 0 {
				t.Errorf("%v: nudges %v, want %v", changes, got, nudges)
			}
		}
	}
	for mark, want := range Dynamics() {
		if got, ok := level.DynamicsDB(mark); !ok || got != want {
			t.Errorf("%s: %v %v, want %v", mark, got, ok, want)
		}
	}
	for name, want := range Sections() {
		got, ok := level.InstrumentByName(name)
		if !ok || got.PowerDB != want.Power || got.BellM != want.RadiusM || Octaves(got.ShapeDB) != want.Shape {
			t.Errorf("%s: %+v, want %+v", name, got, want)
		}
	}
}
