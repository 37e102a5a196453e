package balance

import (
	"cmp"
	"slices"

	"backfield/cue/score"
	"backfield/cue/timeline"
	"backfield/layout/drill"
	"backfield/layout/level"
	"backfield/layout/rig"
	"backfield/layout/source"
	"backfield/layout/table"
)

// castPlayer is a performer of the roster.
type castPlayer struct {
	name, section string
	span          source.Span
	plays         string            // the name of the instrument
	at            source.Span       // where the roster names it, if it does
	instrument    *level.Instrument // nil: nobody knows it
	heightM       float64           // where the player wears no mic
	marcher       *drill.Marcher    // nil: has no dots
	aloneDB       float64           // how much louder than the table and the band, from a reading
	soloed        bool              // there is such a reading
}

// casting is who plays in a cue, and how loudly.
type casting struct {
	role    string
	front   map[string]bool // the featured roles
	worn    []string        // the roles in which a worn mic is open
	players []castPart      // by player

	unstated  []Unstated
	uncounted []Uncounted
}

// castPart is what one player does in a cue.
type castPart struct {
	line       int // of the mic that is open on the player, or -1
	plays      bool
	featured   bool
	stated     bool // the cue or the music says whether the player plays
	marked     bool // the music says how loudly
	markedDB   float64
	uncounted  bool // would play mf if everyone did
	dynamicsDB float64
	heightM    float64       // of the mic that the player wears, or would wear
	facing     *level.Facing // as the cue says; nil: as the set
}

func (l *Loudness) readPlayers() {
	l.given = map[string]*level.Instrument{}
	for i := range l.x.Score.Instruments {
		g := &l.x.Score.Instruments[i].Instrument
		l.given[g.Name] = g
	}
	for _, p := range l.x.Roster.Players {
		v := castPlayer{name: p.Name, section: p.Section, span: p.Span, heightM: p.HeightM, plays: p.Section}
		if p.Instrument.Text != "" {
			v.plays, v.at = p.Instrument.Text, p.Instrument.Span
		}
		if v.instrument = l.given[v.plays]; v.instrument == nil {
			v.instrument, _ = level.InstrumentByName(v.plays)
		}
		v.marcher, _ = l.x.Drill.Player(p.Name)
		l.players = append(l.players, v)
	}
}

// pit is the instrument of the pit. Its sections play whole where a pit mic is open.
const pit = "pit"

// ensemble is what a cue has open of one section.
type ensemble struct {
	group  []score.Role // in which it is opened as a group
	opened []score.Role // of its open mics
	mics   int          // that it wears at that moment
	named  bool         // the cue says "@section"
}

// whole reports whether the section plays whole: the cue opens it as a group, or all of at least two worn mics.
func (e *ensemble) whole() bool {
	return e.named || len(e.group) > 0 || e.mics >= 2 && len(e.opened) == e.mics
}

// roles are those in which the section as such is open: as a group, otherwise those of its open mics.
func (e *ensemble) roles() []score.Role {
	if len(e.group) > 0 {
		return e.group
	}
	return e.opened
}

// settle finds out who plays in a cue.
func (l *Loudness) settle(i int) casting {
	c := &l.x.Cues[i]
	set := casting{front: map[string]bool{}, players: make([]castPart, len(l.players))}
	sections := map[string]*ensemble{}
	for _, name := range l.x.Roster.Sections() {
		sections[name] = &ensemble{named: slices.ContainsFunc(c.Cue.Open, func(o score.RoleOpen) bool {
			return slices.ContainsFunc(o.Names, func(n table.Text) bool { return n.V == "@"+name })
		})}
	}
	lineOf := map[string]int{}
	var worn, pitRoles []score.Role
	for n := range l.x.Lines.List {
		line := &l.x.Lines.List[n]
		o, open := c.Open[n]
		if line.Fixed != nil {
			if open && line.Fixed.Kind == rig.Pit {
				pitRoles = append(pitRoles, o.Role)
			}
			continue
		}
		h := line.Holder(c.At)
		if h == nil {
			continue
		}
		e := sections[h.Section]
		if e == nil {
			continue // a player without a section is reported
		}
		e.mics++
		if !open {
			continue
		}
		worn = append(worn, o.Role)
		lineOf[o.Name] = n
		if e.opened = append(e.opened, o.Role); !o.ByName {
			e.group = append(e.group, o.Role)
		}
	}
	l.feature(&set, worn)
	for k := range l.players {
		p := &l.players[k]
		v := &set.players[k]
		e := sections[p.section]
		if e == nil {
			e = &ensemble{}
		}
		n, open := lineOf[p.name]
		if v.line = -1; open {
			v.line = n
		}
		inPit := p.instrument != nil && p.instrument.Name == pit
		loud := slices.Contains(l.x.Score.Rules.Loud, p.section)
		v.plays = open || e.whole() || inPit && len(pitRoles) > 0 && !loud
		l.hearParts(i, p, v)
		if stated, plays := says(c.Cue, p); stated {
			v.plays, v.stated = plays, true
		}
		roles := e.roles()
		switch {
		case open:
			roles = []score.Role{c.Open[n].Role}
			v.featured = set.front[roles[0].Name]
		case inPit && !e.whole():
			roles = pitRoles
		case !e.whole():
			roles = nil
		default:
			v.featured = len(roles) > 0 && all(roles, func(r score.Role) bool { return set.front[r.Name] })
		}
		l.dynamics(&set, c.Cue, p, v, roles)
		v.facing = facingIn(c.Cue, p)
		v.heightM = p.heightM
		if n, wears := l.x.Lines.LineOf(p.name, c.At); wears {
			v.heightM = l.x.Lines.List[n].Holder(c.At).HeightM
		}
	}
	l.count(&set)
	return set
}

// feature finds the featured roles: of those in which a worn mic is open the loudest, but those of which a lead is wanted
// before all others, so that a soloist whose fader is too low is still the soloist.
func (l *Loudness) feature(set *casting, worn []score.Role) {
	for _, name := range l.x.Score.Goals.Front(worn) {
		set.front[name] = true
	}
	for _, name := range l.x.Score.RoleNames() {
		if set.front[name] && set.role == "" {
			set.role = name
		}
		if slices.ContainsFunc(worn, func(r score.Role) bool { return r.Name == name }) {
			set.worn = append(set.worn, name)
		}
	}
}

// loudest is the loudest of some roles, the first of equal ones.
func loudest(roles []score.Role) score.Role {
	return slices.MaxFunc(roles, func(a, b score.Role) int { return cmp.Compare(a.LevelDB, b.LevelDB) })
}

func all(roles []score.Role, ok func(score.Role) bool) bool {
	return !slices.ContainsFunc(roles, func(r score.Role) bool { return !ok(r) })
}

// mf is how softly those play who are not counted, where all are taken to play.
const mf = "mf"

// says is whether a cue states that a player plays or rests. A name goes before its section, resting before playing.
func says(c *score.Cue, p *castPlayer) (stated, plays bool) {
	for _, name := range []string{p.name, "@" + p.section} {
		is := func(n table.Text) bool { return n.V == name }
		if slices.ContainsFunc(c.Rests, is) {
			return true, false
		}
		if slices.ContainsFunc(c.Plays, is) {
			return true, true
		}
	}
	return false, false
}

// dynamics says how loudly a player plays, and counts what the show does not state: first what the cue says of the
// player, then of the section, then what the music says, then the loudest of the roles, and otherwise forte, in the pit
// mf.
func (l *Loudness) dynamics(set *casting, c *score.Cue, p *castPlayer, v *castPart, roles []score.Role) {
	for _, name := range []string{p.name, "@" + p.section} {
		k := slices.IndexFunc(c.Dynamics, func(d score.StatedDynamics) bool { return d.Of.V == name })
		if k >= 0 {
			v.dynamicsDB = c.Dynamics[k].DB
			return
		}
	}
	if v.marked {
		v.dynamicsDB = v.markedDB
		return
	}
	if len(roles) > 0 {
		if db := loudest(roles).DynamicsDB; db != nil {
			v.dynamicsDB = *db
			return
		}
	}
	mark := "f"
	if p.instrument != nil && p.instrument.Name == pit {
		mark = mf
	}
	v.dynamicsDB, _ = level.DynamicsDB(mark)
	if !v.plays {
		return
	}
	i := slices.IndexFunc(set.unstated, func(u Unstated) bool { return u.Section == p.section && u.Mark == mark })
	if i < 0 {
		i = len(set.unstated)
		set.unstated = append(set.unstated, Unstated{Section: p.section, Mark: mark})
	}
	set.unstated[i].Players++
}

// facingIn is where a cue says that a player points; nil where it says nothing. A name goes before its section.
func facingIn(c *score.Cue, p *castPlayer) *level.Facing {
	for _, name := range []string{p.name, "@" + p.section} {
		k := slices.IndexFunc(c.Facing, func(f score.StatedFacing) bool { return f.Of.V == name })
		if k >= 0 {
			return &c.Facing[k].Facing
		}
	}
	return nil
}

// count finds the sections that are on the field and not counted, whole or in part.
func (l *Loudness) count(set *casting) {
	for _, name := range l.x.Roster.Sections() {
		u := Uncounted{Section: name}
		for k := range l.players {
			p, v := &l.players[k], &set.players[k]
			switch {
			case p.section != name || p.instrument == nil || p.marcher == nil:
			case v.plays:
				u.But = append(u.But, p.name)
			case v.stated: // rests
			default:
				v.uncounted = true
				u.Names = append(u.Names, p.name)
			}
		}
		if len(u.Names) > 0 {
			set.uncounted = append(set.uncounted, u)
		}
	}
}

// checkInstruments reports instruments that nobody knows, once each: where the roster names one, and where somebody
// plays it or wears a mic. Without a bell, which has a width, a mic cannot be at 0 m: it would hear an endless level.
func (l *Loudness) checkInstruments(p *source.Problems) {
	said := map[string]bool{}
	for k := range l.players {
		v := &l.players[k]
		if !said[v.plays] && v.instrument == nil && (v.at.File != nil || l.sounds(v.name)) {
			p.Add(noInstrument(v, l.x.Score.Instruments))
			said[v.plays] = true
		}
	}
	for _, name := range l.x.Roster.Sections() {
		if !slices.ContainsFunc(l.players, func(v castPlayer) bool {
			return v.section == name && (v.instrument != nil || said[v.plays])
		}) {
			l.Silent = append(l.Silent, name)
		}
	}
	for _, line := range l.x.Lines.List {
		for _, w := range line.Wears {
			k := slices.IndexFunc(l.players, func(v castPlayer) bool { return v.name == w.Player })
			if k >= 0 && w.MicM == 0 && l.players[k].instrument != nil && !l.players[k].instrument.Brass() {
				p.Add(micInside(&l.players[k], w.MicAt))
			}
		}
	}
}

// sounds reports whether a player plays in any cue, or wears a mic.
func (l *Loudness) sounds(name string) bool {
	if slices.ContainsFunc(l.x.Lines.List, func(n timeline.Line) bool {
		return slices.ContainsFunc(n.Wears, func(w timeline.LineWear) bool { return w.Player == name })
	}) {
		return true
	}
	k := slices.IndexFunc(l.players, func(v castPlayer) bool { return v.name == name })
	return slices.ContainsFunc(l.cues, func(set casting) bool { return set.players[k].plays })
}
