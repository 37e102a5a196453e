package work

import (
	"cmp"
	"math"
	"slices"
	"sync/atomic"

	"backfield/cue"
	"backfield/cue/clock"
	"backfield/cue/timeline"
	"backfield/layout"
	"backfield/layout/stands"
)

// Working is the whole derivation of one channel's numbers in one piece of a cue, part by part, each made by a
// function of its own.
type Derivation struct {
	OpenMic
	From, To clock.Moment // the piece that the numbers hold for

	Place  MicPlace
	Pan    Pan
	Delay  Delay
	Drift  Drift
	Level  LevelSum
	Params []ChosenParam // the mixer's own, in its order
	Fit    *stands.Fit   // nil without a stand, or where no seat hears the mic
	Notes  []string      // what a person should know, in words
}

// Mic is who is open, and on which channel.
type OpenMic struct {
	Line    int // of the show's lines
	Channel int
	Kind    string // cue.Worn or cue.Fixed
	Name    string
	Section string // of a worn mic's player
	Pack    string // that the player wears
	Role    string
}

// part is one open line in one piece, and what its numbers are computed from.
type micPart struct {
	*Setup
	*scratch
	cue   *timeline.TimedCue
	line  *timeline.Line
	worn  *timeline.LineWear // who has the mic at the piece's first moment; nil for a fixed mic
	open  timeline.Opening
	track *Track
	lo    int // the piece's first sample, and the last that the track has
	hi    int

	samples []clock.Moment // of the whole piece
	path    []layout.Point
}

// Compute makes the working of every open line in every piece, spread over the cores. progress may be nil; else it is
// called with how much is done, 0 to 1, from any goroutine.
func Compute(
	s *Setup, lines *timeline.Lines, cues []timeline.TimedCue, spans []CueSpan, pieces []CuePiece, progress func(part float64),
) [][]*Derivation {
	type job struct{ piece, track int }
	var jobs []job
	for i, pc := range pieces {
		for t, track := range spans[pc.Cue].Tracks {
			if pc.Lo < len(track.At) { // else the mic has changed hands by then
				jobs = append(jobs, job{i, t})
			}
		}
	}
	done := make([]*Derivation, len(jobs))
	var finished atomic.Int64
	s.each(len(jobs), func(h *scratch, n int) {
		pc := pieces[jobs[n].piece]
		x := &spans[pc.Cue]
		done[n] = derive(newPart(s, h, lines, &cues[pc.Cue], x, &x.Tracks[jobs[n].track], pc))
		if progress != nil {
			progress(float64(finished.Add(1)) / float64(len(jobs)))
		}
	})
	works := make([][]*Derivation, len(pieces))
	for n, w := range done {
		works[jobs[n].piece] = append(works[jobs[n].piece], w)
	}
	return works
}

func newPart(
	s *Setup, h *scratch, lines *timeline.Lines, c *timeline.TimedCue, x *CueSpan, t *Track, pc CuePiece,
) *micPart {
	p := &micPart{
		Setup: s, scratch: h, cue: c, line: &lines.List[t.Line], open: c.Open[t.Line], track: t,
		lo: pc.Lo, hi: min(pc.Hi+1, len(t.At)), samples: x.Samples[pc.Lo : pc.Hi+1],
	}
	p.path = t.At[p.lo:p.hi]
	if p.line.Fixed == nil {
		p.worn = p.line.Holder(p.samples[0])
	}
	return p
}

// working makes one working, part by part.
func derive(p *micPart) *Derivation {
	w := &Derivation{OpenMic: micOf(p), From: p.samples[0], To: p.samples[len(p.samples)-1]}
	policy := policyOf(p)
	var heard *stands.Heard
	w.Place = placeOf(p)
	w.Pan, heard = panOf(p, policy, w.Place)
	w.Delay = delayOf(p, policy, w.Place, w.Pan, heard)
	w.Drift = driftOf(p, w.Place, w.Pan, w.Delay)
	w.Level = levelOf(p, w.Place)
	w.Params = paramsOf(p)
	w.Fit = fitOf(p, w.Pan, w.Delay, heard)
	w.Notes = slices.Concat(
		w.Pan.notes(), facingNotes(p, w.Pan), w.Delay.notes(p.Mixer.Delay), w.Drift.notes(),
		w.Level.notes(p.Mixer.Level.Min, p.Mixer.MostDB(w.Channel)), paramNotes(w.Params),
	)
	return w
}

func micOf(p *micPart) OpenMic {
	m := OpenMic{Line: p.track.Line, Channel: p.line.Channel, Kind: cue.Fixed, Name: p.open.Name, Role: p.open.Role.Name}
	if p.worn != nil {
		m.Kind, m.Section, m.Pack = cue.Worn, p.worn.Section, p.worn.Pack
	}
	return m
}

// policyOf is the way that a channel's delay is chosen: the cue's, the player's, the role's or the show's.
func policyOf(p *micPart) *stands.Policy {
	player := ""
	if p.line.Fixed == nil {
		player = p.line.Holder(p.cue.At).Policy
	}
	name := cmp.Or(p.cue.Cue.Policy, player, p.open.Role.Policy, p.Score.Policy.V)
	return cmp.Or(stands.PolicyByName(name), p.DefaultPolicy())
}

// fitOf is how the delay that is sent serves the stand over the piece.
func fitOf(p *micPart, pan Pan, delay Delay, heard *stands.Heard) *stands.Fit {
	if p.Listeners.Len() == 0 {
		return nil
	}
	q := solverInput{Gains: pan.Gains, Path: p.path, DelayMS: delay.MS}
	return p.memo.fits.get(q.key(), func() *stands.Fit {
		f, ok := p.delay.Fit(heard, q.Path, q.DelayMS/1000, p.aim.WindowS)
		if !ok {
			return nil
		}
		return &f
	})
}

// CarryOn lets a line whose mic changes hands inside a cue go on with the old holder's numbers until the next
// cue: who is open stays open, and no waypoint of somebody else's may mute them.
func KeepOpenAfterHandover(spans []CueSpan, pieces []CuePiece, works [][]*Derivation) {
	for i, pc := range pieces {
		for _, t := range spans[pc.Cue].Tracks {
			if pc.Lo < len(t.At) {
				continue
			}
			for _, w := range works[i-1] { // the piece before is of the same cue: a track has its first sample
				if w.Line == t.Line {
					works[i] = append(works[i], w)
				}
			}
		}
	}
}

// Weigh tells how much a working needs a look, in ms of delay; 0.1 of pan counts as 5 ms, as does 5 degrees.
func (w *Derivation) UrgencyMS() float64 {
	v := max(w.Drift.MS, 50*w.Drift.Pan, w.Drift.AngleDeg)
	v = max(v, w.Delay.BelowMS)
	if w.Delay.Over || w.Level.Cut || !w.Delay.Arrival.OK {
		v += 1000
	}
	return v
}

// Finite reports whether the numbers that are sent are numbers.
func (w *Derivation) Finite() bool {
	return !math.IsNaN(w.Pan.Value) && !math.IsNaN(w.Delay.MS) && !math.IsNaN(w.Level.DB)
}
