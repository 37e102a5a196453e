package score

import (
	"strings"

	"backfield/cue/clock"
	"backfield/layout/source"
	"backfield/layout/table"
	"backfield/layout/unit"
)

type cueTable struct {
	table.Where
	ID    table.Text                `key:"id,required"`
	At    given                     `key:"at"`
	After length                    `key:"after"`
	Name  table.Text                `key:"name"`
	Open  table.Map[[]table.Text]   `key:"open"`
	Close []table.Text              `key:"close"`
	Keep  table.Flag                `key:"keep"`
	Fade  counts                    `key:"fade"`
	Nudge table.Map[table.Quantity] `key:"nudge"`

	Param table.Map[table.Map[table.Setting]] `key:"param"`
	Also  []rawTable                          `key:"also"`

	Policy table.Text   `key:"policy"`
	Follow table.Flag   `key:"follow"`
	Allow  []table.Text `key:"allow"`
}

// given is a text that may be left out, and may be there and be none.
type given struct {
	table.Text
	There bool
}

func (g *given) DecodeNode(n *table.Node, p *source.Problems) {
	g.There = true
	g.Text.DecodeNode(n, p)
}

// length is a number of counts that may be left out, and may be there and be none.
type length struct {
	counts
	There bool
}

func (l *length) DecodeNode(n *table.Node, p *source.Problems) {
	l.There = true
	l.counts.DecodeNode(n, p)
}

func openings(m table.Map[[]table.Text]) []Opening {
	var list []Opening
	for _, e := range m.Entries {
		list = append(list, Opening{e.Name, e.Value})
	}
	return list
}

func (s *Score) readCues(list []cueTable, p *source.Problems) {
	first := map[string]source.Span{}
	if len(list) > mostCues {
		p.Add(tooManyCues(list[mostCues].Span))
		list = list[:mostCues]
	}
	for _, t := range list {
		c := Cue{ID: t.ID, At: t.At.Text, Name: t.Name, Span: t.Span, Open: openings(t.Open), Close: t.Close,
			Keep: t.Keep.V, FadeCounts: t.Fade.V,
			Policy: policy(t.Policy, p).V, Follow: t.Follow.Or(true), Allow: t.Allow}
		if t.ID.Set {
			switch {
			case t.ID.V == "" || t.ID.V != strings.TrimSpace(t.ID.V) || strings.ContainsAny(t.ID.V, ".\t\n\r/\\"):
				p.Add(badID(t.ID))
			case first[t.ID.V].File != nil:
				p.Add(idTwice(t.ID, first[t.ID.V]))
			default:
				first[t.ID.V] = t.ID.Span
			}
		}
		switch {
		case t.At.There && t.After.Set:
			p.Add(atAndAfter(t.After.Span))
		case t.After.Set && len(s.Cues) == 0:
			p.Add(firstCueAfter(t.After.Span))
		case t.After.Set:
			c.AfterCounts, c.Auto, c.At = t.After.V, true, table.Text{Span: t.After.Span}
			if !(c.AfterCounts > 0 && c.AfterCounts <= longestCounts) {
				p.Add(badAfter(t.After.Span, c.AfterCounts))
				c.AfterCounts = 0
			}
		case !t.At.There && !t.After.There:
			p.Add(noAt(t.Span))
		}
		if t.At.Set {
			var fault *source.Fault
			if c.Position, fault = clock.ParsePosition(t.At.V); fault != nil {
				p.Add(badPosition(t.At.Span, fault))
			} else {
				c.Placed = true
			}
		}
		if t.Fade.Set && !(c.FadeCounts >= 0 && c.FadeCounts <= longestFade) {
			p.Add(badFade(t.Fade.Span, c.FadeCounts))
			c.FadeCounts = 0
		}
		for _, e := range t.Nudge.Entries {
			c.Nudges = append(c.Nudges,
				Nudge{e.Name, e.Value.Within(unit.Level, 0, -loudestDB, loudestDB, "a nudge", p)})
		}
		for _, e := range t.Param.Entries {
			for _, x := range e.Value.Entries {
				c.Params = append(c.Params, Param{Name: e.Name, Of: x.Name, Value: x.Value})
			}
		}
		c.Also = raws(t.Also, p)
		s.Cues = append(s.Cues, c)
	}
}
