package score

import (
	"math"
	"regexp"
	"strconv"
	"strings"

	"backfield/cue/clock"
	"backfield/layout/source"
	"backfield/layout/table"
	"backfield/layout/unit"
)

// movementTable is one [[movement]].
type movementTable struct {
	table.Where
	Name   table.Text     `key:"name"`
	Counts table.Int      `key:"counts"`
	Wait   table.Quantity `key:"wait"`
	Tempo  tempoValue     `key:"tempo,required"`
}

// changeTable is one entry of a list of tempos.
type changeTable struct {
	table.Where
	At    table.Num      `key:"at,required"`
	BPM   table.Num      `key:"bpm,like=tempo"`
	Over  counts         `key:"over"`
	Pause table.Quantity `key:"pause"`
}

// tempoValue is one tempo in bpm, a list of changes, or a file of music.
type tempoValue struct {
	bpm   table.Num
	list  []changeTable
	music *musicTable
	span  source.Span
}

func (v *tempoValue) DecodeNode(n *table.Node, p *source.Problems) {
	v.span = n.Span
	switch n.Kind {
	case table.String:
		if countsForm.MatchString(strings.TrimSuffix(strings.ToLower(n.Text), "bpm")) {
			p.Add(notMusic(n.Span, n.Text))
			return
		}
		v.music = &musicTable{}
		v.music.Music.DecodeNode(n, p)
		return
	case table.Table:
		v.music = &musicTable{}
		table.Decode(n, v.music, p)
		return
	}
	if n.Kind != table.Array {
		v.bpm.DecodeNode(n, p)
		return
	}
	for _, item := range n.Items {
		var c changeTable
		table.Decode(item, &c, p)
		v.list = append(v.list, c)
	}
}

// counts is a number of counts, 8 or "8 counts": a length in the music, which no unit of time can give.
type counts struct{ table.Num }

var countsForm = regexp.MustCompile(`^\s*(\d{1,6}(?:\.\d{1,6})?)(?:\s*counts?)?\s*$`)

// secondsForm is a length of time where one in counts is wanted.
var secondsForm = regexp.MustCompile(`(?i)^\s*(\d{1,6}(?:\.\d{1,6})?)\s*(?:s|secs?|seconds?)\s*$`)

func (v *counts) DecodeNode(n *table.Node, p *source.Problems) {
	switch m := countsForm.FindStringSubmatch(n.Text); {
	case n.Kind == table.Number:
		v.Num.DecodeNode(n, p)
	case n.Kind == table.String && m != nil:
		v.V, _ = strconv.ParseFloat(m[1], 64)
		v.Span, v.Set = n.Span, true
	case n.Kind == table.String && secondsForm.MatchString(n.Text):
		p.Add(secondsForCounts(n, secondsForm.FindStringSubmatch(n.Text)[1]))
	default:
		table.WrongType(n, `a number of counts, 8 or "8 counts"`, p)
	}
}

func movement(t movementTable, p *source.Problems) Movement {
	m := Movement{Name: t.Name.V, Span: t.Span, Counts: t.Counts}
	m.WaitS = t.Wait.Within(unit.Duration, 0, 0, longestPauseS, "the wait before a movement", p)
	if m.Counts.Set && (m.Counts.V < 1 || m.Counts.V > longestCounts) {
		p.Add(badMovementCounts(m.Counts))
		m.Counts = table.Int{}
	}
	before := p.Errors()
	if t.Tempo.music != nil {
		m.File = musicFile(t.Tempo.music, p)
		m.Changes = []clock.Change{{At: 1, BPM: neutralBPM}} // until the file is read
		return m
	}
	if t.Tempo.list == nil {
		m.Changes = []clock.Change{{At: 1, BPM: bpm(t.Tempo.bpm, p)}}
	} else {
		m.Changes = changes(t.Tempo, p)
	}
	if p.Errors() > before || len(m.Changes) == 0 || !(m.Changes[0].BPM > 0) {
		m.Changes = []clock.Change{{At: 1, BPM: neutralBPM}}
	}
	return m
}

func bpm(n table.Num, p *source.Problems) float64 {
	if n.Set && !(n.V >= slowestBPM && n.V <= fastestBPM) {
		p.Add(badBPM(n.Span, n.V))
	}
	return n.V
}

// changes reads a list of tempos, and sees that one entry ends before the next begins.
func changes(v tempoValue, p *source.Problems) []clock.Change {
	var list []clock.Change
	end := 0.0 // of the last entry and its ramp, as a count
	for i, t := range v.list {
		c := clock.Change{At: t.At.V, BPM: bpm(t.BPM, p), Over: t.Over.V,
			PauseS: t.Pause.Within(unit.Duration, 0, 0, longestPauseS, "a pause", p)}
		switch {
		case !t.At.Set: // reported as missing
		case c.At < 1 || c.At > longestCounts:
			p.Add(badTempoCount(t.At.Span, c.At))
		case i == 0 && c.At != 1:
			p.Add(firstTempoLate(t.At.Span, c.At))
		case i > 0 && c.At < end:
			p.Add(tempoOverlaps(t.At.Span, c.At, end))
		case t.Over.Set && (c.Over <= 0 || c.Over > longestCounts):
			p.Add(badRamp(t.Over.Span, c.Over))
		case t.Over.Set && (!t.BPM.Set || i == 0):
			p.Add(rampToNowhere(t.Over.Span))
		case i == 0 && !t.BPM.Set:
			p.Add(firstTempoWithoutBPM(t.Span))
		case !t.BPM.Set && !t.Pause.Set:
			p.Add(emptyTempoEntry(t.Span))
		}
		end = math.Max(end, c.At+c.Over)
		list = append(list, c)
	}
	if len(list) == 0 {
		p.Add(noTempos(v.span))
	}
	return list
}
