package compile

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"backfield/cue"
	"backfield/cue/clock"
	"backfield/layout"
	"backfield/layout/drill"
	"backfield/layout/sound"
	"backfield/layout/source"
	"backfield/layout/stand"
	"backfield/layout/unit"
)

// Working is the whole derivation of one channel's numbers in one cue: what explain shows and what the
// snapshot holds. Places are in metres, delays in ms, levels in dB.
type Working struct {
	Channel  int
	line     int
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
	PathMinS   float64 // the shortest and longest time to the reference seat within the piece, in seconds
	PathMaxS   float64

	Tangent sound.Tangent // at Start
	Zones   sound.Zones   // in zones
	Sends   []cue.Send
	WantMin float64 // the range of the wanted pan within the piece, after the width limit; in zones of the azimuth
	WantMax float64
	PanHand bool // set by hand in the rig
	Joint   bool // moved off the true direction to let more seats into the window
	PanRaw  float64
	Pan     float64

	Policy        stand.Policy
	Gains         []float64
	Arrival       sound.Arrival
	PlayerMS      float64 // travel time of the player's own sound to the reference seat, at Start
	FirstMS       float64 // first loudspeaker sound there without a delay
	LeadMS        float64
	RawMinMS      float64
	RawMaxMS      float64
	RawMS         float64
	BelowMS       float64 // how far below 0 the delay would have to be to serve him; 0 where it need not
	DelayHand     bool
	DelayMS       float64
	DriftMS       float64 // how far off the delay is at the worst moment of the piece
	DriftPan      float64
	DriftAngleDeg float64
	Fit           *stand.Fit
	RoleDB        float64
	TrimDB        float64
	NudgeDB       float64
	MakeUpDB      float64
	LevelRawDB    float64
	LevelDB       float64
	Params        []Given // the desk's own, in its order
	Notes         []string
	overDelay     bool
	levelIsCut    bool
	tooFar        bool
	drifts        string // in words, where it is too far
	unknownDots   bool
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

// work computes one open line in one piece.
func (r *Result) work(e *engine, h *hand, spans []span, pc piece, t *track) *Working {
	s, m := &spans[pc.cue], &r.Cues[pc.cue]
	l, o := &r.lines[t.line], m.open[t.line]
	w := &Working{Channel: l.channel, Name: o.name, Kind: cue.Worn, Role: o.role.Name, LeadMS: r.Score.LeadMS, From: s.samples[pc.lo], To: s.samples[pc.hi]}
	w.Policy = r.policy(m, l, o)
	if l.fixed != nil {
		w.Kind, w.Dot, w.TrimDB = cue.Fixed, l.fixed.Words, l.fixed.TrimDB
	} else {
		worn := l.holder(w.From)
		w.TrimDB, w.Section, w.Pack = worn.TrimDB, worn.Section, worn.Pack
		r.dot(w, s.samples[pc.lo:pc.hi+1])
	}
	hi := min(pc.hi+1, len(t.at))
	way := t.at[pc.lo:hi]
	w.Start, w.End = way[0], way[len(way)-1]
	w.ReferenceM = w.Start.Distance(r.Rig.Reference)
	w.PathMinS, w.PathMaxS = extent(t.pathS[pc.lo:hi])
	w.WantMin, w.WantMax = extent(t.want[pc.lo:hi])
	heard := r.aim(w, l, e, h, way)
	r.ambiguous(w, e, way)
	r.delay(w, l, e, h, heard, way)
	r.drift(w)
	r.level(w, o)
	r.params(w, m, l, o)
	if e.listeners.Len() > 0 {
		answer := e.memo.answers.get(question("fit", w.Gains, way, w.DelayMS), func() (s solved) {
			s.fit, s.ok = h.delay.Fit(heard, way, w.DelayMS/1000, e.aim.WindowS)
			return s
		})
		if answer.ok {
			w.Fit = &answer.fit
		}
	}
	return w
}

// policy is the way that a channel's delay is chosen: the cue's, the player's, the role's or the show's.
func (r *Result) policy(m *Moment, l *line, o opening) stand.Policy {
	player := ""
	if l.fixed == nil {
		player = l.holder(m.At).Policy
	}
	return stand.Policy(cmp.Or(m.Cue.Policy, player, o.role.Policy, r.Score.Policy.V, r.standing()))
}

// standing is the policy of a show that names none.
func (r *Result) standing() string {
	if r.seats > 0 {
		return string(stand.MostSeats)
	}
	return string(stand.Reference)
}

func (r *Result) feed() string {
	if r.Rig.Zones {
		return "zones"
	}
	return "stereo"
}

func (r *Result) panBy() string {
	if r.Score.StandFit {
		return "stand-fit"
	}
	return "tangent"
}

// dot words the place at the piece's first moment, and notes whether a dot is missing under the way.
func (r *Result) dot(w *Working, samples []clock.Moment) {
	p, ok := r.Drill.Player(w.Name)
	if !ok {
		return
	}
	w.Leg = r.Drill.Leg(w.From.Movement, w.From.Elapsed)
	for _, m := range samples {
		leg := r.Drill.Leg(m.Movement, m.Elapsed)
		if !p.Dots[leg.From].Known || !p.Dots[leg.To].Known {
			w.unknownDots = !r.Drill.PartialDots && !r.Drill.PartialSets
		}
	}
	if w.Leg.From == w.Leg.To || w.Leg.Part == 1 {
		w.Dot = p.Dots[w.Leg.To].Words()
	}
}

// aim chooses the pan, or in zones the sends: that of the middle of the range wanted along the way. It
// returns what is heard through it.
func (r *Result) aim(w *Working, l *line, e *engine, h *hand, way []layout.Point) *stand.Heard {
	middle := (w.WantMin + w.WantMax) / 2
	if r.Rig.Zones {
		w.Zones = e.system.ZoneSends(middle, r.Rig.Reference, r.Score.ZonesMost)
		w.Sends = r.sends(w.Zones)
		w.Gains = e.system.Through(w.Zones.Send)
		if w.Zones.Note != "" {
			w.note(w.Zones.Note)
		}
		return e.listeners.Through(w.Gains)
	}
	w.Tangent = e.system.TangentPan(w.Start, r.Rig.Reference)
	w.PanRaw = middle
	switch {
	case l.fixed != nil && l.fixed.Pan != nil:
		w.PanRaw, w.PanHand = *l.fixed.Pan, true
		w.WantMin, w.WantMax = w.PanRaw, w.PanRaw
	case w.Policy == stand.Joint:
		r.joint(w, e, h, way)
	}
	w.Pan = r.panOnDesk(w.PanRaw)
	w.Gains = e.system.Gains(w.Pan)
	return e.listeners.AtPan(int(math.Round(w.Pan * float64(e.steps))))
}

// ambiguous notes places that no image can be made for: behind the seat that it is made for, and between that
// seat and the stacks, where the loudspeakers are behind the player.
func (r *Result) ambiguous(w *Working, e *engine, way []layout.Point) {
	if w.Kind != cue.Worn || w.PanHand {
		return
	}
	behind, between := false, false
	for _, p := range way {
		switch e.system.Facing(p, r.Rig.Reference) {
		case sound.Behind:
			behind = true
		case sound.Between:
			between = true
		}
	}
	if behind {
		w.note("stands behind the reference seat: no loudspeaker can sound from there; the image is held to the outermost stack")
	}
	if between {
		w.note("stands between the stacks and the reference seat: the image lies in the direction, behind the player")
	}
}

// joint replaces the pan by one nearby that lets more seats into the window, judged at the middle of the way.
func (r *Result) joint(w *Working, e *engine, h *hand, way []layout.Point) {
	p := way[len(way)/2]
	t := e.system.TangentPan(p, r.Rig.Reference)
	if t.Note != "" {
		return
	}
	from := int(math.Round(r.panOnDesk(w.PanRaw) * float64(e.steps)))
	allowed := func(k int) bool {
		pan := float64(k) / float64(e.steps)
		return math.Abs(pan) <= r.Score.PanWidth+1e-9 && pan >= r.Desk.Pan.Min-1e-9 && pan <= r.Desk.Pan.Max+1e-9 &&
			math.Abs(e.system.Image(t, pan)-t.Phi) <= r.Score.JointDeg*math.Pi/180+1e-12
	}
	if k, ok := h.delay.Joint(p, from, allowed, e.aim); ok {
		w.PanRaw, w.Joint = float64(k)/float64(e.steps), k != from
	}
}

// sends are a player's levels on the zones' buses, rounded to the desk's step; off where a zone does not
// carry him.
func (r *Result) sends(z sound.Zones) []cue.Send {
	var list []cue.Send
	for i, k := range r.Rig.Spoken() {
		s := cue.Send{Zone: k.Zone, LevelDB: cue.Silent}
		if z.Send[i] > 0 {
			s.LevelDB = cue.Level(unit.Round(max(min(20*math.Log10(z.Send[i]), r.Desk.Send.Max), r.Desk.Send.Min), r.Desk.Send.Step))
		}
		list = append(list, s)
	}
	slices.SortFunc(list, func(a, b cue.Send) int { return cmp.Compare(a.Zone, b.Zone) })
	return list
}

// delay is the middle of the range of the delays that the policy wants along the way (never-early: the
// longest), held to 0 and to the desk's most, and finished on the desk's grid.
func (r *Result) delay(w *Working, l *line, e *engine, h *hand, heard *stand.Heard, way []layout.Point) {
	w.Arrival = heard.Reference
	w.PlayerMS = 1000 * w.ReferenceM / e.system.SpeedMPS
	if w.Arrival.OK {
		w.FirstMS = 1000 * w.Arrival.TimeS
	}
	answer := e.memo.answers.get(question(string(w.Policy), w.Gains, way), func() solved {
		s := solved{lo: math.Inf(1), hi: math.Inf(-1)}
		for i, p := range way {
			if i > 0 && p == way[i-1] {
				continue
			}
			if v, ok := h.delay.Raw(heard, p, w.Policy, e.aim); ok {
				s.lo, s.hi, s.ok = min(s.lo, 1000*v), max(s.hi, 1000*v), true
			}
		}
		return s
	})
	if answer.ok {
		w.RawMinMS, w.RawMaxMS = answer.lo, answer.hi
	} else {
		w.note("no stack carries this mic to the stand: no delay can be computed")
	}
	if w.RawMS = (w.RawMinMS + w.RawMaxMS) / 2; w.Policy == stand.NeverEarly {
		w.RawMS = w.RawMaxMS
	}
	if l.fixed != nil && l.fixed.DelayMS != nil {
		w.RawMS, w.DelayHand = *l.fixed.DelayMS, true
	}
	if w.Kind == cue.Worn && !w.DelayHand && w.Arrival.OK {
		w.BelowMS = -min(w.RawMS, 0)
		if w.Policy == stand.MostSeats || w.Policy == stand.Joint { // which never ask for less than 0
			last := 1000*(w.PathMinS-w.Arrival.TimeS) + r.Score.WindowMS
			w.BelowMS = -min(last, 0)
		}
	}
	if w.BelowMS > 0 {
		w.note(fmt.Sprintf("the delay would have to be %.1f ms: nearer to the audience than the loudspeakers can wait; 0 is sent", -w.BelowMS))
	}
	least, most := max(r.Desk.Delay.Min, 0), max(r.Desk.Delay.Max, 0)
	if w.RawMS > most {
		w.note(fmt.Sprintf("the delay of %.1f ms is over the desk's most, %g ms", w.RawMS, most))
		w.overDelay = true
	}
	v := max(min(w.RawMS, most), least)
	if w.DelayMS = unit.Round(v, r.Desk.Delay.Step); w.Policy == stand.NeverEarly && !w.DelayHand {
		w.DelayMS = unit.RoundUp(v, r.Desk.Delay.Step)
	}
	w.DelayMS = min(w.DelayMS, most)
}

// drift notes a walk that one snapshot cannot follow.
func (r *Result) drift(w *Working) {
	w.DriftMS = 1000 * (w.PathMaxS - w.PathMinS) / 2
	if w.DelayHand {
		w.DriftMS = 0
	}
	swing, what := (w.WantMax-w.WantMin)/2, ""
	if r.Rig.Zones {
		w.DriftAngleDeg = swing * 180 / math.Pi
		what = fmt.Sprintf("the direction by up to %.1f degrees", w.DriftAngleDeg)
	} else {
		w.DriftPan = swing
		what = fmt.Sprintf("the pan by up to %.3f", w.DriftPan)
	}
	const slack = 1e-6
	if f := r.Score.Follow; w.DriftMS > f.DriftMS+slack || w.DriftPan > f.Pan+slack || w.DriftAngleDeg > f.AngleDeg+slack {
		w.tooFar = true
		w.drifts = fmt.Sprintf("walks while open: the delay is off by up to %.1f ms and %s before the next snapshot", w.DriftMS, what)
		w.note(w.drifts)
	}
}

// level adds up role, trim, nudge and make-up, and finishes on the desk's grid.
func (r *Result) level(w *Working, o opening) {
	w.RoleDB, w.NudgeDB = o.role.LevelDB, o.nudgeDB
	if m := r.Score.MakeUp; m.MaxDB > 0 && w.Kind == cue.Worn {
		w.MakeUpDB = max(0, min(m.MaxDB, sound.DistanceDB(w.ReferenceM, m.FromM)))
	}
	w.LevelRawDB = w.RoleDB + w.TrimDB + w.NudgeDB + w.MakeUpDB
	least, most := r.Desk.Level.Min, r.mostDB(w.Channel)
	v := max(min(w.LevelRawDB, most), least)
	if v != w.LevelRawDB {
		w.note(fmt.Sprintf("the level of %.1f dB is outside of the desk's range, %g to %g dB", w.LevelRawDB, least, most))
		w.levelIsCut = true
	}
	w.LevelDB = unit.Round(v, r.Desk.Level.Step)
}

// mostDB is the highest level that the desk may be sent on a channel.
func (r *Result) mostDB(channel int) float64 {
	if r.Desk.CeilingDB == nil {
		return r.Desk.Level.Max
	}
	return min(r.Desk.Level.Max, r.Desk.CeilingDB(channel))
}

func (w *Working) note(text string) { w.Notes = append(w.Notes, text) }

// weigh tells how much a working needs a look, in ms of delay; 0.1 of pan counts as 5 ms, as does 5 degrees.
func (w *Working) weigh() float64 {
	v := max(w.DriftMS, 50*w.DriftPan, w.DriftAngleDeg)
	v = max(v, w.BelowMS)
	if w.overDelay || w.levelIsCut || !w.Arrival.OK {
		v += 1000
	}
	return v
}

// report turns what the desk or the drill cannot do into problems at the place where the score opened it.
func (r *Result) report(w *Working, id string, m *Moment, o opening, p *source.Problems) {
	at := o.at
	for _, n := range w.Notes {
		r.attention = append(r.attention, Attention{id, w.Name, n, w.weigh()})
	}
	if w.unknownDots { // once a cue, whatever its follow-ons
		p.Error("no-dot", at, fmt.Sprintf("%s has no dot where cue %q opens him", w.Name, m.Cue.ID.V), "add the dots of every set that he is open in")
	}
	if w.levelIsCut && !o.bad {
		r.warn(m, "level-range", at, fmt.Sprintf("cue %q, %s: a level of %.1f dB is wanted and the desk holds %g to %g", m.Cue.ID.V, w.Name, w.LevelRawDB, r.Desk.Level.Min, r.mostDB(w.Channel)), "mend the role, the trim or the nudge, or the ceiling in desk.toml", p)
	}
	if math.IsNaN(w.Pan) || math.IsNaN(w.DelayMS) || math.IsNaN(w.LevelDB) {
		p.Error("not-finite", at, fmt.Sprintf("cue %q, %s: a number came out as none", id, w.Name), "this is a fault of backfield; please report it with the show")
	}
}
