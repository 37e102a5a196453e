package balance

import (
	"math"
	"slices"

	"backfield/cue/clock"
	"backfield/cue/readings"
	"backfield/layout"
	"backfield/layout/level"
	"backfield/layout/rig"
	"backfield/layout/source"
	"backfield/layout/table"
)

// takeReadings applies what was read on site, each after those that it builds on: noise, brass, soloists. A reading that
// names nobody or says nothing is not used.
func (l *Loudness) takeReadings(p *source.Problems) {
	r := &l.x.Rig.Levels
	for _, x := range r.Unused {
		p.Add(x)
	}
	l.Stadium.BackgroundDB = r.BackgroundDBA
	if r.BackgroundDBA != nil {
		l.night.Background = &readings.Reading{Kind: "background", At: r.BackgroundAt, Read: *r.BackgroundDBA}
	}
	if n := r.Noise; n != nil {
		l.takeNoise(n, p)
	}
	if b := r.Brass; b != nil {
		l.takeBrass(b, p)
	}
	list := make([]readings.Reading, len(r.Solo))
	for i, s := range r.Solo {
		list[i] = readings.Reading{Name: s.Player.V, Kind: "solo", At: s.At, Read: s.DBA}
	}
	for i, once := range readings.Once(list, p) {
		l.takeSolo(&r.Solo[i], list[i], once, p)
	}
	if l.Measured.Calibrated() {
		return
	}
	// A reading alone says as much of the meter and the evening as of the band: it moves no figure.
	l.Stadium.NominalDB, l.Stadium.BandDB = level.DefaultNominalDB, 0
	for k := range l.players {
		l.players[k].aloneDB, l.players[k].soloed = 0, false
	}
}

// checkMeters warns of preamps that are far off.
func (l *Loudness) checkMeters(p *source.Problems) {
	for _, line := range l.x.Lines.List {
		if m := line.Fixed; m != nil && math.Abs(m.MeterDB) > 12 {
			p.Add(oddMeter(m.Meter.Span, m.Name, m.MeterDB))
		}
		for _, w := range line.Wears {
			if math.Abs(w.MeterDB) > 12 {
				p.Add(oddMeter(w.Span, w.Player, w.MeterDB))
			}
		}
	}
}

// checkGainCues checks that the cue for which the preamp of a fixed mic is set opens it.
func (l *Loudness) checkGainCues(p *source.Problems) {
	for n := range l.x.Lines.List {
		m := l.x.Lines.List[n].Fixed
		if m == nil || !m.GainCue.Set {
			continue
		}
		var open []string
		for i := range l.x.Cues {
			if slices.Contains(l.fixedLines(i), n) {
				open = append(open, l.x.Cues[i].Cue.ID.V)
			}
		}
		if len(open) > 0 && !slices.Contains(open, m.GainCue.V) {
			p.Add(unknownCue(m.GainCue, m.Name, open))
		}
	}
}

// clear takes the background off a reading; ok is false where the background is too loud to tell.
func (l *Loudness) clear(r *readings.Reading) (ok bool) {
	background := l.x.Rig.Levels.BackgroundDBA
	if background == nil {
		r.ClearDBA = r.Read
		return true
	}
	if r.ClearDBA, ok = level.OffBackground(r.Read, *background); !ok {
		l.night.TooSoft = append(l.night.TooSoft, *r)
	}
	return ok
}

// takeNoise reads the level at 1 m for a nominal input. The noise is panned hard to the stack's side; with zones its
// send is at 0 dB.
func (l *Loudness) takeNoise(n *rig.NoiseReading, p *source.Problems) {
	r := readings.Reading{Name: n.Stack.V, Kind: "noise", At: n.At, Read: n.DBA}
	ok := l.clear(&r)
	list := l.x.Rig.MainStacks()
	k := slices.IndexFunc(list, func(s rig.Stack) bool { return s.Name == n.Stack.V })
	if k < 0 && n.Stack.Set {
		p.Add(unknownStack(n.Stack, list, l.x.Rig.Stacks))
	}
	if k < 0 || !ok {
		return
	}
	sendDB := 0.0
	if !l.x.Rig.Zones {
		sendDB = 20 * math.Log10(max(list[k].Left, list[k].Right))
	}
	place := l.x.Rig.Reference
	if n.Place != nil {
		place = *n.Place
	}
	r.DB = l.Stadium.NominalFromNoise(r.ClearDBA, k, sendDB, place)
	l.night.Noise = &r
	l.Stadium.NominalDB, l.Measured.Noise = r.DB, true
}

// takeBrass reads how much louder everybody is than the table.
func (l *Loudness) takeBrass(b *rig.BrassReading, p *source.Problems) {
	r := readings.Reading{Name: b.Section.V, Kind: "brass", At: b.At, Read: b.DBA}
	ok := l.clear(&r)
	dynamicsDB, known := level.DynamicsDB(b.Dynamics.Or("f"))
	if !known {
		p.Add(readings.UnknownMark(b.Dynamics))
	}
	named := slices.Contains(l.x.Roster.Sections(), b.Section.V)
	if !named && b.Section.Set {
		p.Add(noneCalled("section of the roster", b.Section, l.x.Roster.Sections()))
	}
	set, there := l.set(b.Set, p)
	if !named || !there {
		return
	}
	var list []level.Performer
	for k := range l.players {
		if f, on := l.inSet(k, set); on && f.Section == b.Section.V {
			f.DynamicsDB = dynamicsDB
			list = append(list, f)
		}
	}
	if len(list) == 0 {
		p.Add(readings.NobodyThere(b.Section, b.Set.V))
	}
	if k := slices.IndexFunc(list, func(f level.Performer) bool { return !f.Instrument.Brass() }); k >= 0 {
		p.Add(readings.NotBrass(b.Section.Span, b.Section.V, list[k].Instrument.Name))
		return
	}
	if !ok || !known || len(list) == 0 {
		return
	}
	r.DB = l.Stadium.BandFromBrass(r.ClearDBA, list, l.x.Rig.Reference)
	l.night.Brass = &r
	l.Stadium.BandDB, l.Measured.Brass = r.DB, true
}

// takeSolo reads how much louder a player is than the table and the band. It is not used unless it is the only one.
func (l *Loudness) takeSolo(s *rig.SoloReading, r readings.Reading, once bool, p *source.Problems) {
	ok := l.clear(&r)
	k := slices.IndexFunc(l.players, func(v castPlayer) bool { return v.name == s.Player.V })
	if k < 0 && s.Player.Set {
		p.Add(noneCalled("player of the roster", s.Player, l.x.Roster.Names()))
	}
	set, there := l.set(s.Set, p)
	if k < 0 || !there {
		return
	}
	f, on := l.inSet(k, set)
	if !on {
		p.Add(readings.NobodyThere(s.Player, s.Set.V))
	}
	if !on || !ok || !once {
		return
	}
	r.DB = l.Stadium.PlayerFromSolo(r.ClearDBA, f, l.x.Rig.Reference)
	l.night.Solos = append(l.night.Solos, r)
	l.players[k].aloneDB, l.players[k].soloed = r.DB, true
}

// set is a set of the drill by its label; false where there is none.
func (l *Loudness) set(label table.Text, p *source.Problems) (i int, ok bool) {
	i, ok = l.x.Drill.Set(label.V)
	if !ok && label.Set {
		p.Add(readings.UnknownSet(label, l.x.Drill.Labels()))
	}
	return i, ok
}

// inSet is a player at the dot of a set, at forte, who points as the cue says that holds there, or else the set; false
// where there is none.
func (l *Loudness) inSet(k, set int) (f level.Performer, on bool) {
	v := &l.players[k]
	if v.marcher == nil || v.instrument == nil || !v.marcher.Dots[set].Known {
		return f, false
	}
	at, s := v.marcher.Dots[set].At, &l.x.Drill.Sets[set]
	f = level.Performer{Name: v.name, Section: v.section, Instrument: v.instrument, Facing: s.Facing.Facing,
		At: layout.Point{X: at.X, Y: at.Y, Z: v.heightM}}
	arrive := clock.Moment{Movement: s.Movement, Elapsed: float64(s.Arrive)}
	var stated *level.Facing
	for i := range l.x.Cues { // the last that has come by then
		if !arrive.Before(l.x.Cues[i].At) {
			stated = l.cues[i].players[k].facing
		}
	}
	if stated != nil {
		f.Facing = *stated
	}
	return f, true
}

// takeRings reads how far the loops of fixed mics are off, once their gains are known.
func (l *Loudness) takeRings(p *source.Problems) {
	l.rings = map[int]float64{}
	list := make([]readings.Reading, len(l.x.Rig.Levels.Ring))
	for i, x := range l.x.Rig.Levels.Ring {
		list[i] = readings.Reading{Name: x.Mic.V, Kind: "ring", At: x.At, Read: x.FaderDB}
	}
	for nth, once := range readings.Once(list, p) {
		x, found := l.x.Rig.Levels.Ring[nth], false
		for i := range l.cues {
			at := l.ends(i)[0]
			for k, n := range l.fixedLines(i) {
				if found || l.x.Lines.List[n].Fixed.Name != x.Mic.V {
					continue
				}
				found = true
				ring := l.Stadium.RingFromFader(l.fixed(i, at)[k], x.FaderDB)
				if math.IsNaN(ring) || math.IsInf(ring, 0) || !once {
					continue // a mic that hears nobody has no gain
				}
				list[nth].DB = ring
				l.night.Rings = append(l.night.Rings, list[nth])
				l.rings[n] = ring
			}
		}
		if !found && x.Mic.Set {
			p.Add(unknownRing(x.Mic, l.x.Rig.Mics))
		}
	}
}

// RingRead reports whether a fixed mic's ring was read.
func (l *Loudness) RingRead(name string) bool {
	for n := range l.rings {
		if l.x.Lines.List[n].Fixed.Name == name {
			return true
		}
	}
	return false
}
