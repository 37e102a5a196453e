package work

import (
	"cmp"
	"math"
	"slices"
	"sync/atomic"

	"backfield/cue"
	"backfield/cue/clock"
	"backfield/cue/score"
	"backfield/cue/timeline"
	"backfield/layout/rig"
	"backfield/layout/stands"
)

// Derivation is how one channel's numbers in one cue were computed, part by part.
type Derivation struct {
	MicUse
	From, To clock.Moment // the cue, and the next one or the end of the stretch
	Stretch  *MicStretch
	Lo, Hi   int // the samples of the cue in the stretch; the last is at To

	Place  MicPlace
	Pan    Pan
	Delay  Delay
	Level  LevelSum
	Glide  []cue.Knot    // after the cue's moment; nil where nothing moves
	Params []ChosenParam // the mixer's own, in its order
	Fit    *stands.Fit   // nil without stands, or if no seat hears the mic
	BoxMS  *[2]float64   // the least and the greatest arrival gap at the press box; nil if nothing is heard there
	Notes  []string      // what a person should know, in words
}

// MicUse says who is open on which channel.
type MicUse struct {
	Line    int // of the show's lines
	Channel int
	Kind    string // cue.Worn or cue.Fixed
	Name    string
	Section string // of a worn mic's player
	Pack    string // the pack that the player wears
	Role    string
}

// micPart is one open line in one cue, with what its numbers are computed from.
type micPart struct {
	*CompileSetup
	clock   *clock.Clock
	cue     *timeline.TimedCue
	line    *timeline.Line
	worn    *timeline.LineWear // who has the mic at the cue's moment; nil for a fixed mic
	open    timeline.Opening
	policy  *stands.Policy
	box     score.BoxBound
	stretch *MicStretch
	lo, hi  int // see Derivation
}

// Compute finds the stretches and their paths, and makes the derivation of every open line in every cue, spread over the
// cores. Unless it is nil, progress is called from any goroutine with how much is done, 0 to 1.
func Compute(
	s *CompileSetup, c *clock.Clock, lines *timeline.Lines, cues []timeline.TimedCue, progress func(part float64),
) [][]*Derivation {
	stretches := findStretches(s, c, lines, cues)
	var finished atomic.Int64
	s.each(len(stretches), func(h *scratch, n int) {
		x := stretches[n]
		q := s.input(lines, cues, x)
		x.StretchPath = s.memo.paths.get(q.key(), func() *StretchPath { return s.solve(h, q) })
		if progress != nil {
			progress(float64(finished.Add(1)) / float64(len(stretches)))
		}
	})
	all := make([][]*Derivation, len(cues))
	for _, x := range stretches { // by line
		for i := x.Cues[0]; i <= x.Cues[1]; i++ {
			all[i] = append(all[i], derive(s.part(c, lines, cues, x, i)))
		}
	}
	return all
}

// part is a stretch's part in a cue.
func (s *CompileSetup) part(
	c *clock.Clock, lines *timeline.Lines, cues []timeline.TimedCue, x *MicStretch, i int,
) *micPart {
	p := &micPart{
		CompileSetup: s, clock: c, cue: &cues[i], line: &lines.List[x.Line], open: cues[i].Open[x.Line], stretch: x,
	}
	p.lo, p.hi = x.Part(i)
	if p.line.Fixed == nil {
		p.worn = p.line.Holder(p.cue.At)
	}
	p.policy, p.box = s.policyOf(p), s.Score.BoxOf(p.cue.Cue, &p.open.Role)
	return p
}

// input is everything that the path of a stretch depends on.
func (s *CompileSetup) input(lines *timeline.Lines, cues []timeline.TimedCue, x *MicStretch) *stretchInput {
	line := &lines.List[x.Line]
	q := &stretchInput{
		Worn: true, Player: true, LaterMS: 1000 * LaterS(s.Rig, line), Samples: make([]sampleInput, len(x.Samples)),
	}
	if line.Fixed != nil {
		q.Worn, q.Player, q.DelayMS = false, line.Fixed.HasPlayer(), line.Fixed.DelayMS
		if !s.Rig.Zones {
			q.Pan = line.Fixed.Pan
		}
	}
	var policy *stands.Policy
	var box score.BoxBound
	for k := range x.Samples {
		a := &x.Samples[k]
		if k == 0 || a.Cue != x.Samples[k-1].Cue {
			p := micPart{CompileSetup: s, cue: &cues[a.Cue], line: line, open: cues[a.Cue].Open[x.Line]}
			policy, box = s.policyOf(&p), s.Score.BoxOf(p.cue.Cue, &p.open.Role)
		}
		q.Samples[k] = sampleInput{
			At: a.At, Counts: a.Counts, StepS: a.StepS, WeightS: a.WeightS, IsCue: a.IsCue, IsWait: a.IsWait,
			MayJump: a.MayJump, Part: a.Cue - x.Cues[0], Policy: policy, Box: box,
		}
		if a.Rests {
			q.Samples[k].WeightS *= restWeight
		}
	}
	return q
}

// derive makes one derivation, part by part.
func derive(p *micPart) *Derivation {
	w := &Derivation{
		MicUse: micOf(p), From: p.cue.At, To: p.stretch.Samples[p.hi].Moment, Stretch: p.stretch, Lo: p.lo, Hi: p.hi,
	}
	w.Place = placeOf(p)
	w.Pan = panOf(p, w.Place)
	w.Delay = delayOf(p, w.Place, w.Pan)
	w.Level = levelOf(p)
	w.Glide = glideOf(p, w)
	w.Params = paramsOf(p)
	part := p.stretch.Samples[p.lo].Cue - p.stretch.Cues[0]
	w.Fit = p.stretch.fits[part]
	if late := p.stretch.boxLate[part]; late[0] <= late[1] {
		w.BoxMS = &late
	}
	w.Notes = slices.Concat(
		w.Pan.notes(), facingNotes(p, w.Pan), w.Delay.notes(p.Mixer.Delay),
		w.Level.notes(p.Mixer.Level.Min, p.Mixer.MostDB(w.Channel)), paramNotes(w.Params),
	)
	return w
}

func micOf(p *micPart) MicUse {
	m := MicUse{
		Line: p.stretch.Line, Channel: p.line.Channel, Kind: cue.Fixed, Name: p.open.Name, Role: p.open.Role.Name,
	}
	if p.worn != nil {
		m.Kind, m.Section, m.Pack = cue.Worn, p.worn.Section, p.worn.Pack
	}
	return m
}

// policyOf is the delay policy of a channel: the cue's, the player's, the role's or the show's, whichever comes first.
func (s *CompileSetup) policyOf(p *micPart) *stands.Policy {
	player := ""
	if p.line.Fixed == nil {
		player = p.line.Holder(p.cue.At).Policy
	}
	name := cmp.Or(p.cue.Cue.Policy, player, p.open.Role.Policy, p.Score.Policy.V)
	return cmp.Or(stands.PolicyByName(name), p.DefaultPolicy())
}

// LaterS is how much longer than a worn mic's the sound of a line takes to the loudspeakers, in seconds: below 0 for a
// fixed mic whose cable is faster.
func LaterS(r *rig.Rig, l *timeline.Line) float64 {
	if l.Fixed == nil {
		return 0
	}
	return l.Fixed.LatencyS - r.LatencyS
}

// UrgencyMS is how badly a channel needs a look, in ms of delay.
func (w *Derivation) UrgencyMS() float64 {
	v := w.Delay.BelowMS
	if w.Delay.OverMS > 0 || w.Level.Cut || !w.Delay.Arrival.OK {
		v += 1000
	}
	return v
}

// Finite reports whether the values to send are numbers.
func (w *Derivation) Finite() bool {
	return !math.IsNaN(w.Pan.Value) && !math.IsNaN(w.Pan.Place) && !math.IsNaN(w.Delay.MS) && !math.IsNaN(w.Level.DB)
}
