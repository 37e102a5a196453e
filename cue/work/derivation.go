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
	"backfield/layout/rig"
	"backfield/layout/stands"
)

// Derivation is how one channel's numbers in one piece of a cue were computed, part by part.
type Derivation struct {
	MicUse
	From, To clock.Moment // the piece that the numbers hold for

	Place  MicPlace
	Pan    Pan
	Delay  Delay
	Drift  Drift
	Level  LevelSum
	Params []ChosenParam // the mixer's own, in its order
	Fit    *stands.Fit   // nil without stands, or if no seat hears the mic
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

// micPart is one open line in one piece, with what its numbers are computed from.
type micPart struct {
	*CompileSetup
	*scratch
	cue   *timeline.TimedCue
	line  *timeline.Line
	worn  *timeline.LineWear // who has the mic at the piece's first moment; nil for a fixed mic
	open  timeline.Opening
	track *Track
	lo    int // the piece's first sample
	hi    int // after its last sample that the track has

	samples []clock.Moment // of the whole piece
	path    []layout.Point
}

// Compute makes the derivation of every open line in every piece, spread over the cores. Unless it is nil, progress is
// called from any goroutine with how much is done, 0 to 1.
func Compute(
	s *CompileSetup, lines *timeline.Lines, cues []timeline.TimedCue, spans []CueSpan, pieces []CuePiece,
	progress func(part float64),
) [][]*Derivation {
	type job struct{ piece, track int }
	var jobs []job
	for i, pc := range pieces {
		for t, track := range spans[pc.Cue].Tracks {
			if pc.Lo < len(track.At) { // else the mic has gone to another player by then
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
	all := make([][]*Derivation, len(pieces))
	for n, d := range done {
		all[jobs[n].piece] = append(all[jobs[n].piece], d)
	}
	return all
}

func newPart(
	s *CompileSetup, h *scratch, lines *timeline.Lines, c *timeline.TimedCue, x *CueSpan, t *Track, pc CuePiece,
) *micPart {
	p := &micPart{
		CompileSetup: s, scratch: h, cue: c, line: &lines.List[t.Line], open: c.Open[t.Line], track: t,
		lo: pc.Lo, hi: min(pc.Hi+1, len(t.At)), samples: x.Samples[pc.Lo : pc.Hi+1],
	}
	p.path = t.At[p.lo:p.hi]
	if p.line.Fixed == nil {
		p.worn = p.line.Holder(p.samples[0])
	}
	return p
}

// derive makes one derivation, part by part.
func derive(p *micPart) *Derivation {
	w := &Derivation{MicUse: micOf(p), From: p.samples[0], To: p.samples[len(p.samples)-1]}
	policy := policyOf(p)
	var heard *stands.Heard
	w.Place = placeOf(p)
	w.Pan, heard = panOf(p, policy, w.Place)
	heard = heard.Later(p.laterS())
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

func micOf(p *micPart) MicUse {
	m := MicUse{Line: p.track.Line, Channel: p.line.Channel, Kind: cue.Fixed, Name: p.open.Name, Role: p.open.Role.Name}
	if p.worn != nil {
		m.Kind, m.Section, m.Pack = cue.Worn, p.worn.Section, p.worn.Pack
	}
	return m
}

// policyOf is the delay policy of a channel: the cue's, the player's, the role's or the show's, whichever comes first.
func policyOf(p *micPart) *stands.Policy {
	player := ""
	if p.line.Fixed == nil {
		player = p.line.Holder(p.cue.At).Policy
	}
	name := cmp.Or(p.cue.Cue.Policy, player, p.open.Role.Policy, p.Score.Policy.V)
	return cmp.Or(stands.PolicyByName(name), p.DefaultPolicy())
}

// laterS is how much longer than a worn mic's the sound of a fixed one takes to the loudspeakers.
func (p *micPart) laterS() float64 { return LaterS(p.Rig, p.line) }

// LaterS is how much longer than a worn mic's the sound of a line takes to the loudspeakers, in seconds: below 0 for a
// fixed mic whose cable is faster.
func LaterS(r *rig.Rig, l *timeline.Line) float64 {
	if l.Fixed == nil {
		return 0
	}
	return l.Fixed.LatencyS - r.LatencyS
}

// fitOf is how the delay that is sent works for the seats over the piece.
func fitOf(p *micPart, pan Pan, delay Delay, heard *stands.Heard) *stands.Fit {
	if p.Listeners.Len() == 0 || p.line.Fixed != nil && !p.line.Fixed.HasPlayer() {
		return nil // of a line there is no player to be in time with
	}
	q := solverInput{Gains: pan.Gains, Path: p.path, DelayMS: delay.MS, LaterS: p.laterS()}
	return p.memo.fits.get(q.key(), func() *stands.Fit {
		f, ok := p.delay.Fit(heard, q.Path, q.DelayMS/1000, p.aim.WindowS)
		if !ok {
			return nil
		}
		return &f
	})
}

// KeepOpenAfterHandover keeps a line whose mic goes to another player within a cue at the first player's numbers until
// the next cue. Otherwise a waypoint that another player needs would mute it.
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

// UrgencyMS is how badly a channel needs a look, in ms of delay; 0.1 of pan and 5 degrees count as 5 ms each.
func (w *Derivation) UrgencyMS() float64 {
	v := max(w.Drift.MS, 50*w.Drift.Pan, w.Drift.AngleDeg)
	v = max(v, w.Delay.BelowMS)
	if w.Delay.Over || w.Level.Cut || !w.Delay.Arrival.OK {
		v += 1000
	}
	return v
}

// Finite reports whether the values to send are numbers.
func (w *Derivation) Finite() bool {
	return !math.IsNaN(w.Pan.Value) && !math.IsNaN(w.Delay.MS) && !math.IsNaN(w.Level.DB)
}
