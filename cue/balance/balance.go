// Package balance makes scenes of a compiled show for layout/level: who plays where in each cue, how loudly, and through
// which mics. It computes no sound. What a show does not say is taken from the defaults below, and counted.
package balance

import (
	"math"
	"slices"
	"sync"

	"backfield/cue"
	"backfield/cue/clock"
	"backfield/cue/readings"
	"backfield/cue/timeline"
	"backfield/cue/work"
	"backfield/layout"
	"backfield/layout/level"
	"backfield/layout/level/advice"
	"backfield/layout/source"
)

// CompiledShow is the part of a compiled show that decides how loud it is.
type CompiledShow struct {
	*work.CompileSetup
	Clock *clock.Clock
	Lines *timeline.Lines
	Cues  []timeline.TimedCue // in order of time
	Spans []work.CueSpan      // by cue
	Show  *cue.Show
}

// Loudness is a show's cues as layout/level takes them. Several goroutines may use it.
type Loudness struct {
	Stadium  *level.Stadium
	Measured advice.Measured // of the whole show: noise and brass

	Lines  []string // channels that come in on a line: no mic hears them, and they are left out
	Silent []string // sections that have no instrument and never play

	x       *CompiledShow
	heard   *remembering
	players []castPlayer
	given   map[string]*level.Instrument // those that the score describes, by name
	row     []int                        // zones of the stacks from left to right
	cues    []casting
	night   readings.SiteReadings
	rings   map[int]float64 // by line of a fixed mic: what the reading of its ring adds to its loop
	highest map[int]float64 // by line of a fixed mic: the highest level at it over the show
	moments sync.Map        // moment by time of the show in seconds
}

// CueLoudness is how loud a cue is, and what that was computed from.
type CueLoudness struct {
	Cue      int
	Measured advice.Measured // with the solo readings of those who are featured
	Role     string          // the featured one; of several that are equally loud the first in [mix]; "" where none is
	Worn     []string        // the roles in which a worn mic is open, in the order of [mix]
	Ends     [2]EndScene     // at the cue's moment, and when the next one comes
	Heard    level.Ends      // what is heard at both
	MF       level.Ends      // the same with all who are not counted playing mf; nil where that says nothing
	Loops    []LoopMoment    // every quarter count of the walk
	Goal     *advice.Goal    // nil for a role without a target
	Advice   *advice.Proposal

	NotStated  []Unstated
	NoLowCut   []string // roles in which a mic is open without a low cut, in the order of [mix]
	NotCounted []Uncounted
	NoDot      []string // players who would play and have no dot at one of the ends
}

// EndScene is who plays and which mics are open at one end of a cue.
type EndScene struct {
	At      clock.Moment
	Playing *level.Playing
	Others  []level.Performer // those who are not counted, at mf
}

// LoopMoment is how close to feedback a cue is at one moment.
type LoopMoment struct {
	At    clock.Moment
	Gains *level.LoopGains
}

// Unstated is the players of a section whose dynamics the show does not state.
type Unstated struct {
	Section string
	Players int
	Mark    string // what is taken
}

// Uncounted is a section that is on the field and, as far as the score says, does not play.
type Uncounted struct {
	Section string
	But     []string // those of it who play
	Names   []string // who do not
}

// New prepares the scenes of all cues. It returns nil after errors, which are about instruments that nobody knows and
// readings that make no sense, and for a show that did not compile.
func New(x *CompiledShow, p *source.Problems) *Loudness {
	if x.Show == nil || len(x.Spans) != len(x.Cues) {
		return nil
	}
	l := &Loudness{x: x, highest: map[int]float64{}, row: x.Show.Rig.RowOfStacks()}
	before := p.Errors()
	l.readPlayers()
	l.cues = make([]casting, len(x.Cues))
	for i := range x.Cues {
		l.cues[i] = l.settle(i)
	}
	l.checkInstruments(p)
	if p.Errors() > before {
		return nil
	}
	var own []*level.Instrument
	for i := range x.Score.Instruments {
		own = append(own, &x.Score.Instruments[i].Instrument)
	}
	l.Stadium = level.NewStadium(l.conditions(), own...)
	for i := range x.Lines.List {
		if m := x.Lines.List[i].Fixed; m != nil && !hears(m) {
			l.Lines = append(l.Lines, m.Name)
		}
	}
	l.checkMeters(p)
	l.checkGainCues(p)
	l.takeReadings(p)
	l.findHighest()
	l.takeRings(p)
	readings.Judge(&l.night, p)
	if p.Errors() > before {
		return nil
	}
	l.heard = newRemembering(l.Stadium, x.Heard())
	return l
}

// conditions are what stays the same for the whole show.
func (l *Loudness) conditions() level.Conditions {
	r := l.x.Rig
	c := level.Conditions{Air: level.Air{C: r.AirC, HumidityPct: r.HumidityPct}, Box: r.Reference,
		Seats: r.Seats(), BellUpDeg: r.BellUpDeg, NominalDB: level.DefaultNominalDB}
	y, z := level.MiddleRow(r.Blocks, r.Surveyed, r.Reference)
	for _, k := range r.MainStacks() {
		s := level.AimedStack{Name: k.Name, At: k.At, Aim: layout.Point{X: k.At.X, Y: y, Z: z}, TrimDB: k.TrimDB,
			AcrossDeg: k.AcrossDeg, UpDeg: k.UpDeg, MouthM: k.MouthM, FrontBackDB: k.FrontBackDB}
		if k.Aim != nil {
			s.Aim = *k.Aim
		}
		c.Stacks = append(c.Stacks, s)
	}
	return c
}

// Cue computes one cue, by its place in the order of time.
func (l *Loudness) Cue(i int) *CueLoudness { return l.cue(i, true) }

// CuesToCheck computes what the checks need of all cues: nothing of MF and Advice, and Loops only once noise and brass
// were measured.
func (l *Loudness) CuesToCheck() []*CueLoudness {
	return l.each(func(i int) *CueLoudness { return l.cue(i, false) })
}

// cue computes one cue, all of it or what the checks need.
func (l *Loudness) cue(i int, all bool) *CueLoudness {
	set := &l.cues[i]
	c := &CueLoudness{Cue: i, Role: set.role, Worn: set.worn, NotStated: set.unstated, NotCounted: set.uncounted}
	for end, at := range l.ends(i) {
		e := &c.Ends[end]
		e.At = at
		e.Playing, e.Others = l.scene(i, at, &c.NoDot)
		own := l.heard.own(e.Playing.Performers)
		c.Heard = append(c.Heard, l.Stadium.HearWith(e.Playing, own))
		if all && set.role != "" && len(set.uncounted) > 0 {
			together := *e.Playing
			together.Performers = slices.Concat(together.Performers, e.Others)
			c.MF = append(c.MF, l.Stadium.HearWith(&together, own, l.heard.own(e.Others)))
		}
	}
	c.Measured, c.NoLowCut = l.measuredOf(set), l.noLowCut(i)
	if !all && !c.Measured.Calibrated() {
		return c
	}
	loops := make([]*level.LoopGains, 0, len(l.x.Spans[i].Samples))
	for _, at := range l.x.Spans[i].Samples {
		g := l.Stadium.Loops(l.mics(i, at))
		loops = append(loops, g)
		c.Loops = append(c.Loops, LoopMoment{at, g})
	}
	goals := &l.x.Score.Goals
	if target, ok := goals.TargetOf(set.role); ok && all {
		g := advice.Goal{TargetDB: target, SharePct: goals.SharePct, OverDB: goals.OverDB, MarginDB: goals.MarginDB,
			RoomDB: l.roomDB(i)}
		c.Goal = &g
		if p, ok := advice.Propose(c.Heard, loops, g); ok {
			c.Advice = &p
		}
	}
	return c
}

// Cues computes all cues, spread over the cores.
func (l *Loudness) Cues() []*CueLoudness { return l.each(l.Cue) }

func (l *Loudness) each(of func(i int) *CueLoudness) []*CueLoudness {
	list := make([]*CueLoudness, len(l.cues))
	work.Spread(len(list), func() func(i int) { return func(i int) { list[i] = of(i) } })
	return list
}

// measuredOf is what was read for a cue: noise, brass, and all of its featured players alone.
func (l *Loudness) measuredOf(set *casting) advice.Measured {
	m := l.Measured
	m.Solo = set.role != ""
	for k := range set.players {
		if set.players[k].featured && !l.players[k].soloed {
			m.Solo = false
		}
	}
	return m
}

// ends are the moments between which a cue holds.
func (l *Loudness) ends(i int) [2]clock.Moment {
	s := l.x.Spans[i].Samples
	return [2]clock.Moment{s[0], s[len(s)-1]}
}

// roomDB is how far the featured faders may go up before one of them is at its channel's ceiling.
func (l *Loudness) roomDB(i int) float64 {
	room := math.Inf(1)
	for _, n := range timeline.Sorted(l.x.Cues[i].Open) {
		line, o := &l.x.Lines.List[n], l.x.Cues[i].Open[n]
		if line.Fixed != nil || !l.cues[i].front[o.Role.Name] {
			continue
		}
		c := &l.x.Show.Cues[i].Channels[n]
		most := float64(c.LevelDB)
		for _, k := range c.Glide {
			if k.LevelDB != nil {
				most = max(most, float64(*k.LevelDB))
			}
		}
		room = min(room, l.x.Mixer.MostDB(line.Channel)-most)
	}
	return room
}

// findHighest finds the highest level at each fixed mic, at either end of any cue in which it is open, or of its own
// gain_cue: its preamp is set for that.
func (l *Loudness) findHighest() {
	found := make([]map[int]float64, len(l.cues))
	work.Spread(len(found), func() func(i int) {
		return func(i int) {
			found[i] = map[int]float64{}
			for _, at := range l.ends(i) {
				playing, _ := l.scene(i, at, nil)
				for k, n := range l.fixedLines(i) {
					if c := l.x.Lines.List[n].Fixed.GainCue; c.Set && c.V != l.x.Cues[i].Cue.ID.V {
						continue
					}
					before, known := found[i][n]
					if db := l.Stadium.MicDB(playing, &playing.Fixed[k]); !known || db > before {
						found[i][n] = db
					}
				}
			}
		}
	})
	for _, by := range found {
		for n, db := range by { // a maximum does not depend on the order
			if before, known := l.highest[n]; !known || db > before {
				l.highest[n] = db
			}
		}
	}
}
