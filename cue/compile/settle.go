package compile

import (
	"fmt"

	"backfield/cue"
	"backfield/layout/sound"
	"backfield/layout/source"
)

// settle computes every open line of every cue and lets closed ones take the pan and delay that they need
// next, so that these move while nobody hears it; after its last opening a line keeps what it had.
func (r *Result) settle(p *source.Problems) *cue.Show {
	system := r.Rig.System(r.Desk.Law)
	show := r.head(system)
	works := make([]map[int]*Working, len(r.Cues))
	for i := range r.Cues {
		m := &r.Cues[i]
		works[i] = map[int]*Working{}
		for _, l := range sorted(m.open) {
			w := r.work(system, i, l)
			r.report(w, m, m.open[l], p)
			works[i][l] = w
		}
	}
	next := make([]*Working, len(r.lines)) // what each line needs next, going backwards
	last := make([]*Working, len(r.lines))
	for _, open := range works {
		for _, l := range sorted(open) {
			last[l] = open[l]
		}
	}
	copy(next, last)
	show.Cues = make([]cue.Snapshot, len(r.Cues))
	for i := len(r.Cues) - 1; i >= 0; i-- {
		for l, w := range works[i] {
			next[l] = w
		}
		show.Cues[i] = r.snapshot(i, works[i], next)
	}
	return show
}

func (r *Result) snapshot(i int, open map[int]*Working, next []*Working) cue.Snapshot {
	m := &r.Cues[i]
	s := cue.Snapshot{
		ID: m.Cue.ID.V, At: m.Cue.At.V, Name: m.Cue.Name.V,
		Movement: m.At.Movement, Count: tidy(m.At.Count()), Set: r.Clock.Set(m.At), TimeS: tidy(r.Clock.Seconds(m.At)),
		FadeCounts: m.Cue.FadeCounts, FadeS: tidy(r.Clock.Span(m.At, m.Cue.FadeCounts)),
	}
	_, to := r.piece(i)
	for li := range r.lines {
		l := &r.lines[li]
		c := cue.Channel{Channel: l.channel, Kind: cue.Worn, LevelDB: cue.Silent, Notes: []string{}}
		if w := next[li]; w != nil {
			c.Pan, c.DelayMS = w.Pan, w.DelayMS
		}
		if l.fixed != nil {
			c.Kind, c.Player = cue.Fixed, l.fixed.Name
		} else if h := l.holder(m.At); h != nil {
			c.Player = h.Player
		}
		start, _ := r.where(l, m.At)
		end, ok := r.where(l, to)
		if !ok {
			end = start
		}
		if w := open[li]; w != nil {
			c.Open, c.Role, c.LevelDB, c.Notes = true, w.Role, cue.Level(w.LevelDB), w.Notes
			start, end = w.Start, w.End
		}
		if c.Notes == nil {
			c.Notes = []string{}
		}
		c.Place, c.End = place(start.X, start.Y, start.Z), place(end.X, end.Y, end.Z)
		s.Channels = append(s.Channels, c)
	}
	return s
}

// Explain returns the working behind one player's or fixed mic's numbers in one cue. Where he is closed, it
// returns the working that his pan and delay come from, and the cue it belongs to; next tells that this is a
// later cue. An error says why there is none.
func (r *Result) Explain(cueID, name string) (w *Working, at *Moment, closed bool, err error) {
	i := -1
	for j := range r.Cues {
		if r.Cues[j].Cue.ID.V == cueID {
			i = j
		}
	}
	if i < 0 {
		var ids []string
		for _, m := range r.Cues {
			ids = append(ids, m.Cue.ID.V)
		}
		return nil, nil, false, fmt.Errorf("no cue %q; %s", cueID, source.DidYouMean(cueID, ids, "it is "+source.OneOf(ids)))
	}
	system := r.Rig.System(r.Desk.Law)
	find := func(i int) (*Working, *Moment) {
		for _, l := range sorted(r.Cues[i].open) {
			if r.Cues[i].open[l].name == name {
				return r.work(system, i, l), &r.Cues[i]
			}
		}
		return nil, nil
	}
	if w, at = find(i); w != nil {
		return w, at, false, nil
	}
	for j := i + 1; j < len(r.Cues); j++ {
		if w, at = find(j); w != nil {
			return w, at, true, nil
		}
	}
	for j := i - 1; j >= 0; j-- {
		if w, at = find(j); w != nil {
			return w, at, true, nil
		}
	}
	names := r.micNames()
	for _, n := range names {
		if n == name {
			return nil, nil, false, fmt.Errorf("no cue opens %q", name)
		}
	}
	return nil, nil, false, fmt.Errorf("no player and no fixed mic %q; %s", name, source.DidYouMean(name, names, "the roster lists the players, the rig the fixed mics"))
}

// System is what the numbers were computed with.
func (r *Result) System() *sound.System { return r.Rig.System(r.Desk.Law) }
