package music

import (
	"fmt"
	"slices"
	"sort"

	"backfield/cue/clock"
	"backfield/cue/score"
	"backfield/layout/source"
	"backfield/layout/table"
)

// piece is the music of a file, in quarter notes from its first instant.
type piece struct {
	name     string            // as the movement has it
	tempos   []fileTempo       // in order, the first at 0
	bars     []bar             // in order, without a gap
	marks    []fileMark        // in order
	parts    []clock.MusicPart // in quarters
	fermatas []fermata
	numbered bool    // whether the file has numbers for its bars
	least    float64 // where the last bar with a note ends; the piece lasts from there up to most
	most     float64
}

// fileTempo is quarter notes a minute from a place on. The place in the text is set for files that have lines.
type fileTempo struct {
	at, quarters float64
	part         int // or track
	span         source.Span
}

// bar is a measure, in quarters from the first instant.
type bar struct {
	number       string
	from, length float64
	meter        meter
	pickup       bool
	span         source.Span
}

// fileMark is a rehearsal mark.
type fileMark struct {
	name string
	at   float64
}

// fermata is a place that is held for as long as the conductor wants.
type fermata struct {
	from, to float64 // of the note that it is over
	span     source.Span
}

// lay turns quarters into the movement's counts, and fills in its Music and Changes.
func (c piece) lay(m *score.Movement, p *source.Problems) {
	before, at := p.Errors(), m.File.Name.Span
	c.name, c.bars = m.File.Name.V, slices.Clone(c.bars)
	c.number(m.File.First, at, p)
	s := c.scale(m.File.Beat, at, p)
	if p.Errors() > before {
		return
	}
	whole := c.counted(s)
	changes := c.changes(s, at, p)
	begin, end, ok := part(whole, c.bars[0].pickup, m.File, p)
	if !ok || p.Errors() > before {
		return
	}
	music := &clock.Music{Name: c.name, Beat: s.words, NamedAt: at, EndAt: c.bars[len(c.bars)-1].span}
	music.Least, music.Most = snap(whole.Least-begin), snap(whole.Most-begin)
	if m.File.To.Set {
		music.Least, music.Most, music.EndAt = snap(end-begin), snap(end-begin), m.File.To.Span
	}
	if music.Least > mostCounts {
		p.Add(tooLong(at, c.name, music.Least))
		return
	}
	for _, x := range whole.Measures {
		if x.From+x.Counts > begin+1e-9 && x.From < end-1e-9 {
			music.Measures = append(music.Measures,
				clock.Measure{Number: x.Number, From: snap(x.From - begin), Counts: x.Counts})
		}
	}
	for _, x := range whole.Marks {
		if x.At > begin-1e-9 && (x.At < end-1e-9 || !m.File.To.Set) {
			music.Marks = append(music.Marks, clock.Mark{Name: x.Name, At: snap(x.At - begin)})
		}
	}
	for _, x := range c.parts {
		x = x.Placed(func(at float64) float64 { return s.count(at) - begin })
		music.Parts = append(music.Parts, within(x, m.File.From.Set, end-begin))
	}
	if !m.File.From.Set && begin > 0 {
		music.PickupS = clock.NewTempo(changes).Seconds(begin)
	}
	changes = shifted(changes, begin, end)
	pauses := pausesIn(music, m.File.Pauses, p)
	c.checkFermatas(s, begin, end, music, pauses, p)
	if p.Errors() == before {
		m.Music, m.Changes = music, append(changes, pauses...)
	}
}

// number numbers the bars of a file that has no numbers.
func (c *piece) number(first table.Int, at source.Span, p *source.Problems) {
	if c.numbered {
		if first.Set {
			p.Add(ownNumbers(first.Span, c.name))
		}
		return
	}
	for i := range c.bars {
		c.bars[i].number = fmt.Sprint(first.Or(1) + i)
	}
	c.bars[0].pickup = first.Or(1) == 0 && len(c.bars) > 1
	if !first.Set && len(c.bars) > 1 {
		if a, b := c.bars[0], c.bars[1]; a.meter.unit == b.meter.unit && a.length < b.length-1e-9 {
			p.Add(maybePickup(at, c.name, a.meter, b.meter))
		}
	}
}

const asTable = `tempo = { music = "FILE", ... }`

// counted is the whole file in counts from its first instant.
func (c *piece) counted(s countScale) *clock.Music {
	m := &clock.Music{Name: c.name, Beat: s.words, Least: s.count(c.least), Most: s.count(c.most)}
	for _, b := range c.bars {
		from := s.count(b.from)
		m.Measures = append(m.Measures,
			clock.Measure{Number: b.number, From: from, Counts: snap(s.count(b.from+b.length) - from)})
	}
	for _, x := range c.marks {
		m.Marks = append(m.Marks, clock.Mark{Name: x.name, At: s.count(x.at)})
	}
	return m
}

// changes is the tempo in counts a minute, which changes with the tempo of the quarters and with what a count is.
func (c *piece) changes(s countScale, at source.Span, p *source.Problems) []clock.Change {
	var places []float64
	for _, x := range c.tempos {
		places = append(places, x.at)
	}
	for _, x := range s.stretches {
		places = append(places, x.from)
	}
	slices.Sort(places)
	var list []clock.Change
	for i, place := range places {
		if i > 0 && place < places[i-1]+1e-9 {
			continue
		}
		j := sort.Search(len(c.tempos), func(i int) bool { return c.tempos[i].at > place+1e-9 })
		x := c.tempos[max(j-1, 0)]
		bpm := x.quarters / s.at(place).quarters
		if !(bpm >= slowest && bpm <= fastest) {
			span := x.span
			if span.File == nil {
				span = at
			}
			p.Add(badTempo(span, c.name, bpm, s.words))
			return nil
		}
		if n := len(list); n == 0 || list[n-1].BPM != bpm {
			list = append(list, clock.Change{At: s.count(place) + 1, BPM: bpm})
		}
	}
	return list
}

// part finds which part of the file the movement is, in counts from the file's first instant.
func part(whole *clock.Music, pickup bool, f *score.MusicFile, p *source.Problems) (begin, end float64, ok bool) {
	end = whole.Most
	last := whole.Measures[len(whole.Measures)-1]
	over := last.From + last.Counts
	if pickup {
		begin = whole.Measures[1].From
	}
	find := func(place score.MusicPlace, v *float64) bool {
		if !place.Set {
			return true
		}
		var fault *source.Fault
		if *v, fault = whole.Find(place.Count); fault != nil {
			p.Add(unreadableCount(place.Span, fault))
		}
		return fault == nil
	}
	if !find(f.From, &begin) || !find(f.To, &end) {
		return 0, 0, false
	}
	switch {
	case begin < 0:
		p.Add(beforeMusic(f.From))
	case f.From.Set && begin > over-1e-6:
		p.Add(fromAtEnd(f.From))
	case f.To.Set && end > over+1e-6:
		p.Add(pastEnd(f.To, snap(end-over)))
	case f.To.Set && end < begin+1-1e-6:
		p.Add(noCounts(f.To.Span, whole.Place(begin), whole.Place(end)))
	default:
		return begin, end, true
	}
	return 0, 0, false
}

// within is what a part plays of the movement, in counts from its downbeat: of a note over its end what is within, and of
// one over its beginning too where the movement begins inside the file. A pickup has places below 0.
func within(part clock.MusicPart, inside bool, end float64) clock.MusicPart {
	part.Notes = slices.DeleteFunc(part.Notes, func(n clock.PlayedNote) bool {
		return n.From > end-1e-6 || inside && n.To < 1e-6
	})
	for i := range part.Notes {
		n := &part.Notes[i]
		if n.To = snap(min(n.To, end)); inside {
			n.From = max(n.From, 0)
		}
		n.From = snap(n.From)
	}
	return part
}

// shifted counts changes from begin on, where the last before it holds; what comes after end is of no matter.
func shifted(changes []clock.Change, begin, end float64) []clock.Change {
	list := []clock.Change{{At: 1, BPM: changes[0].BPM}}
	for _, x := range changes {
		switch at := snap(x.At - begin); {
		case at <= 1:
			list[0].BPM = x.BPM
		case x.At-1 < end-1e-9:
			list = append(list, clock.Change{At: at, BPM: x.BPM})
		}
	}
	return list
}

// pausesIn finds the pauses that the score adds to the music.
func pausesIn(music *clock.Music, pauses []score.Pause, p *source.Problems) []clock.Change {
	var list []clock.Change
	for _, x := range pauses {
		elapsed, fault := x.Count-1, (*source.Fault)(nil)
		if x.Place.Musical() {
			elapsed, fault = music.Find(x.Place)
		}
		switch {
		case fault != nil:
			p.Add(unreadableCount(x.Span, fault))
		case elapsed < 0 || elapsed > music.Most-1e-9:
			p.Add(pauseOutside(x.Span, elapsed+1, music.Most))
		default:
			list = append(list, clock.Change{At: elapsed + 1, PauseS: x.S})
		}
	}
	return list
}

// checkFermatas reports each fermata without a pause: no file says how long it is held. Those of several
// voices that sound together are one.
func (c *piece) checkFermatas(s countScale, begin, end float64, music *clock.Music, pauses []clock.Change,
	p *source.Problems) {
	for i := 0; i < len(c.fermatas); {
		f := c.fermatas[i]
		for i++; i < len(c.fermatas) && c.fermatas[i].from < f.to-1e-9; i++ {
			f.to = max(f.to, c.fermatas[i].to)
		}
		from, to := s.count(f.from)-begin, s.count(f.to)-begin
		if to < 1e-9 || from > end-begin-1e-9 ||
			slices.ContainsFunc(pauses, func(x clock.Change) bool { return x.At-1 > from-1e-9 && x.At-1 < to+1e-9 }) {
			continue
		}
		place := music.Place(max(from, to-1))
		p.Add(openFermata(f.span, music.Place(from), place, music.NamedAt))
	}
}

// notes points into a file that has lines.
func (c *piece) notes(at source.Span) []source.Note {
	if at.File == nil {
		return nil
	}
	return []source.Note{{Span: at, Text: "here"}}
}
