package compile

import (
	"fmt"
	"slices"

	"backfield/cue/clock"
	"backfield/cue/roster"
	"backfield/layout/rig"
	"backfield/layout/source"
)

// line is one mixer channel that the show uses: a fixed mic's, or one that players wear in turn.
type line struct {
	channel int
	fixed   *rig.Mic
	wears   []wear // in order of time
}

// wear is a player on a line from a moment on; until is when he has changed to another line.
type wear struct {
	roster.Wear
	from  clock.Moment
	until clock.Moment
	ends  bool
}

// holder returns who wears the line's mic at a moment, nil when nobody does.
func (l *line) holder(m clock.Moment) *wear {
	var now *wear
	for i := range l.wears {
		if w := &l.wears[i]; !m.Before(w.from) {
			now = w
		}
	}
	if now != nil && now.ends && !m.Before(now.until) {
		return nil
	}
	return now
}

// Wear is one player with one pack on one channel, from a moment until the next wearer's, his own change to another
// pack, or the show's end.
type Wear struct {
	Player, Section, Pack string
	Channel               int
	From, Until           clock.Moment
}

// Wears lists who wears what when, by channel and time.
func (r *Result) Wears() []Wear {
	var list []Wear
	for i := range r.lines {
		wears := r.lines[i].wears
		for j, w := range wears {
			x := Wear{Player: w.Player, Section: w.Section, Pack: w.Pack, Channel: w.Channel, From: w.from, Until: r.Clock.End()}
			if w.ends {
				x.Until = w.until
			}
			if j+1 < len(wears) && wears[j+1].from.Before(x.Until) {
				x.Until = wears[j+1].from
			}
			list = append(list, x)
		}
	}
	return list
}

// resolve builds the clock, finds each cue's moment and each line's wearers, and holds the files against one
// another.
func (r *Result) resolve(p *source.Problems) {
	before := p.Errors()
	r.Drill.Check(p)
	r.Doubt = r.Doubt || p.Errors() > before
	r.checkPlayers(p)
	r.buildClock(p)
	r.buildLines(p)
	r.placeCues(p)
}

// checkPlayers holds the drill against the roster.
func (r *Result) checkPlayers(p *source.Problems) {
	if len(r.Roster.Players) == 0 {
		return // an empty roster is reported where it is read
	}
	names := r.Roster.Names()
	for i := range r.Drill.Players {
		d := &r.Drill.Players[i]
		if _, ok := r.Roster.Player(d.Name); !ok && !r.Roster.MayHold(d.Name) {
			p.Error("unknown-player", d.Span, fmt.Sprintf("no player %q in the roster", d.Name), source.DidYouMean(d.Name, names, "add the player to the roster, or mend the name"))
		}
	}
	if len(r.Drill.Players) == 0 || r.Drill.PartialDots || r.Drill.PartialSets {
		return
	}
	for _, w := range r.Roster.Wears {
		if _, ok := r.Drill.Player(w.Player); !ok {
			p.Error("no-dots", w.Span, fmt.Sprintf("%s wears a mic and has no dot in the drill", w.Player), "add his dots; without them no delay can be computed")
		}
	}
}

// buildClock joins the score's tempo and the sets' counts.
func (r *Result) buildClock(p *source.Problems) {
	c := &clock.Clock{}
	r.Clock = c
	for _, s := range r.Drill.Sets {
		if s.Movement > len(r.Score.Movements) {
			if len(r.Score.Movements) == 0 || s.Moved {
				continue // that is reported, not what comes of it
			}
			p.Error("unknown-movement", s.Span, fmt.Sprintf("set %s is of movement %d, and the score has %d", s.Label, s.Movement, len(r.Score.Movements)), "add a [[movement]] to the score, or mend the number")
			continue
		}
		c.Sets = append(c.Sets, clock.Arrival{Label: s.Label, At: clock.Moment{Movement: s.Movement, Elapsed: float64(s.Arrive)}})
	}
	start := 0.0
	for i, m := range r.Score.Movements {
		v := clock.Movement{Name: m.Name, Counts: float64(r.Drill.Counts(i + 1)), Tempo: clock.NewTempo(m.Changes), Music: m.Music}
		sets := v.Counts
		switch {
		case r.Drill.UnsureTime || r.Drill.PartialSets: // what the sets add up to is not known
			v.Counts = max(v.Counts, float64(m.Counts.V))
		case m.Counts.Set && v.Counts > 0 && v.Counts != float64(m.Counts.V):
			var notes []source.Note
			if last := r.lastSet(i + 1); last.File != nil {
				notes = append(notes, source.Note{Span: last, Text: fmt.Sprintf("movement %d's last set ends at count %g", i+1, v.Counts)})
			}
			p.Error("counts-sum", m.Counts.Span, fmt.Sprintf("movement %d has %d counts, and its sets add up to %g", i+1, m.Counts.V, v.Counts), "mend the counts of a set, or of the movement", notes...)
			v.Counts = max(v.Counts, float64(m.Counts.V)) // no cue is too late by the one alone
		case v.Counts == 0 && m.Counts.Set:
			v.Counts = float64(m.Counts.V)
		case v.Counts == 0 && m.File != nil && (m.Music == nil || m.Music.Least > 0): // the music says it
		case v.Counts == 0 && len(r.Drill.Sets) > 0:
			p.Error("counts-sum", m.Span, fmt.Sprintf("movement %d has neither sets nor counts", i+1), "write counts = N, or add its sets to the drill")
		}
		if m.Music != nil {
			r.holdAgainstMusic(i+1, sets, p)
			v.Counts = max(v.Counts, m.Music.Least) // no cue is too late by the one alone
		}
		for _, change := range m.Changes {
			if m.File == nil && v.Counts > 0 && change.At > v.Counts+1 && r.sureOf(i+1) {
				p.Warn("tempo-past-end", m.Span, fmt.Sprintf("movement %d changes tempo at count %g and has only %g counts", i+1, change.At, v.Counts), "mend the count")
			}
		}
		v.StartS = start + m.WaitS
		start = v.StartS + v.Tempo.Seconds(v.Counts)
		c.Movements = append(c.Movements, v)
	}
}

// holdAgainstMusic holds a movement's counts, those that its sets add up to and those that the score says, against
// the length of its music; and its wait against a pickup.
func (r *Result) holdAgainstMusic(number int, sets float64, p *source.Problems) {
	m := r.Score.Movements[number-1]
	music := m.Music
	long := source.Count(music.Least, "count")
	if music.Most > music.Least {
		long = fmt.Sprintf("%g to %g counts", music.Least, music.Most)
	}
	notes := []source.Note{{Span: music.NamedAt, Text: fmt.Sprintf("%s: a count is %s; the movement ends after %s", music.Name, music.Beat, music.Place(music.Least-1))}}
	if music.EndAt.File != nil {
		notes = append(notes, source.Note{Span: music.EndAt, Text: "it ends here"})
	}
	const do = "mend the side that is wrong; to = \"m. N\" ends the movement before its file does"
	differs := func(counts float64) bool { return counts < music.Least-1e-6 || counts > music.Most+1e-6 }
	if sets > 0 && differs(sets) && !r.Drill.UnsureTime && !r.Drill.PartialSets {
		p.Error("music-length", r.lastSet(number), fmt.Sprintf("movement %d's sets add up to %g counts, and its music has %s", number, sets, long), do, notes...)
	}
	if m.Counts.Set && differs(float64(m.Counts.V)) {
		p.Error("music-length", m.Counts.Span, fmt.Sprintf("movement %d has %d counts, and its music %s", number, m.Counts.V, long), do, notes...)
	}
	if number > 1 && music.PickupS > m.WaitS+1e-9 {
		p.Warn("music-pickup", music.NamedAt, fmt.Sprintf("the pickup of movement %d sounds %.2f s before its downbeat, and only %g s lie between the movements", number, music.PickupS, m.WaitS), fmt.Sprintf("write wait = %.2f, or more", music.PickupS+0.005))
	}
}

func (r *Result) lastSet(movement int) source.Span {
	span := source.Span{}
	for _, s := range r.Drill.Sets {
		if s.Movement == movement {
			span = s.CountsAt
		}
	}
	return span
}

// buildLines orders the channels and finds who wears what when.
func (r *Result) buildLines(p *source.Problems) {
	byChannel := map[int]int{}
	at := func(channel int, where source.Span) *line {
		if channel > r.Desk.Channels {
			p.Error("no-such-channel", where, fmt.Sprintf("channel %d, and the desk has %d", channel, r.Desk.Channels), "mend the channel, or \"channels\" in the desk file")
		}
		i, ok := byChannel[channel]
		if !ok {
			i = len(r.lines)
			byChannel[channel] = i
			r.lines = append(r.lines, line{channel: channel})
		}
		return &r.lines[i]
	}
	for _, w := range r.Roster.Wears {
		x := wear{Wear: w, from: clock.Moment{Movement: 1}}
		if w.From.Text != "" {
			position, fault := clock.ParsePosition(w.From.Text)
			ok := fault == nil
			if ok {
				x.from, ok = r.place(position, w.From.Span, p)
			} else {
				p.Error("bad-position", w.From.Span, fault.What, fault.Do)
			}
			if !ok {
				r.unsure[w.Player] = true
				continue
			}
		}
		l := at(w.Channel, w.ChanAt)
		for _, other := range l.wears {
			if other.from == x.from {
				p.Error("channel-twice", w.ChanAt, fmt.Sprintf("channel %d is worn by %s and by %s at once", w.Channel, other.Player, w.Player), `give one of them another channel, or say in "from" when it changes hands`, source.Note{Span: other.ChanAt, Text: other.Player + " here"})
				r.unsure[w.Player], r.unsure[other.Player] = true, true
			}
		}
		l.wears = append(l.wears, x)
	}
	for i := range r.Rig.Mics {
		m := &r.Rig.Mics[i]
		if m.Channel < 1 {
			continue // reported where it was read
		}
		if _, taken := r.Roster.Player(m.Name); taken {
			p.Error("duplicate-name", m.Span, fmt.Sprintf("fixed mic %q has a player's name", m.Name), "give it another")
		}
		l := at(m.Channel, m.Span)
		if l.fixed != nil || len(l.wears) > 0 {
			p.Error("channel-twice", m.Span, fmt.Sprintf("channel %d of fixed mic %q is taken", m.Channel, m.Name), "give it another channel")
			continue
		}
		l.fixed = m
	}
	slices.SortFunc(r.lines, func(a, b line) int { return a.channel - b.channel })
	for i := range r.lines {
		slices.SortStableFunc(r.lines[i].wears, func(a, b wear) int { return a.from.Compare(b.from) })
	}
	r.endWears(p)
}

// endWears lets a player who takes over another pack leave his first.
func (r *Result) endWears(p *source.Problems) {
	byPlayer := map[string][]*wear{}
	for i := range r.lines {
		for j := range r.lines[i].wears {
			w := &r.lines[i].wears[j]
			for _, other := range byPlayer[w.Player] {
				switch {
				case other.from == w.from:
					p.Error("two-packs", w.Span, fmt.Sprintf("%s wears two packs at once, on channels %d and %d", w.Player, other.Channel, w.Channel), `keep one, or say in "from" when he changes`, source.Note{Span: other.Span, Text: "the other"})
				case other.from.Before(w.from):
					other.endAt(w.from)
				default:
					w.endAt(other.from)
				}
			}
			byPlayer[w.Player] = append(byPlayer[w.Player], w)
		}
	}
}

func (w *wear) endAt(m clock.Moment) {
	if !w.ends || m.Before(w.until) {
		w.until, w.ends = m, true
	}
}

// place finds the moment of a position, or reports why there is none, unless that is the fault of something
// reported already.
func (r *Result) place(position clock.Position, at source.Span, p *source.Problems) (m clock.Moment, ok bool) {
	if len(r.Clock.Movements) == 0 {
		return m, false
	}
	m, fault := r.Clock.Resolve(position)
	if fault == nil {
		return m, true
	}
	code, sure := "bad-position", true
	_, listed := r.Drill.Set(position.Set)
	switch {
	case position.Musical() && r.musicLost(position.Movement):
		sure = false
	case position.Set != "" && !listed:
		code, sure = "unknown-set", !r.Drill.MayHold(position.Set)
	case position.Set != "" && m.Movement == 0: // a set of a movement that there is not
		sure = false
	case m.Movement > 0 && m.Movement <= len(r.Clock.Movements): // too early or too late in its movement
		sure = r.sureOf(m.Movement)
	}
	if sure {
		p.Error(code, at, fault.What, fault.Do)
	}
	return m, false
}

// sureOf tells whether the length of a movement is known. Of music that could not be read it is not, unless sets or
// counts tell it.
func (r *Result) sureOf(movement int) bool {
	m := r.Score.Movements[movement-1]
	if m.File != nil && m.Music == nil && r.Clock.Movements[movement-1].Counts == 0 {
		return false
	}
	return !r.Drill.UnsureTime && !r.Drill.PartialSets || m.Counts.Set || m.Music != nil
}

// musicLost tells whether the music that a position may be told by, of a movement or of any (0), could not be read.
func (r *Result) musicLost(movement int) bool {
	for i, m := range r.Score.Movements {
		if (movement == 0 || movement == i+1) && m.File != nil && m.Music == nil {
			return true
		}
	}
	return false
}

// placeCues finds each cue's moment and puts the cues in order of time.
func (r *Result) placeCues(p *source.Problems) {
	var before clock.Moment // of the cue that stands before
	known := false
	for i := range r.Score.Cues {
		c := &r.Score.Cues[i]
		m, ok := clock.Moment{}, false
		switch {
		case c.Placed:
			m, ok = r.place(c.Position, c.At.Span, p)
		case c.AfterCounts > 0 && known:
			c.Position = clock.Position{Movement: before.Movement, Count: before.Count() + c.AfterCounts}
			c.At.V = c.Position.String()
			m, ok = r.place(c.Position, c.At.Span, p)
		}
		before, known = m, ok
		if !ok {
			r.unplaced = append(r.unplaced, c)
			continue
		}
		if n := len(r.Cues); n > 0 && m.Before(r.Cues[n-1].At) && !r.Drill.UnsureTime {
			p.Warn("cue-order", c.At.Span, fmt.Sprintf("cue %q comes before cue %q in the show and after it in the file", c.ID.V, r.Cues[n-1].Cue.ID.V), "put the cues in the order they are played")
		}
		r.Cues = append(r.Cues, Moment{Cue: c, At: m})
	}
	slices.SortStableFunc(r.Cues, func(a, b Moment) int { return a.At.Compare(b.At) })
	for i := 1; i < len(r.Cues); i++ {
		a, b := r.Cues[i-1], r.Cues[i]
		if !a.At.Before(b.At) && !(r.Drill.UnsureTime && a.Cue.Position.Set != b.Cue.Position.Set) {
			p.Error("same-moment", b.Cue.At.Span, fmt.Sprintf("cues %q and %q are at the same moment", a.Cue.ID.V, b.Cue.ID.V), "move one, or make them one", source.Note{Span: a.Cue.At.Span, Text: "the other is here"})
		}
	}
	if len(r.Score.Cues) == 0 && !r.Score.Partial {
		p.Warn("no-cues", r.Score.File.Whole(), "the score has no cue", "add [[cue]] entries with id, at and open")
	}
}
