package compile

import (
	"fmt"
	"math"
	"slices"
	"sync/atomic"

	"backfield/cue"
	"backfield/cue/clock"
	"backfield/layout/sound"
	"backfield/layout/source"
	"backfield/layout/stand"
)

// settle computes every open line of every piece and lets closed ones take the pan and delay that they need
// next, so that these move while nobody hears it; after its last opening a line keeps what it had.
//
// After errors there is nobody to compute a stand for: then only what is wrong with dots and levels is found.
func (r *Result) settle(p *source.Problems) *cue.Show {
	r.broken = p.Errors() > 0
	e := r.newEngine()
	r.checkPolicies(p)
	r.checkZones(p)
	r.spans = r.walk(e)
	r.pieces = r.divide(r.spans)
	r.works = r.workAll(e, p)
	show := r.head(e.system)
	next := make([]*Working, len(r.lines)) // what each line needs next, going backwards
	for _, open := range r.works {
		for _, w := range open {
			next[w.line] = w
		}
	}
	show.Cues = make([]cue.Snapshot, len(r.pieces))
	for i := len(r.pieces) - 1; i >= 0; i-- {
		for _, w := range r.works[i] {
			next[w.line] = w
		}
		show.Cues[i] = r.snapshot(r.pieces[i], r.works[i], next)
	}
	if !r.Doubt && p.Errors() == 0 {
		r.checkRules(e, show, p)
	}
	return show
}

// workAll computes all pieces' open lines, spread over the cores, and reports in order.
func (r *Result) workAll(e *engine, p *source.Problems) [][]*Working {
	works := make([][]*Working, len(r.pieces))
	type job struct{ piece, track int }
	var jobs []job
	for i, pc := range r.pieces {
		for t, track := range r.spans[pc.cue].tracks {
			if pc.lo < len(track.at) { // else the mic has changed hands by then
				jobs = append(jobs, job{i, t})
			}
		}
	}
	done := make([]*Working, len(jobs))
	var finished atomic.Int64
	e.each(len(jobs), func(h *hand, n int) {
		pc := r.pieces[jobs[n].piece]
		t := &r.spans[pc.cue].tracks[jobs[n].track]
		done[n] = r.work(e, h, r.spans, pc, t)
		done[n].line = t.line
		if r.Progress != nil {
			r.Progress(float64(finished.Add(1)) / float64(len(jobs)))
		}
	})
	for n, w := range done {
		pc := r.pieces[jobs[n].piece]
		works[jobs[n].piece] = append(works[jobs[n].piece], w)
		r.report(w, r.id(pc), &r.Cues[pc.cue], r.Cues[pc.cue].open[w.line], p)
	}
	r.carryOn(works)
	return works
}

// carryOn lets a line whose mic changes hands inside a cue go on with the old holder's numbers until the next
// cue: who is open stays open, and no follow-on of somebody else's may mute him.
func (r *Result) carryOn(works [][]*Working) {
	for i, pc := range r.pieces {
		for _, t := range r.spans[pc.cue].tracks {
			if pc.lo < len(t.at) {
				continue
			}
			for _, w := range works[i-1] { // the piece before is of the same cue: a track has its first sample
				if w.line == t.line {
					works[i] = append(works[i], w)
				}
			}
		}
	}
}

// id is a piece's cue id: the cue's own, or with the number of the follow-on behind a point.
func (r *Result) id(pc piece) string {
	if pc.n == 0 {
		return r.Cues[pc.cue].Cue.ID.V
	}
	return fmt.Sprintf("%s.%d", r.Cues[pc.cue].Cue.ID.V, pc.n)
}

func (r *Result) snapshot(pc piece, open []*Working, next []*Working) cue.Snapshot {
	m := &r.Cues[pc.cue]
	from, to := r.spans[pc.cue].samples[pc.lo], r.spans[pc.cue].samples[pc.hi]
	s := cue.Snapshot{
		ID: r.id(pc), At: m.Cue.At.V, Name: m.Cue.Name.V,
		Movement: from.Movement, Count: tidy(from.Count()), Set: r.Clock.Set(from), TimeS: tidy(r.Clock.Seconds(from)),
		Auto: m.Cue.Auto, FadeCounts: m.Cue.FadeCounts, FadeS: tidy(r.Clock.Span(from, m.Cue.FadeCounts)),
	}
	if pc.n == 0 {
		s.Also = raws(m.Cue.Also)
	} else {
		s.At, s.FollowOn = clock.Position{Movement: from.Movement, Count: tidy(from.Count())}.String(), true
		s.FadeCounts, s.FadeS, s.Auto = 0, 0, false
	}
	working := map[int]*Working{}
	for _, w := range open {
		working[w.line] = w
	}
	for li := range r.lines {
		l := &r.lines[li]
		c := cue.Channel{Channel: l.channel, Kind: cue.Worn, LevelDB: cue.Silent, Notes: []string{}}
		c.Params = r.values(next[li])
		if w := next[li]; w != nil {
			c.Pan, c.DelayMS, c.Sends = w.Pan, w.DelayMS, w.Sends
		} else if r.Rig.Zones {
			c.Sends = r.sends(sound.Zones{Send: make([]float64, len(r.Rig.Spoken()))})
		}
		if l.fixed != nil {
			c.Kind, c.Player = cue.Fixed, l.fixed.Name
		} else if h := l.holder(from); h != nil {
			c.Player = h.Player
		}
		start, _ := r.where(l, from)
		end, ok := r.where(l, to)
		if h := l.holder(to); !ok || l.fixed == nil && h.Player != c.Player {
			end = start // another wears it by then
		}
		if w := working[li]; w != nil {
			c.Open, c.Role, c.LevelDB = true, w.Role, cue.Level(w.LevelDB)
			c.Notes = append(c.Notes, w.Notes...)
			c.Fit = fit(w.Fit)
			start, end = w.Start, w.End
		}
		c.Place, c.End = place(start.X, start.Y, start.Z), place(end.X, end.Y, end.Z)
		s.Channels = append(s.Channels, c)
	}
	return s
}

func fit(f *stand.Fit) *cue.Fit {
	if f == nil {
		return nil
	}
	share := func(v float64) float64 { return math.Round(v*1e4) / 1e4 }
	ms := func(v float64) float64 { return math.Round(v*100) / 100 }
	return &cue.Fit{Inside: share(f.Inside), Early: share(f.Early), Late: share(f.Late), WorstEarlyMS: ms(f.WorstEarlyMS), WorstLateMS: ms(f.WorstLateMS), MedianMS: ms(f.MedianMS)}
}

// checkPolicies reports ways to choose that need a stand where there is none.
func (r *Result) checkPolicies(p *source.Problems) {
	if r.seats > 0 || r.Rig.Partial {
		return
	}
	need := func(what string, at source.Span) {
		p.Error("no-stand", at, what+" needs a stand, and the rig has none", "add [[stand]] or seats to the rig, or use \"reference\"")
	}
	policy := func(name string, at source.Span) {
		if name != "" && name != string(stand.Reference) {
			need(fmt.Sprintf("the policy %q", name), at)
		}
	}
	policy(r.Score.Policy.V, r.Score.Policy.Span)
	for _, role := range r.Score.Roles {
		policy(role.Policy, role.Span)
	}
	for i := range r.Cues {
		policy(r.Cues[i].Cue.Policy, r.Cues[i].Cue.ID.Span)
	}
	for _, w := range r.Roster.Wears {
		policy(w.Policy, w.Span)
	}
	if r.Score.StandFit {
		need("a pan by stand-fit", r.Score.File.Whole())
	}
}

// checkZones tells of settings of the pan that a rig with zones has no use for.
func (r *Result) checkZones(p *source.Problems) {
	if r.Rig.Zones && r.Score.StandFit {
		p.Warn("zones-pan", r.Score.File.Whole(), "the score pans by stand-fit, and this rig feeds its stacks by zones", "the sends follow the player's direction instead; leave it for stereo nights, or take it out")
	}
}

// Explain returns the working behind one player's or fixed mic's numbers in one cue or follow-on. Where he is
// closed, it returns the working that his pan and delay come from and the id of its cue; closed tells that. An
// error says why there is none.
func (r *Result) Explain(cueID, name string) (w *Working, at string, closed bool, err error) {
	i := -1
	var ids []string
	for j, pc := range r.pieces {
		if ids = append(ids, r.id(pc)); ids[j] == cueID {
			i = j
		}
	}
	if i < 0 {
		return nil, "", false, fmt.Errorf("no cue %q; %s", cueID, source.DidYouMean(cueID, ids, "it is "+source.OneOf(ids)))
	}
	find := func(i int, is func(w *Working) bool) *Working {
		if n := slices.IndexFunc(r.works[i], is); n >= 0 {
			return r.works[i][n]
		}
		return nil
	}
	if w := find(i, func(w *Working) bool { return w.Name == name }); w != nil {
		return w, cueID, false, nil
	}
	// He is closed: his line's numbers are those that the line needs next, whoever wears it then.
	line := slices.IndexFunc(r.lines, func(l line) bool { return l.fixed != nil && l.fixed.Name == name })
	from := r.spans[r.pieces[i].cue].samples[r.pieces[i].lo]
	if line < 0 {
		if n, ok := r.lineOf(name, from); ok {
			line = n
		} else if _, known := r.Roster.Player(name); known {
			return nil, "", false, fmt.Errorf("%s wears no mic in cue %q; %s", name, cueID, r.whoWears(name))
		}
	}
	if line >= 0 {
		order := []int{}
		for j := i + 1; j < len(r.pieces); j++ {
			order = append(order, j)
		}
		for j := len(r.pieces) - 1; j >= 0; j-- { // after its last opening a line keeps what it had
			order = append(order, j)
		}
		for _, j := range order {
			if w := find(j, func(w *Working) bool { return w.line == line }); w != nil {
				return w, ids[j], true, nil
			}
		}
	}
	names := r.micNames()
	if slices.Contains(names, name) {
		return nil, "", false, fmt.Errorf("no cue opens %q", name)
	}
	return nil, "", false, fmt.Errorf("no player and no fixed mic %q; %s", name, source.DidYouMean(name, names, "the roster lists the players, the rig the fixed mics"))
}

// System is what the numbers were computed with.
func (r *Result) System() *sound.System { return r.Rig.System(r.Desk.Law) }
