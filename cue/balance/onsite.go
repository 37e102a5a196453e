package balance

import (
	"math"
	"slices"

	"backfield/layout/level"
)

// ChannelGain is what the preamp of a channel is set by, and what it then is.
type ChannelGain struct {
	Channel    int
	Name, Pack string // of who wears it, or of the fixed mic
	Fixed      bool
	Instrument string       // of a worn mic's player
	MicM       float64      // from the bell to a worn mic
	MeterDB    float64      // what forte reads over nominal
	GainDB     level.Figure // from the mic to 1 m from a stack; nothing: it is never open, or hears nobody
	LowCutsHz  []float64    // in the cues in which it is open, ascending; 0: none
}

// Gains are the gains of all channels that have a mic, in the order of the lines, of each of its wearers.
func (l *Loudness) Gains() (list []ChannelGain) {
	of := map[string]int{}
	for _, line := range l.x.Lines.List {
		if m := line.Fixed; m != nil && hears(m) {
			of[m.Name] = len(list)
			list = append(list, ChannelGain{Channel: line.Channel, Name: m.Name, Fixed: true, Instrument: m.Kind})
		}
		for _, w := range line.Wears {
			of[w.Player] = len(list)
			x := ChannelGain{Channel: line.Channel, Name: w.Player, Pack: w.Pack, MicM: w.MicM, MeterDB: w.MeterDB}
			if k := slices.IndexFunc(l.players, func(v castPlayer) bool { return v.name == w.Player }); k >= 0 {
				x.Instrument = l.players[k].plays
			}
			list = append(list, x)
		}
	}
	take := func(s *level.Strip, gainDB float64) {
		x := &list[of[s.Name]]
		x.MeterDB, x.GainDB = s.MeterDB, level.Figure{DB: gainDB, OK: !math.IsInf(gainDB, 0)}
		if at, known := slices.BinarySearch(x.LowCutsHz, s.LowCutHz); !known {
			x.LowCutsHz = slices.Insert(x.LowCutsHz, at, s.LowCutHz)
		}
	}
	for i := range l.cues {
		p := l.mics(i, l.ends(i)[0])
		for k := range p.Worn {
			take(&p.Worn[k].Strip, l.Stadium.WornGainDB(&p.Performers[p.Worn[k].Wearer], &p.Worn[k]))
		}
		for k := range p.Fixed {
			take(&p.Fixed[k].Strip, l.Stadium.FixedGainDB(&p.Fixed[k]))
		}
	}
	return list
}

// ToRead is what should be read on site.
type ToRead struct {
	Stack   string // through which the noise is played
	Zones   bool
	Side    string // of a stereo rig: where the noise is panned, "left" or "right"
	Section string // the largest brass section; "" for none
	Set     string // where all of it has dots
	Solos   []ToReadSolo
	Rings   []string // the fixed mics that a cue opens
}

// ToReadSolo is a soloist who should be read, where the solo is played.
type ToReadSolo struct{ Player, Cue, Set string }

// ToRead says what should be read on site. What was read before is read in the same way again.
func (l *Loudness) ToRead() ToRead {
	t := ToRead{Zones: l.x.Rig.Zones, Solos: l.solos()}
	if list := l.x.Rig.MainStacks(); len(list) > 0 {
		t.Stack, t.Side = list[0].Name, "left"
		if list[0].Right > list[0].Left {
			t.Side = "right"
		}
	}
	t.Section, t.Set = l.largestBrass()
	if b := l.x.Rig.Levels.Brass; b != nil {
		t.Section, t.Set = b.Section.V, b.Set.V
	}
	for i := range l.cues {
		for _, n := range l.fixedLines(i) {
			if name := l.x.Lines.List[n].Fixed.Name; !slices.Contains(t.Rings, name) {
				t.Rings = append(t.Rings, name)
			}
		}
	}
	return t
}

// solos are the players who are featured alone, of those roles from which the most lead is wanted, at the first such cue.
func (l *Loudness) solos() (list []ToReadSolo) {
	most := math.Inf(-1)
	for i := range l.cues {
		k, wantedDB := l.soloist(i)
		if k < 0 || wantedDB < most {
			continue
		}
		if wantedDB > most {
			most, list = wantedDB, nil
		}
		at := l.ends(i)[0]
		set := l.leg(at).From
		known := slices.ContainsFunc(list, func(s ToReadSolo) bool { return s.Player == l.players[k].name })
		if _, on := l.inSet(k, set); on && !known {
			list = append(list, ToReadSolo{l.players[k].name, l.x.Show.Cues[i].ID, l.x.Drill.Sets[set].Label})
		}
	}
	return list
}

// soloist is the only player who is featured in a cue, and the lead that is wanted; -1 where there is no such player.
func (l *Loudness) soloist(i int) (player int, wantedDB float64) {
	player = -1
	for k, v := range l.cues[i].players {
		switch {
		case !v.featured || !v.plays:
		case player >= 0:
			return -1, 0
		default:
			player = k
		}
	}
	wantedDB, ok := l.x.Score.Goals.TargetOf(l.cues[i].role)
	if !ok {
		return -1, 0
	}
	return player, wantedDB
}

// largestBrass is the brass section with the most players, the first of equal ones, and the first set in which all of
// them have dots, otherwise the one in which most do.
func (l *Loudness) largestBrass() (section, set string) {
	most := 0
	for _, name := range l.x.Roster.Sections() {
		n := 0
		for k := range l.players {
			if p := &l.players[k]; p.section == name && p.instrument != nil && p.instrument.Brass() {
				n++
			}
		}
		if n > most {
			section, most = name, n
		}
	}
	most = 0
	for i := range l.x.Drill.Sets {
		n := 0
		for k := range l.players {
			if _, on := l.inSet(k, i); on && l.players[k].section == section {
				n++
			}
		}
		if n > most {
			set, most = l.x.Drill.Sets[i].Label, n
		}
	}
	return section, set
}
