package compile

import (
	"fmt"
	"math"

	"backfield/cue"
	"backfield/cue/clock"
	"backfield/layout"
	"backfield/layout/drill"
	"backfield/layout/sound"
	"backfield/layout/source"
	"backfield/layout/unit"
)

// How far the best delay and pan may wander within one snapshot before it is worth saying so: the same
// tolerances that a follow-on will be cut by.
const (
	driftMS  = 5
	driftPan = 0.1
)

// sampleCounts is how often a walk is looked at.
const sampleCounts = 0.25

// Working is the whole derivation of one channel's numbers in one cue: what explain shows and what the
// snapshot holds. Places are in metres, delays in ms, levels in dB.
type Working struct {
	Channel  int
	Name     string
	Section  string // of a worn mic's player
	Pack     string // that he wears
	Kind     string
	Role     string
	From, To clock.Moment // the piece that the numbers hold for

	Dot        string // the place as written where he stands on a dot, else in words
	Leg        drill.Leg
	Start, End layout.Point // where the mic is at From and at To

	ReferenceM float64 // from Start to the reference seat
	PathMinM   float64 // the shortest and longest way to the reference seat within the piece
	PathMaxM   float64

	Tangent sound.Tangent // at Start
	WantMin float64       // the range of the wanted pan within the piece, after the width limit
	WantMax float64
	PanHand bool // set by hand in the rig
	PanRaw  float64
	Pan     float64

	Gains       []float64
	Arrival     sound.Arrival
	PlayerMS    float64 // travel time of the player's own sound to the reference seat, at Start
	FirstMS     float64 // first loudspeaker sound there without a delay
	LeadMS      float64
	RawMinMS    float64
	RawMaxMS    float64
	RawMS       float64
	DelayHand   bool
	DelayMS     float64
	DriftMS     float64 // how far off the delay is at the worst moment of the piece
	DriftPan    float64
	RoleDB      float64
	TrimDB      float64
	NudgeDB     float64
	MakeUpDB    float64
	LevelRawDB  float64
	LevelDB     float64
	Notes       []string
	limitDelay  bool
	limitLevel  float64 // what was asked for, when the desk cannot hold it
	levelIsCut  bool
	unknownDots bool
}

// piece returns the stretch of time that cue i's snapshot holds for.
func (r *Result) piece(i int) (from, to clock.Moment) {
	from, to = r.Cues[i].At, r.Clock.End()
	if i+1 < len(r.Cues) {
		to = r.Cues[i+1].At
	}
	return from, to
}

// where returns the place of a line's mic at a moment.
func (r *Result) where(l *line, at clock.Moment) (layout.Point, bool) {
	if l.fixed != nil {
		return l.fixed.At, true
	}
	w := l.holder(at)
	if w == nil {
		return layout.Point{}, false
	}
	p, ok := r.Drill.Player(w.Player)
	if !ok {
		return layout.Point{}, false
	}
	place, ok := p.At(r.Drill, at.Movement, at.Elapsed)
	place.Z = w.HeightM
	return place, ok
}

// work computes one open line in one cue.
func (r *Result) work(system *sound.System, cueIndex, lineIndex int) *Working {
	l, o := &r.lines[lineIndex], r.Cues[cueIndex].open[lineIndex]
	w := &Working{Channel: l.channel, Name: o.name, Kind: cue.Worn, Role: o.role.Name, LeadMS: r.Score.LeadMS}
	w.From, w.To = r.piece(cueIndex)
	if l.fixed != nil {
		w.Kind, w.Dot, w.TrimDB = cue.Fixed, l.fixed.Words, l.fixed.TrimDB
	} else {
		h := l.holder(w.From)
		w.TrimDB, w.Section, w.Pack = h.TrimDB, h.Section, h.Pack
		r.dot(w)
	}
	path := r.walk(w, l)
	r.pan(w, l, system, path)
	r.delay(w, l, system)
	r.level(w, o)
	return w
}

// dot words the place at the cue's moment, and notes whether a dot is missing under it.
func (r *Result) dot(w *Working) {
	p, ok := r.Drill.Player(w.Name)
	if !ok {
		return
	}
	w.Leg = r.Drill.Leg(w.From.Movement, w.From.Elapsed)
	for _, m := range r.Clock.Samples(w.From, w.To, sampleCounts) {
		leg := r.Drill.Leg(m.Movement, m.Elapsed)
		if !p.Dots[leg.From].Known || !p.Dots[leg.To].Known {
			w.unknownDots = !r.Drill.PartialDots && !r.Drill.PartialSets
		}
	}
	if w.Leg.From == w.Leg.To || w.Leg.Part == 1 {
		w.Dot = p.Dots[w.Leg.To].Words
	}
}

// walk samples the mic's way through the piece. The samples stop where the mic changes hands: the channel is
// closed by then, or the next holder has a cue of his own.
func (r *Result) walk(w *Working, l *line) []layout.Point {
	var path []layout.Point
	for _, m := range r.Clock.Samples(w.From, w.To, sampleCounts) {
		if l.fixed == nil {
			if h := l.holder(m); (h == nil || h.Player != w.Name) && len(path) > 0 {
				break
			}
		}
		at, _ := r.where(l, m)
		path = append(path, at)
	}
	w.Start, w.End = path[0], path[len(path)-1]
	w.PathMinM, w.PathMaxM = math.Inf(1), 0
	for _, p := range path {
		d := p.Distance(r.Rig.Reference)
		w.PathMinM, w.PathMaxM = min(w.PathMinM, d), max(w.PathMaxM, d)
	}
	w.ReferenceM = w.Start.Distance(r.Rig.Reference)
	return path
}

// pan is the middle of the range of the pans wanted along the way, each held to the width limit, then
// finished on the desk's grid.
func (r *Result) pan(w *Working, l *line, system *sound.System, path []layout.Point) {
	w.Tangent = system.TangentPan(path[0], r.Rig.Reference)
	w.WantMin, w.WantMax = math.Inf(1), math.Inf(-1)
	for _, p := range path {
		want := system.TangentPan(p, r.Rig.Reference).Pan
		want = math.Copysign(min(math.Abs(want), r.Score.PanWidth), want)
		w.WantMin, w.WantMax = min(w.WantMin, want), max(w.WantMax, want)
	}
	w.PanRaw = (w.WantMin + w.WantMax) / 2
	if l.fixed != nil && l.fixed.Pan != nil {
		w.PanRaw, w.PanHand = *l.fixed.Pan, true
		w.WantMin, w.WantMax = w.PanRaw, w.PanRaw
	}
	w.Pan = unit.RoundSigned(w.PanRaw, r.Desk.Pan.Step)
	w.DriftPan = (w.WantMax - w.WantMin) / 2
	if w.Tangent.Note != "" && !w.PanHand {
		w.note(w.Tangent.Note)
	}
}

// delay is the middle of the range of the delays wanted along the way at the pan that is sent: the player's
// own travel time to the reference seat, less that of the first loudspeaker, plus the lead. Then it is held
// to 0 and to the desk's most, and finished on the desk's grid.
func (r *Result) delay(w *Working, l *line, system *sound.System) {
	w.Gains = system.Gains(w.Pan)
	w.Arrival = system.First(r.Rig.Reference, w.Gains)
	c := system.SpeedMPS
	w.PlayerMS, w.FirstMS = 1000*w.ReferenceM/c, 1000*w.Arrival.TimeS
	if !w.Arrival.OK {
		w.FirstMS = 0
		w.note("no stack carries this pan to the reference seat: no delay can be computed")
	} else {
		w.RawMinMS = 1000*(w.PathMinM/c-w.Arrival.TimeS) + w.LeadMS
		w.RawMaxMS = 1000*(w.PathMaxM/c-w.Arrival.TimeS) + w.LeadMS
	}
	w.RawMS = (w.RawMinMS + w.RawMaxMS) / 2
	w.DriftMS = (w.RawMaxMS - w.RawMinMS) / 2
	if l.fixed != nil && l.fixed.DelayMS != nil {
		w.RawMS, w.DelayHand, w.DriftMS = *l.fixed.DelayMS, true, 0
	}
	v := w.RawMS
	if v < 0 {
		if w.Kind == cue.Worn {
			w.note(fmt.Sprintf("the best delay would be %.1f ms: nearer to the audience than the loudspeakers can wait; 0 is sent", v))
		}
		v = 0
	}
	if v > r.Desk.Delay.Max {
		w.note(fmt.Sprintf("the delay of %.1f ms is over the desk's most, %g ms", v, r.Desk.Delay.Max))
		v, w.limitDelay = r.Desk.Delay.Max, true
	}
	w.DelayMS = min(unit.Round(v, r.Desk.Delay.Step), max(r.Desk.Delay.Max, 0))
	if w.DriftMS > driftMS || w.DriftPan > driftPan {
		w.note(fmt.Sprintf("walks while open: the delay is off by up to %.1f ms and the pan by up to %.2f before the next cue", w.DriftMS, w.DriftPan))
	}
}

// level adds up role, trim, nudge and make-up, and finishes on the desk's grid.
func (r *Result) level(w *Working, o opening) {
	w.RoleDB, w.NudgeDB = o.role.LevelDB, o.nudgeDB
	if m := r.Score.MakeUp; m.MaxDB > 0 && w.Kind == cue.Worn {
		w.MakeUpDB = max(0, min(m.MaxDB, sound.DistanceDB(w.ReferenceM, m.FromM)))
	}
	w.LevelRawDB = w.RoleDB + w.TrimDB + w.NudgeDB + w.MakeUpDB
	v := max(min(w.LevelRawDB, r.Desk.Level.Max), r.Desk.Level.Min)
	if v != w.LevelRawDB {
		w.note(fmt.Sprintf("the level of %.1f dB is outside of the desk's range, %g to %g dB", w.LevelRawDB, r.Desk.Level.Min, r.Desk.Level.Max))
		w.levelIsCut = true
	}
	w.LevelDB = unit.Round(v, r.Desk.Level.Step)
}

func (w *Working) note(text string) { w.Notes = append(w.Notes, text) }

// weigh tells how much a working needs a look, in ms of delay; 0.1 of pan counts as 5 ms.
func (w *Working) weigh() float64 {
	v := max(w.DriftMS, w.DriftPan*driftMS/driftPan)
	if w.RawMS < 0 {
		v = max(v, -w.RawMS)
	}
	if w.limitDelay || w.levelIsCut || !w.Arrival.OK {
		v += 1000
	}
	return v
}

// report turns what the desk or the drill cannot do into problems at the place where the score opened it.
func (r *Result) report(w *Working, m *Moment, o opening, p *source.Problems) {
	id, at := m.Cue.ID.V, o.at
	for _, n := range w.Notes {
		r.attention = append(r.attention, Attention{id, w.Name, n, w.weigh()})
	}
	if w.unknownDots {
		p.Error("no-dot", at, fmt.Sprintf("%s has no dot where cue %q opens him", w.Name, id), "add the dots of every set that he is open in")
	}
	if w.limitDelay && !r.Doubt {
		p.Warn("delay-max", at, fmt.Sprintf("cue %q, %s: a delay of %.1f ms is wanted and the desk holds %g", id, w.Name, w.RawMS, r.Desk.Delay.Max), "the most is sent; he will be heard late from the field")
	}
	if w.levelIsCut && !o.bad {
		p.Warn("level-range", at, fmt.Sprintf("cue %q, %s: a level of %.1f dB is wanted and the desk holds %g to %g", id, w.Name, w.LevelRawDB, r.Desk.Level.Min, r.Desk.Level.Max), "mend the role, the trim or the nudge")
	}
	if r.Doubt {
		return
	}
	if math.IsNaN(w.Pan) || math.IsNaN(w.DelayMS) || math.IsNaN(w.LevelDB) {
		p.Error("not-finite", at, fmt.Sprintf("cue %q, %s: a number came out as none", id, w.Name), "this is a fault of backfield; please report it with the show")
	}
}
