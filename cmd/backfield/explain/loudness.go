package explain

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"backfield/cue"
	"backfield/cue/balance"
	"backfield/layout/level"
	"backfield/layout/level/advice"
	"backfield/layout/source"
)

// ofLoudness writes how loud one mic's player is at the press box, what the stacks add there, and what comes back to
// the mic, term by term.
type ofLoudness struct {
	*explainer
	l        *balance.Loudness
	p        *level.Playing // at the cue's moment
	measured advice.Measured
	spread   advice.Spread
}

// termsBy are the terms of a channel through a stack; ok is false where it carries nothing.
type termsBy = func(stack int) (t level.StackTerms, ok bool)

// measureFirst stands for results that mean nothing before they are calibrated.
const measureFirst = "measure first: noise and brass"

// loudness writes OWN, STACKS and LOOP at the cue's moment.
func (e *explainer) loudness() {
	var problems source.Problems
	l := e.s.Loudness(&problems)
	if l == nil {
		e.say("OWN, STACKS, LOOP")
		for _, p := range problems.All() {
			if p.Severity == source.Error {
				e.say("  not computed: %s", p.What)
			}
		}
		e.say("")
		return
	}
	i := slices.IndexFunc(e.s.Show.Cues, func(c cue.Snapshot) bool { return c.ID == e.snapshot.ID })
	x := ofLoudness{explainer: e, l: l, p: l.Moment(i, e.s.Spans[i].Samples[0]), measured: l.MeasuredOf(e.w.Name)}
	x.spread = advice.SpreadOf(x.measured)
	for k := range x.p.Worn {
		if m := &x.p.Worn[k]; m.Name == e.w.Name {
			x.worn(m)
			return
		}
	}
	for k := range x.p.Fixed {
		if m := &x.p.Fixed[k]; m.Name == e.w.Name {
			x.fixed(m)
			return
		}
	}
	why := "has no dot at that moment"
	if slices.Contains(l.Lines, e.w.Name) {
		why = "comes in on a line, so that no mic hears it"
	}
	e.say("OWN, STACKS, LOOP\n  not computed: %s %s\n", e.w.Name, why)
}

func (x *ofLoudness) worn(m *level.WornMic) {
	who := &x.p.Performers[m.Wearer]
	x.own(who)
	x.stacksHeader()
	if who.Rests {
		x.say("  rests in this cue: silent")
	} else {
		d, a := m.FromBellM, who.Instrument.BellM
		x.say("  at the mic  power + directivity - 20 lg sqrt(%.4g^2 + %.4g^2) - 10 lg(4 pi)", d, a)
	}
	forte := x.l.Stadium.NominalDB + m.MeterDB - x.l.Stadium.WornGainDB(who, m)
	x.heard(&m.Strip, "forte there", forte, func(stack int) (level.StackTerms, bool) {
		return x.l.Stadium.WornTerms(x.p, m, stack, x.l.Stadium.Box)
	})
	x.loop(&m.Strip, func(stack int) (level.StackTerms, bool) { return x.l.Stadium.WornLoopTerms(x.p, m, stack) })
}

func (x *ofLoudness) fixed(m *level.FixedMic) {
	x.stacksHeader()
	if math.IsInf(m.HighestDB, -1) {
		x.say("  nobody whom it hears plays in any cue, so it has no gain\n")
		return
	}
	x.say("  at the mic  own sound of the %d who play, as the mic takes it from their side", x.sounding())
	x.heard(&m.Strip, "the show's highest there", m.HighestDB, func(stack int) (level.StackTerms, bool) {
		return x.l.Stadium.FixedTerms(x.p, m, stack, x.l.Stadium.Box)
	})
	x.loop(&m.Strip, func(stack int) (level.StackTerms, bool) { return x.l.Stadium.FixedLoopTerms(m, stack) })
}

// sounding is how many play.
func (x *ofLoudness) sounding() (n int) {
	for k := range x.p.Performers {
		if !x.p.Performers[k].Rests {
			n++
		}
	}
	return n
}

// own writes the player's own sound at the press box.
func (x *ofLoudness) own(who *level.Performer) {
	s := x.l.Stadium
	x.title("OWN", "at the press box, by octave band, dB", x.spread.NearDB)
	if who.Rests {
		x.say("  rests in this cue: silent\n")
		return
	}
	t := s.OwnTerms(who, s.Box)
	x.say("  plays       %s %.4g, from forte %+.4g, band %.2f, player %.2f: %.2f dB", who.Instrument.Name,
		who.Instrument.PowerDB, who.DynamicsDB, s.BandDB, who.PlayerDB, t.PowerDB.SumDB())
	if !x.measured.Calibrated() {
		x.say("              band and player are 0 until noise and brass are measured")
	}
	x.say("  from here   %.2f m, %.1f degrees off the bell's axis", t.DistM, t.AngleDeg)
	x.header()
	x.row("power", t.PowerDB)
	x.row("directivity", t.IndexDB)
	x.row("bell", t.TowardDB)
	x.say("  distance    -20 lg %.2f - 10 lg(4 pi) = %.2f in every band", max(t.DistM, 0.5), t.SpreadDB)
	x.row("air", t.AirDB)
	x.result("own", t.LevelDB)
	x.say("")
}

func (x *ofLoudness) stacksHeader() {
	x.title("STACKS", "at the press box, by octave band, dB", x.spread.NearDB)
}

// heard writes what the stacks add at the press box. gainFrom is the level at the mic for which the preamp is set.
func (x *ofLoudness) heard(m *level.Strip, gainFrom string, fromDB float64, of termsBy) {
	s := x.l.Stadium
	first, any := level.StackTerms{}, false
	for k := range s.Stacks {
		if t, ok := of(k); ok && !any {
			first, any = t, true
		}
	}
	if !any {
		x.say("  no stack carries it\n")
		return
	}
	x.header()
	x.row("at the mic", first.MicDB)
	x.gain(m, gainFrom, fromDB, first)
	var sum level.Energies
	for k := range s.Stacks {
		t, ok := of(k)
		if !ok {
			continue
		}
		x.stack(&s.Stacks[k], t, "")
		x.row("pattern", t.TowardDB)
		x.row("air", t.AirDB)
		x.held("there", t.LevelDB)
		for b, v := range t.LevelDB {
			sum[b] += level.Energy(v)
		}
	}
	x.result("all stacks", sum.DB())
	x.say("")
}

// gain writes what the channel does to its mic, the same toward every stack.
func (x *ofLoudness) gain(m *level.Strip, from string, fromDB float64, t level.StackTerms) {
	s := x.l.Stadium
	assumed := ""
	if !x.measured.Noise {
		assumed = ", N assumed"
	}
	x.say("  gain        N %.2f + meter %.4g - %s %.2f = %.2f%s", s.NominalDB, m.MeterDB, from, fromDB, t.GainDB,
		assumed)
	x.say("  fader       %.4g", t.FaderDB)
	if m.LowCutHz > 0 {
		x.row(fmt.Sprintf("cut %g Hz", m.LowCutHz), t.CutDB)
	}
}

// stack writes the terms of a stack that are the same in all bands. more is what else is added.
func (x *ofLoudness) stack(k *level.AimedStack, t level.StackTerms, more string) {
	x.say("  %s: send %.2f, trim %.4g, %.2f m: -20 lg r = %.2f%s;\n"+
		"              off its aim %.1f degrees across, %.1f up", k.Name, t.SendDB, t.TrimDB, t.DistM, t.SpreadDB, more,
		t.AzDeg, t.ElDeg)
}

// loop writes what comes back to the mic through the stacks.
func (x *ofLoudness) loop(m *level.Strip, of termsBy) {
	s := x.l.Stadium
	x.title("LOOP", "back to the mic, by octave band, dB: it rings at 0", x.spread.LoopDB)
	x.header()
	var sum level.Energies
	any := false
	for k := range s.Stacks {
		t, ok := of(k)
		if !ok {
			continue
		}
		if !any {
			x.say("  gain        %.2f, fader %.4g%s", t.GainDB, t.FaderDB, term(t.RingDB, "ring"))
			if m.LowCutHz > 0 {
				x.row(fmt.Sprintf("cut %g Hz", m.LowCutHz), t.CutDB)
			}
			any = true
		}
		x.stack(&s.Stacks[k], t, term(t.PickupDB, "the mic"))
		x.row("pattern", t.TowardDB)
		x.held("back", t.LevelDB)
		for b, v := range t.LevelDB {
			sum[b] += level.Energy(v)
		}
	}
	loop := level.MicLoop{Loop: sum}
	switch db, band := loop.GreatestDB(); {
	case !any:
		x.say("  no stack carries it")
	case x.measured.Calibrated():
		x.row("all stacks", sum.DB())
		x.say("  greatest    %.2f dB at %d Hz, of this mic alone: a cue's margin is that of all", db,
			level.NominalHz[band])
	default:
		x.say("  all stacks  %s", measureFirst)
	}
	x.say("")
}

// term is a further term of a sum, or nothing where it is 0.
func term(db float64, what string) string {
	if math.Abs(db) < 0.005 {
		return ""
	}
	return fmt.Sprintf(", %s %.2f", what, db)
}

func (x *ofLoudness) header() {
	var b strings.Builder
	for _, f := range level.NominalHz {
		fmt.Fprintf(&b, "%8d", f)
	}
	x.say("  Hz         %s", b.String())
}

func (x *ofLoudness) row(name string, db level.Bands) {
	var b strings.Builder
	for _, v := range db {
		fmt.Fprintf(&b, "%8.2f", math.Round(100*v)/100+0) // no -0.00
	}
	x.say("  %-11s%s", name, b.String())
}

// held is a row that means something only once it is calibrated.
func (x *ofLoudness) held(name string, db level.Bands) {
	if x.measured.Calibrated() {
		x.row(name, db)
	}
}

// result is what the terms come to.
func (x *ofLoudness) result(name string, db level.Bands) {
	if !x.measured.Calibrated() {
		x.say("  %-11s %s", name, measureFirst)
		return
	}
	x.row(name, db)
	x.say("  together    %.2f dBA", db.ADB())
}

// title begins a part, with how far off its result may be.
func (x *ofLoudness) title(name, what string, spreadDB float64) {
	take := ""
	if x.measured.Calibrated() {
		take = fmt.Sprintf("; give or take %.0f dB", math.Ceil(spreadDB))
	}
	x.say("%s\n  %s%s", name, what, take)
}
