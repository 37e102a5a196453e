package score

import (
	"strings"

	"backfield/cue/clock"
	"backfield/layout/levelkeys"
	"backfield/layout/source"
	"backfield/layout/table"
	"backfield/layout/unit"
)

// cueTable is one [[cue]].
type cueTable struct {
	table.Where
	ID      table.Text                `key:"id,required"`
	At      given                     `key:"at"`
	After   length                    `key:"after"`
	Name    table.Text                `key:"name"`
	Open    table.Map[[]table.Text]   `key:"open"`
	Close   []table.Text              `key:"close"`
	Keep    table.Flag                `key:"keep"`
	Fade    counts                    `key:"fade"`
	FadeOut counts                    `key:"fade_out"`
	Early   counts                    `key:"open_early"`
	Nudge   table.Map[table.Quantity] `key:"nudge"`

	Param table.Map[table.Map[table.Setting]] `key:"param"`
	Also  []rawTable                          `key:"also"`

	Dynamics table.Map[dynamicsValue] `key:"dynamics"`
	Plays    []table.Text             `key:"plays"`
	Rests    []table.Text             `key:"rests"`

	Facing table.Map[levelkeys.Pointing] `key:"facing"`

	Policy policyChoice `key:"policy"`
	Box    boxValue     `key:"box"`
	Allow  []table.Text `key:"allow"`
}

// FormerKey is about a cue's waypoints.
func (cueTable) FormerKey(_ *table.Node, name string, at source.Span) (source.Problem, bool) {
	return cueWaypointsGone(at, name), isWaypoints(name)
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

// openings are who is open in which role, in the order of the file.
func openings(m table.Map[[]table.Text]) []RoleOpen {
	var list []RoleOpen
	for _, e := range m.Entries {
		list = append(list, RoleOpen{e.Name, e.Value})
	}
	return list
}

func (s *Score) readCues(list []cueTable, p *source.Problems) {
	if len(list) > mostCues {
		p.Add(tooManyCues(list[mostCues].Span))
		list = list[:mostCues]
	}
	first := map[string]source.Span{} // by id
	for i, t := range list {
		t.checkID(first, p)
		s.Cues = append(s.Cues, t.cue(i == 0, p))
	}
}

// checkID holds an id to what can be typed and is unique; first is where each was first given.
func (t *cueTable) checkID(first map[string]source.Span, p *source.Problems) {
	id := t.ID.V
	switch {
	case !t.ID.Set:
	case id == "" || id != strings.TrimSpace(id) || strings.ContainsAny(id, ".\t\n\r/\\"):
		p.Add(badID(t.ID))
	case first[id].File != nil:
		p.Add(idTwice(t.ID, first[id]))
	default:
		first[id] = t.ID.Span
	}
}

func (t *cueTable) cue(isFirst bool, p *source.Problems) Cue {
	c := Cue{ID: t.ID, Name: t.Name, Span: t.Span, Open: openings(t.Open), Close: t.Close, Keep: t.Keep.V,
		Policy: t.Policy.read(p).V,
		Box:    t.Box.own(p), Allow: t.Allow}
	t.place(&c, isFirst, p)
	c.FadeCounts = fadeCounts(t.Fade, p)
	if t.FadeOut.Set {
		out := fadeCounts(t.FadeOut, p)
		c.FadeOut = &out
	}
	if t.Early.Set {
		early := earlyCounts(t.Early, p)
		c.EarlyCounts, c.EarlyAt = &early, t.Early.Span
	}
	for _, e := range t.Nudge.Entries {
		db := e.Value.Within(unit.Level, 0, -loudestDB, loudestDB, "a nudge", p)
		c.Nudges = append(c.Nudges, Nudge{e.Name, db})
	}
	for _, e := range t.Param.Entries {
		for _, x := range e.Value.Entries {
			c.Params = append(c.Params, ScoreParam{Name: e.Name, Of: x.Name, Value: x.Value})
		}
	}
	c.Also = raws(t.Also, p)
	t.readParts(&c)
	return c
}

// fadeCounts is the length of a fade, 0 for one that cannot be.
func fadeCounts(n counts, p *source.Problems) float64 {
	if n.Set && !(n.V >= 0 && n.V <= longestFade) {
		p.Add(badFade(n.Span, n.V))
		return 0
	}
	return n.V
}

// earlyCounts is by how much mics open before their cue, 0 for what cannot be.
func earlyCounts(n counts, p *source.Problems) float64 {
	return bounded(n.Num, 0, 0, longestEarly, "open_early, in counts,", p)
}

// place reads when a cue goes: at a count, or by itself after the cue before.
func (t *cueTable) place(c *Cue, isFirst bool, p *source.Problems) {
	c.At = t.At.Text
	switch {
	case t.At.There && t.After.Set:
		p.Add(atAndAfter(t.After.Span))
	case t.After.Set && isFirst:
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
	if !t.At.Set {
		return
	}
	var fault *source.Fault
	if c.Position, fault = clock.ParseShowCount(t.At.V); fault != nil {
		p.Add(unreadableCount(t.At.Span, fault))
		return
	}
	c.Placed = true
}
