package seat

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"backfield/cue/work"
	"backfield/layout"
	"backfield/layout/level"
	"backfield/layout/level/advice"
	"backfield/layout/sound"
	"backfield/layout/stands"
)

// hasPlayer reports whether somebody's own sound is heard beside the stacks.
func (x *asked) hasPlayer() bool { return x.fixed == nil || x.fixed.HasPlayer() }

// laterMS is how much longer than a worn mic's this mic's sound takes to the stacks.
func (x *asked) laterMS() float64 { return 1000 * work.LaterS(x.r.Rig, &x.r.Lines.List[x.w.Line]) }

// arrive fills in the arrivals.
func (x *asked) arrive(h *Heard) {
	system := x.setup.System
	loudest := 0.0
	for k, g := range x.gains {
		loudest = max(loudest, sound.LevelAt(g, system.Stacks[k].At.Distance(x.seat.At)))
	}
	ownDB, stacksDB := x.levels(h)
	add := func(from, kind string, at layout.Point, leaveMS, db float64) {
		d := at.Distance(x.seat.At)
		a := HeardSound{From: from, Kind: kind, LeaveMS: leaveMS, TimeMS: leaveMS + 1000*d/system.SpeedMPS, LevelDB: db,
			DistanceM: d, At: [3]float64{at.X, at.Y, at.Z}}
		a.AzimuthDeg, a.ElevationDeg = direction(x.seat.At, at)
		h.Arrivals = append(h.Arrivals, a)
	}
	if x.hasPlayer() {
		add(x.w.Name, PlayerKind, x.place, 0, ownDB)
	}
	for k, g := range x.gains {
		if math.IsInf(stacksDB[k], -1) {
			continue
		}
		stack := system.Stacks[k]
		add(stack.Name, StackKind, stack.At, 1000*(system.LatencyS+stack.DelayS)+x.laterMS()+x.delayMS, stacksDB[k])
		d := stack.At.Distance(x.seat.At)
		h.Arrivals[len(h.Arrivals)-1].Counts = sound.Significant(sound.LevelAt(g, d), loudest)
	}
	most := math.Inf(-1)
	for i := range h.Arrivals {
		most = max(most, h.Arrivals[i].LevelDB)
	}
	for i := range h.Arrivals {
		a := &h.Arrivals[i]
		if h.Levels == Measured {
			dba := a.LevelDB
			a.LevelDBA = &dba
		}
		a.LevelDB -= most
	}
	slices.SortStableFunc(h.Arrivals, func(a, b HeardSound) int { return cmp.Compare(a.TimeMS, b.TimeMS) })
}

// direction is where a place is from a seat: in plan, 0 straight to the field, and above the horizontal, in degrees.
func direction(seat, at layout.Point) (azimuthDeg, elevationDeg float64) {
	const deg = 180 / math.Pi
	plan := math.Hypot(at.X-seat.X, at.Y-seat.Y)
	if plan > 0 {
		azimuthDeg = at.Azimuth(seat) * deg
	}
	return azimuthDeg, math.Atan2(at.Z-seat.Z, plan) * deg
}

// levels are how loud the player and each stack are at the seat, in dBA where they can be computed. A stack that does
// not carry the mic has -Inf.
func (x *asked) levels(h *Heard) (ownDB float64, stacksDB []float64) {
	stacksDB = make([]float64, len(x.gains))
	if p, m := x.playing(); m != nil {
		who := &p.Performers[m.Wearer]
		h.Rests, who.Rests = who.Rests, false
		take := advice.SpreadOf(x.loud.MeasuredOf(x.w.Name))
		h.Levels, h.GiveOrTakeDB = Estimated, take.OverDB
		if x.loud.Measured.Calibrated() {
			h.Levels, h.LevelTakeDB = Measured, take.NearDB
		}
		for k := range stacksDB {
			stacksDB[k] = loudness(x.loud.Stadium.WornTerms(p, m, k, x.seat.At))
		}
		return x.loud.Stadium.OwnTerms(who, x.seat.At).LevelDB.ADB(), stacksDB
	}
	h.Levels = Assumed
	most := math.Inf(-1)
	for k, g := range x.gains {
		stacksDB[k] = 10 * math.Log10(sound.LevelAt(g, x.setup.System.Stacks[k].At.Distance(x.seat.At)))
		most = max(most, stacksDB[k])
	}
	if math.IsInf(most, -1) {
		most = 0
	}
	return most, stacksDB
}

func loudness(t level.StackTerms, ok bool) float64 {
	if !ok {
		return math.Inf(-1)
	}
	return t.LevelDB.ADB()
}

// judge fills in if the stacks are in time at the seat, and how many seats are.
func (x *asked) judge(h *Heard) {
	switch {
	case !x.hasPlayer():
		h.State, h.Verdict = NoPlayer, "A line: no player to be in time with"
		h.Why = fmt.Sprintf("%s comes in on a line, so only the stacks are heard.", x.w.Name)
		return
	case !slices.ContainsFunc(h.Arrivals, func(a HeardSound) bool { return a.Kind == StackKind }):
		h.State, h.Verdict = Unheard, "No stack: you hear only the player"
		h.Why = fmt.Sprintf("No stack carries %s here.", x.w.Name)
		return
	}
	window := x.setup.Window()
	gap, echoes := x.gap()
	echo := ""
	for i := range h.Arrivals {
		a := &h.Arrivals[i]
		k := slices.IndexFunc(x.setup.System.Stacks, func(k sound.Loudspeaker) bool { return k.Name == a.From })
		e := slices.IndexFunc(echoes, func(e stands.EchoSound) bool { return e.Stack == k })
		if a.Kind == StackKind && e >= 0 {
			a.Echo, a.EchoUnderDB, echo = true, &echoes[e].UnderDB, a.From
		}
	}
	h.GapMS = &gap
	first := x.setup.System.Stacks[x.setup.System.First(x.seat.At, x.gains).Stack].Name
	x.say(h, gap, window, first, echo)
	all, tally := x.setup.Listeners.SeatNeeds(), stands.GapTally{}
	all.LaterMS = x.laterMS()
	all.Hear(x.gains, x.place)
	tally.Reset(window)
	tally.Add(all, 1, x.delayMS)
	if fit, ok := tally.Fit(); ok {
		h.InTime = &fit.Inside
	}
}

// gap is how long after the player the stacks arrive at the seat, and which of them are echoes there.
func (x *asked) gap() (ms float64, echoes []stands.EchoSound) {
	needs := stands.New([]stands.Seat{{At: x.seat.At, Weight: 1}}, x.r.Rig.Reference, x.setup.System, 0).SeatNeeds()
	needs.LaterMS = x.laterMS()
	needs.Hear(x.gains, x.place)
	echoes = needs.EchoesAt(x.delayMS, 0)
	if x.seat.Box { // its own rule, as in the show's figures
		needMS, _, _ := x.setup.Listeners.BoxNeedMS(x.gains, x.place)
		return x.delayMS - needMS + x.laterMS(), echoes
	}
	return x.delayMS - needs.MS[0], echoes
}

// stateOf is what a gap means.
func stateOf(gapMS float64, w stands.Window, echo bool) State {
	const tinyMS = 1e-9
	switch {
	case gapMS < w.LeastMS-tinyMS:
		return Early
	case gapMS > w.MostMS+tinyMS:
		return Late
	case echo:
		return Echo
	}
	return InTime
}

// say words the verdict.
func (x *asked) say(h *Heard, gapMS float64, w stands.Window, first, echo string) {
	name := x.w.Name
	h.State = stateOf(gapMS, w, echo != "")
	switch {
	case h.State == Early:
		h.Verdict = fmt.Sprintf("Early by %s: you hear the stack, not the player", ms(-gapMS))
		h.Why = fmt.Sprintf("%q reaches you first, so the ear goes there, away from where %s is.", first, name)
	case h.State == Late && echo != "":
		h.Verdict = fmt.Sprintf("Late by %s: you hear an echo", ms(gapMS-w.MostMS))
		h.Why = fmt.Sprintf("%q comes so long after the first sound that the ear takes it as a second one.", echo)
	case h.State == Late:
		h.Verdict = fmt.Sprintf("Late by %s: close to an echo", ms(gapMS-w.MostMS))
		h.Why = fmt.Sprintf("%q comes %s after %s; up to %s the ear takes both as one sound.", first, ms(gapMS),
			name, ms(w.MostMS))
	case h.State == Echo:
		h.Verdict = fmt.Sprintf("In time, but %q is an echo", echo)
		h.Why = fmt.Sprintf("%q follows %s by %s; %[4]q comes more than 50 ms after the first sound.", first, name,
			ms(gapMS), echo)
	case h.overDB() > advice.StackLeadsDB:
		h.Verdict = fmt.Sprintf("In time, but the stacks lead: %.0f dB over the player", h.overDB())
		h.Why = fmt.Sprintf("%q comes %s after %s, but over %d dB louder it draws the ear all the same.", first,
			ms(gapMS), name, advice.StackLeadsDB)
	default:
		h.Verdict = fmt.Sprintf("In time: the %s first, then the stacks", x.noun())
		h.Why = fmt.Sprintf("%s reaches you first, and %q comes %s later. ", name, first, ms(gapMS))
		if h.Levels == Measured {
			h.Why += fmt.Sprintf("As measured, the stacks are at most %d dB over the player, so the sound stays "+
				"with the player.", advice.StackLeadsDB)
		} else {
			h.Why += fmt.Sprintf("If the stacks are over %d dB louder, they draw the ear all the same: that is not "+
				"known until noise and brass are measured.", advice.StackLeadsDB)
		}
	}
}

// overDB is how far the stacks together are over the player at the seat; 0 until noise and brass were measured.
func (h *Heard) overDB() float64 {
	own, stacks := 0.0, 0.0
	for _, a := range h.Arrivals {
		if e := level.Energy(a.LevelDB); a.Kind == PlayerKind {
			own = e
		} else {
			stacks += e
		}
	}
	if h.Levels != Measured || own == 0 || stacks == 0 {
		return 0
	}
	return level.Decibels(stacks / own)
}

// ms is a time in words, to the millisecond where that says enough.
func ms(v float64) string {
	if math.Abs(v) < 0.95 {
		return fmt.Sprintf("%.1f ms", v)
	}
	return fmt.Sprintf("%.0f ms", v)
}

// noun is what the player plays, or "player".
func (x *asked) noun() string {
	if p, m := x.playing(); m != nil {
		return p.Performers[m.Wearer].Instrument.Name
	}
	return "player"
}
