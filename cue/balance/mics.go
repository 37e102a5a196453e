package balance

import (
	"math"
	"slices"

	"backfield/cue"
	"backfield/cue/clock"
	"backfield/cue/score"
	"backfield/cue/timeline"
	"backfield/layout"
	"backfield/layout/drill"
	"backfield/layout/level"
	"backfield/layout/rig"
)

// hears reports whether a fixed channel has a mic.
func hears(m *rig.Mic) bool { return m.Kind != rig.LineIn }

// fixedLines are the lines of the fixed mics that a cue has open.
func (l *Loudness) fixedLines(i int) (list []int) {
	for _, n := range timeline.Sorted(l.x.Cues[i].Open) {
		if m := l.x.Lines.List[n].Fixed; m != nil && hears(m) {
			list = append(list, n)
		}
	}
	return list
}

// fixed are the fixed mics that a cue has open, at a moment.
func (l *Loudness) fixed(i int, at clock.Moment) (list []level.FixedMic) {
	for _, n := range l.fixedLines(i) {
		m := l.x.Lines.List[n].Fixed
		f := level.FixedMic{Strip: l.strip(i, n, at), Kind: m.Kind, At: m.At, OmniShare: m.OmniShare,
			Facing: m.Facing, RingDB: l.rings[n], HighestDB: math.Inf(-1)}
		f.MeterDB = m.MeterDB
		if db, ok := l.highest[n]; ok {
			f.HighestDB = db
		}
		list = append(list, f)
	}
	return list
}

// strip is what a channel of a cue does to its mic, at a moment.
func (l *Loudness) strip(i, n int, at clock.Moment) level.Strip {
	snap := &l.x.Show.Cues[i]
	c := &snap.Channels[n]
	g := snap.GlideAt(c, l.x.Clock.Seconds(at), l.x.Show.Rig.Delay.Moves, l.counts)
	s := level.Strip{Name: l.x.Cues[i].Open[n].Name, FaderDB: float64(g.LevelDB)}
	s.LowCutHz, _ = l.lowCut(i, n)
	if !l.x.Rig.Zones {
		left, right := l.x.System.Law.Gains(g.Pan)
		for _, k := range l.x.System.Stacks {
			s.SendDB = append(s.SendDB, level.StereoSendDB(k.Left, k.Right, left, right))
		}
		return s
	}
	sends := c.Sends // as they are sent at the cue's moment
	if c.Place == nil || g.Place != *c.Place {
		sends = cue.PlaceLevels(g.Place, l.row)
	}
	for _, k := range l.x.Rig.MainStacks() {
		db := math.Inf(-1)
		if z := slices.IndexFunc(sends, func(x cue.Send) bool { return x.Zone == k.Zone }); z >= 0 {
			db = float64(sends[z].LevelDB)
		}
		s.SendDB = append(s.SendDB, db)
	}
	return s
}

// lowCut is the low cut of a channel of a cue in Hz, 0 where it is off: what is sent, if the mixer has such a parameter,
// otherwise what the rig or the role states. stated is false where nobody says.
func (l *Loudness) lowCut(i, n int) (hz float64, stated bool) {
	params := l.x.Mixer.Params
	if k := slices.IndexFunc(params, func(d timeline.Param) bool { return d.Name == score.LowCut }); k >= 0 {
		if d := &params[k]; d.Switch || d.Unit != "" && d.Unit != "Hz" {
			return 0, false // who knows at how many Hz
		}
		return l.x.Show.Cues[i].Channels[n].Params[k].Value, true
	}
	if m := l.x.Lines.List[n].Fixed; m != nil && m.LowCut.Set {
		return m.LowCut.V, true
	}
	if hz := l.x.Cues[i].Open[n].Role.LowCutHz; hz != nil {
		return *hz, true
	}
	return 0, false
}

// noLowCut are the roles in which a cue opens a mic for which nobody states a low cut.
func (l *Loudness) noLowCut(i int) (roles []string) {
	for _, name := range l.x.Score.RoleNames() {
		for n, o := range l.x.Cues[i].Open { // one is enough, whichever it is
			m := l.x.Lines.List[n].Fixed
			if _, stated := l.lowCut(i, n); o.Role.Name == name && !stated && (m == nil || hears(m)) {
				roles = append(roles, name)
				break
			}
		}
	}
	return roles
}

func (l *Loudness) counts(fromS, toS float64) float64 {
	return l.x.Clock.Counts(l.moment(fromS), l.moment(toS))
}

// moment is Clock.At, which searches: the same times come again and again.
func (l *Loudness) moment(atS float64) clock.Moment {
	if m, ok := l.moments.Load(atS); ok {
		return m.(clock.Moment)
	}
	m := l.x.Clock.At(atS)
	l.moments.Store(atS, m)
	return m
}

// worn adds a player's open mic. It is left out where somebody else has the pack by then.
func (l *Loudness) worn(p *level.Playing, i, n, wearer int, at clock.Moment) {
	line := &l.x.Lines.List[n]
	w := line.Holder(l.x.Cues[i].At)
	if left, ok := line.Leaves(w); ok && left.Before(at) {
		return
	}
	p.Worn = append(p.Worn, level.WornMic{Strip: l.strip(i, n, at), Wearer: wearer, FromBellM: w.MicM})
	p.Worn[len(p.Worn)-1].MeterDB = w.MeterDB
}

// scene is who plays and what is open in a cue at a moment, and those who are not counted, at mf. Players who should
// play and have no dot are added to noDot, unless it is nil.
func (l *Loudness) scene(i int, at clock.Moment, noDot *[]string) (p *level.Playing, others []level.Performer) {
	p = &level.Playing{Fixed: l.fixed(i, at)}
	set := &l.cues[i]
	soft, _ := level.DynamicsDB(mf)
	facing, leg := l.setFacing(i, at), l.leg(at)
	for k := range l.players {
		v := &set.players[k]
		if !v.plays && !v.uncounted && v.line < 0 {
			continue
		}
		place, ok := l.dot(k, i, leg)
		if !ok {
			if noDot != nil && v.plays && !slices.Contains(*noDot, l.players[k].name) {
				*noDot = append(*noDot, l.players[k].name)
			}
			continue
		}
		f := l.performer(k, v, place, facing)
		if v.uncounted {
			f.DynamicsDB = soft
			others = append(others, f)
		}
		if v.plays || v.line >= 0 {
			f.DynamicsDB, f.Rests = v.dynamicsDB, !v.plays
			p.Performers = append(p.Performers, f)
		}
		if v.line >= 0 {
			l.worn(p, i, v.line, len(p.Performers)-1, at)
		}
	}
	return p, others
}

// performer is a player who points where the cue says, or else as facing.
func (l *Loudness) performer(k int, v *castPart, at layout.Point, facing level.Facing) level.Performer {
	p := &l.players[k]
	if v.facing != nil {
		facing = *v.facing
	}
	return level.Performer{Name: p.name, Section: p.section, Instrument: p.instrument, At: at, Facing: facing,
		DynamicsDB: v.dynamicsDB, PlayerDB: p.aloneDB, Featured: v.featured}
}

// setFacing is where the drill says that all point at a moment of a cue. Where one set ends and the next begins, it is the
// next, other than at the end of the cue.
func (l *Loudness) setFacing(i int, at clock.Moment) level.Facing {
	const soon = 1e-6 // counts
	if ends := l.ends(i); at.Before(ends[1]) {
		at.Elapsed += soon
	}
	return l.x.Drill.Sets[l.leg(at).To].Facing.Facing
}

// leg is where the drill is at a moment.
func (l *Loudness) leg(at clock.Moment) drill.Leg { return l.x.Drill.Leg(at.Movement, at.Elapsed) }

// dot is where a player is in a cue on a leg, with the height of the mic; ok is false where a dot is missing on the way.
func (l *Loudness) dot(k, i int, leg drill.Leg) (place layout.Point, ok bool) {
	m := l.players[k].marcher
	if m == nil || !m.Dots[leg.From].Known || !m.Dots[leg.To].Known {
		return place, false
	}
	place, ok = m.On(leg)
	place.Z = l.cues[i].players[k].heightM
	return place, ok
}

// mics is what a cue has open at a moment, for the loops, which do not depend on where bells point.
func (l *Loudness) mics(i int, at clock.Moment) *level.Playing {
	p, leg := &level.Playing{Fixed: l.fixed(i, at)}, l.leg(at)
	for k := range l.players {
		v := &l.cues[i].players[k]
		if v.line < 0 {
			continue
		}
		if place, ok := l.dot(k, i, leg); ok {
			p.Performers = append(p.Performers, l.performer(k, v, place, level.Facing{}))
			l.worn(p, i, v.line, len(p.Performers)-1, at)
		}
	}
	return p
}
