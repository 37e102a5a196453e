package balance

import (
	"fmt"
	"math"
	"slices"

	"backfield/cue/clock"
	"backfield/layout"
	"backfield/layout/level"
	"backfield/layout/rig"
	"backfield/layout/source"
	"backfield/layout/table"
)

// takeReadings applies what was read on site, each after those that it builds on: noise, brass, soloists.
func (l *Loudness) takeReadings(p *source.Problems) {
	r := &l.x.Rig.Levels
	l.Stadium.BackgroundDB = r.BackgroundDBA
	if n := r.Noise; n != nil {
		l.takeNoise(n, p)
	}
	if b := r.Brass; b != nil {
		l.takeBrass(b, p)
	}
	for i := range r.Solo {
		l.takeSolo(&r.Solo[i], p)
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
			p.Add(unknownIn(m.GainCue, fmt.Sprintf("cue that opens %s", m.Name), open))
		}
	}
}

// clear is a reading without the background; ok is false where the background is too loud to tell.
func (l *Loudness) clear(dba float64, at source.Span, p *source.Problems) (clearDBA float64, ok bool) {
	background := l.x.Rig.Levels.BackgroundDBA
	if background == nil {
		return dba, true
	}
	if clearDBA, ok = level.OffBackground(dba, *background); !ok {
		p.Add(nearBackground(at, dba, *background))
	}
	return clearDBA, ok
}

// takeNoise reads the level at 1 m for a nominal input. The noise is panned hard to the stack's side; with zones its
// send is at 0 dB.
func (l *Loudness) takeNoise(n *rig.NoiseReading, p *source.Problems) {
	dba, ok := l.clear(n.DBA, n.At, p)
	list := l.x.Rig.MainStacks()
	k := slices.IndexFunc(list, func(s rig.Stack) bool { return s.Name == n.Stack.V })
	if k < 0 && n.Stack.Set {
		p.Add(unknownStack(n.Stack, list))
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
	nominal := l.Stadium.NominalFromNoise(dba, k, sendDB, place)
	if nominal < 80 || nominal > 125 {
		p.Add(oddNominal(n.At, nominal))
	}
	l.Stadium.NominalDB, l.Measured.Noise = nominal, true
}

// takeBrass reads how much louder everybody is than the table.
func (l *Loudness) takeBrass(b *rig.BrassReading, p *source.Problems) {
	dba, ok := l.clear(b.DBA, b.At, p)
	mark := b.Dynamics.Or("f")
	dynamicsDB, known := level.DynamicsDB(mark)
	if !known {
		p.Add(unknownMark(b.Dynamics))
	}
	if !slices.Contains(l.x.Roster.Sections(), b.Section.V) && b.Section.Set {
		p.Add(unknownBrass(b.Section, l.x.Roster.Sections()))
		return
	}
	var list []level.Performer
	set, there := l.set(b.Set, p)
	for k := range l.players {
		if f, on := l.inSet(k, set); on && there && f.Section == b.Section.V {
			f.DynamicsDB = dynamicsDB
			list = append(list, f)
		}
	}
	if there && len(list) == 0 {
		p.Add(nobodyThere(b.Section, b.Set.V))
	}
	if !ok || !known || len(list) == 0 {
		return
	}
	band := l.Stadium.BandFromBrass(dba, list, l.x.Rig.Reference)
	if band < -6 || band > 12 {
		p.Add(oddBand(b.At, band))
	}
	l.Stadium.BandDB, l.Measured.Brass = band, true
}

// takeSolo reads how much louder a player is than the table and the band.
func (l *Loudness) takeSolo(s *rig.SoloReading, p *source.Problems) {
	dba, ok := l.clear(s.DBA, s.At, p)
	k := slices.IndexFunc(l.players, func(v castPlayer) bool { return v.name == s.Player.V })
	if k < 0 && s.Player.Set {
		p.Add(unknownSoloist(s.Player, l.x.Roster.Names()))
	}
	if k < 0 || !ok {
		return
	}
	set, there := l.set(s.Set, p)
	if !there {
		return
	}
	f, on := l.inSet(k, set)
	if !on {
		p.Add(nobodyThere(s.Player, s.Set.V))
		return
	}
	l.players[k].aloneDB, l.players[k].soloed = l.Stadium.PlayerFromSolo(dba, f, l.x.Rig.Reference), true
}

// set is a set of the drill by its label; false where there is none.
func (l *Loudness) set(label table.Text, p *source.Problems) (i int, ok bool) {
	i, ok = l.x.Drill.Set(label.V)
	if !ok && label.Set {
		p.Add(unknownSetOf(label, l.x.Drill.Labels()))
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
	for _, x := range l.x.Rig.Levels.Ring {
		found := false
		for i := range l.cues {
			at := l.ends(i)[0]
			for k, n := range l.fixedLines(i) {
				if found || l.x.Lines.List[n].Fixed.Name != x.Mic.V {
					continue
				}
				found = true
				ring := l.Stadium.RingFromFader(l.fixed(i, at)[k], x.FaderDB)
				if math.IsNaN(ring) || math.IsInf(ring, 0) {
					continue // it hears nobody, and has no gain
				}
				if math.Abs(ring) > 12 {
					p.Add(oddRing(x.At, ring))
				}
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
