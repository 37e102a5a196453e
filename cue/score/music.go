package score

import (
	"backfield/cue/clock"
	"backfield/layout/source"
	"backfield/layout/table"
	"backfield/layout/unit"
)

// musicTable is a file of music, and what of it is the movement.
type musicTable struct {
	Music  table.Text   `key:"music,required"`
	Beat   table.Text   `key:"beat"`
	From   table.Text   `key:"from"`
	To     table.Text   `key:"to"`
	First  table.Int    `key:"first"`
	Pauses []pauseTable `key:"pauses"`
}

// pauseTable is silence that the score adds to the music.
type pauseTable struct {
	table.Where
	At    pauseAt        `key:"at,required"`
	Pause table.Quantity `key:"pause,required"`
}

// pauseAt is a count, or a measure or a mark.
type pauseAt struct {
	count table.Num
	text  table.Text
}

func (v *pauseAt) DecodeNode(n *table.Node, p *source.Problems) {
	if n.Kind == table.String {
		v.text.DecodeNode(n, p)
		return
	}
	v.count.DecodeNode(n, p)
}

// musicFile reads where a movement's time comes from. What cannot be read of it is left out.
func musicFile(t *musicTable, p *source.Problems) *MusicFile {
	m := &MusicFile{Name: t.Music, Beat: t.Beat, First: t.First}
	if count, ok := musicPlace(t.From, p); ok {
		m.From = MusicPlace{t.From, count}
	}
	if count, ok := musicPlace(t.To, p); ok {
		m.To = MusicPlace{t.To, count}
	}
	if t.First.Set && (t.First.V < 0 || t.First.V > longestCounts) {
		p.Add(badFirstMeasure(t.First))
		m.First = table.Int{}
	}
	for _, x := range t.Pauses {
		if pause, ok := x.read(p); ok {
			m.Pauses = append(m.Pauses, pause)
		}
	}
	return m
}

// musicPlace reads a measure or a mark of the movement's own music; ok is false where there is none.
func musicPlace(text table.Text, p *source.Problems) (count clock.ShowCount, ok bool) {
	if !text.Set {
		return count, false
	}
	count, fault := clock.ParseShowCount(text.V)
	if fault == nil && (!count.Musical() || count.Movement != 0) {
		fault = notInMusic(text.V)
	}
	if fault != nil {
		p.Add(unreadableCount(text.Span, fault))
	}
	return count, fault == nil
}

// read reads a pause; ok is false where its place cannot be read.
func (t *pauseTable) read(p *source.Problems) (pause Pause, ok bool) {
	count, text := t.At.count, t.At.text
	pause.S = t.Pause.Within(unit.Duration, 0, 0, longestPauseS, "a pause", p)
	if text.Set {
		pause.Span = text.Span
		pause.Place, ok = musicPlace(text, p)
		return pause, ok
	}
	pause.Count, pause.Span = count.V, count.Span
	if count.Set && (pause.Count < 1 || pause.Count > longestCounts) {
		p.Add(badPause(count.Span, pause.Count))
		return pause, false
	}
	return pause, count.Set
}
