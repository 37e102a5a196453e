package suggest

import (
	"cmp"
	"math"
	"slices"

	"backfield/cue/clock"
	"backfield/cue/compile"
	"backfield/cue/parts"
	"backfield/cue/score"
	"backfield/cue/timeline"
)

const (
	openRestCounts = 8   // the longest rest over which a mic stays open
	togetherCounts = 4   // entries and releases that are closer than this share a cue
	standsOutDB    = 4.0 // one mark: by so much the featured are louder than the others
	fewPlayers     = 2   // so many alone are featured
	briefCounts    = 4   // what is shorter is not worth a mic while others play
	autoCounts     = 8   // a cue that only closes mics comes by itself so soon after the one before
)

// FirstCue is a cue of a first score.
type FirstCue struct {
	At    clock.Moment
	After float64        // it comes by itself so many counts after the cue before; 0: at its place
	Open  []FirstOpening // by player, in the order of the roster
	Early float64        // open_early, in counts
}

// FirstOpening is a player whose mic a cue has open.
type FirstOpening struct {
	Player, Section string
	Role            string
	Solo            bool
}

// phrase is a time for which a player's mic should be open, over rests that are not worth closing it for.
type phrase struct {
	player   int // in the roster
	from, to float64
	solo     bool
	open     int // the cue that opens it
	close    int // the cue that closes it; the number of cues where none does
}

// FirstScore proposes the cues of a show that has none, from who plays when: each opens the mics of those who enter, in
// time for the first note, and closes those whose players rest for long. Only who wears a pack and has a part counts.
func FirstScore(r *compile.Result) []FirstCue {
	x := &firstScore{Result: r}
	x.castRoles()
	for m := range r.Clock.Movements {
		x.movement(m + 1)
	}
	x.tidy()
	return x.cues
}

// firstScore gathers the cues.
type firstScore struct {
	*compile.Result
	solo, front, together, behind string
	cues                          []FirstCue
}

// castRoles finds the roles for a solo, for those in front, for all together and for those behind: the loudest, of those
// that are not for fixed mics. Where there are two, the louder one is for both a solo and the front; where there are
// three, the softest is for both all together and those behind.
func (x *firstScore) castRoles() {
	list := slices.DeleteFunc(slices.Clone(x.Score.Roles), func(role score.Role) bool {
		return slices.ContainsFunc(x.Score.Always, func(o score.RoleOpen) bool { return o.Role.V == role.Name })
	})
	if len(list) == 0 {
		list = x.Score.Roles
	}
	slices.SortStableFunc(list, func(a, b score.Role) int { return cmp.Compare(b.LevelDB, a.LevelDB) })
	if len(list) == 2 {
		list = slices.Insert(list, 0, list[0])
	}
	last := len(list) - 1
	name := func(rank int) string { return list[min(rank, last)].Name }
	x.solo, x.front, x.together, x.behind = name(0), name(1), name(2), name(3)
}

// phrases are those of all wearers in a movement, by their beginning.
func (x *firstScore) phrases(movement int) []phrase {
	var list []phrase
	for i, player := range x.Roster.Players {
		lane := x.Setup.Lanes.Of(player.Name, movement)
		if lane == nil || !x.wears(player.Name) {
			continue
		}
		own := len(list)
		for _, run := range lane.Runs {
			if n := len(list); n > own && run.From <= list[n-1].to+openRestCounts && run.Solo == list[n-1].solo {
				list[n-1].to = max(list[n-1].to, run.To)
				continue
			}
			list = append(list, phrase{player: i, from: run.From, to: run.To, solo: run.Solo})
		}
	}
	slices.SortStableFunc(list, func(a, b phrase) int { return cmp.Compare(a.from, b.from) })
	long := slices.DeleteFunc(slices.Clone(list), phrase.brief)
	return slices.DeleteFunc(list, func(p phrase) bool {
		return p.brief() && slices.ContainsFunc(long, func(q phrase) bool { return q.from < p.to && q.to > p.from })
	})
}

// brief reports whether a phrase is only a note or two of no solo.
func (p phrase) brief() bool { return !p.solo && p.to-p.from <= briefCounts+1e-6 }

func (x *firstScore) wears(player string) bool {
	return slices.ContainsFunc(x.Lines.List, func(line timeline.Line) bool {
		return slices.ContainsFunc(line.Wears, func(w timeline.LineWear) bool { return w.Player == player })
	})
}

// movement adds the cues of a movement.
func (x *firstScore) movement(number int) {
	counts := x.Clock.Movements[number-1].Counts
	list := slices.DeleteFunc(x.phrases(number), func(p phrase) bool { return p.from > counts-1e-6 })
	times := entries(list)
	switch {
	case len(times) == 0 || times[0] >= togetherCounts: // the movement begins with nobody open
		times = append([]float64{0}, times...)
	default:
		times[0] = 0
	}
	times = releases(list, times, counts)
	for i := range list {
		p := &list[i]
		for p.open+1 < len(times) && times[p.open+1] <= max(p.from, 0)+1e-6 {
			p.open++
		}
		for p.close = p.open + 1; p.close < len(times) && times[p.close] < p.to-1e-6; {
			p.close++
		}
	}
	for k, at := range times {
		until := counts
		if k+1 < len(times) {
			until = times[k+1]
		}
		x.cues = append(x.cues, x.cue(clock.Moment{Movement: number, Elapsed: at}, until, k, list))
	}
}

// entries are the times of cues that open mics: of entries that come together, the first, on its count.
func entries(list []phrase) (times []float64) {
	for _, p := range list {
		at := max(math.Floor(p.from+1e-6), 0)
		if n := len(times); n == 0 || at >= times[n-1]+togetherCounts {
			times = append(times, at)
		}
	}
	return times
}

// releases adds the times of cues that only close mics: where no other cue comes soon after a phrase has ended.
func releases(list []phrase, times []float64, counts float64) []float64 {
	ends := slices.Clone(list)
	slices.SortStableFunc(ends, func(a, b phrase) int { return cmp.Compare(a.to, b.to) })
	for _, p := range ends {
		at := math.Ceil(p.to - 1e-6)
		next := slices.IndexFunc(times, func(t float64) bool { return t > at-1e-6 && t > p.from+1e-6 })
		if next >= 0 && times[next] <= p.to+openRestCounts && !enters(list, p.player, times[next]) {
			continue
		}
		if next < 0 {
			next = len(times)
		}
		if next > 0 {
			at = max(at, times[next-1]+togetherCounts)
		}
		if next < len(times) && times[next] < at+togetherCounts || at > counts-togetherCounts {
			continue // the next cue closes it, or the end of the movement
		}
		times = slices.Insert(times, next, at)
	}
	return times
}

// enters reports whether a player enters with a cue, which then closes nothing of theirs.
func enters(list []phrase, player int, at float64) bool {
	return slices.ContainsFunc(list, func(p phrase) bool {
		return p.player == player && p.from > at-1e-6 && p.from < at+togetherCounts
	})
}

// cue is the k-th cue of a movement, up to the next one.
func (x *firstScore) cue(at clock.Moment, until float64, k int, list []phrase) FirstCue {
	c := FirstCue{At: at}
	early := 0.0
	loud := map[string]float64{}
	for _, p := range slices.Backward(list) { // of two phrases of a player the later one
		player := x.Roster.Players[p.player]
		_, wears := x.Lines.LineOf(player.Name, at)
		if _, has := loud[player.Name]; has || !wears || p.open > k || p.close <= k {
			continue
		}
		if p.open == k && !x.openBefore(player.Name) {
			early = max(early, 1, math.Ceil(at.Elapsed-p.from-1e-6)+1)
		}
		lane := x.Setup.Lanes.Of(player.Name, at.Movement)
		loud[player.Name] = loudness(lane, at.Elapsed, until)
		c.Open = append(c.Open, FirstOpening{Player: player.Name, Section: player.Section, Solo: p.solo})
	}
	order := x.Roster.Names()
	slices.SortStableFunc(c.Open, func(a, b FirstOpening) int {
		return cmp.Compare(slices.Index(order, a.Player), slices.Index(order, b.Player))
	})
	x.cast(c.Open, loud)
	c.Early = early
	return c
}

// openBefore reports whether the cue before has a player's mic open.
func (x *firstScore) openBefore(player string) bool {
	n := len(x.cues)
	return n > 0 && slices.ContainsFunc(x.cues[n-1].Open, func(o FirstOpening) bool { return o.Player == player })
}

// loudness is the loudest run between two places, in dB from forte; -Inf where the player rests.
func loudness(lane *parts.PlayerLane, from, to float64) float64 {
	loudest := math.Inf(-1)
	for _, run := range lane.Runs {
		if run.To > from && run.From < to {
			loudest = max(loudest, run.LoudDB)
		}
	}
	return loudest
}

// cast gives each player a role. In front are those whom the music calls solo or soli; otherwise those who play a mark
// louder than somebody else, if they are not the most; and one or two who play alone. The others are behind them, and so
// is who rests. Where nobody is in front, all are together.
func (x *firstScore) cast(open []FirstOpening, loudDB map[string]float64) {
	loudest, softest := math.Inf(-1), math.Inf(1)
	for _, db := range loudDB {
		if loudest = max(loudest, db); !math.IsInf(db, -1) {
			softest = min(softest, db)
		}
	}
	var louder []string
	for _, o := range open {
		if loudDB[o.Player] > loudest-standsOutDB+1e-6 {
			louder = append(louder, o.Player)
		}
	}
	solo := slices.ContainsFunc(open, func(o FirstOpening) bool { return o.Solo })
	standOut := loudest-softest > standsOutDB-1e-6 && (len(louder) <= len(open)/2 || len(open) <= fewPlayers)
	others := x.together
	for i := range open {
		o := &open[i]
		inFront := len(open) <= fewPlayers
		switch {
		case math.IsInf(loudDB[o.Player], -1):
			inFront = false
		case solo:
			inFront = o.Solo
		case standOut:
			inFront = slices.Contains(louder, o.Player)
		}
		switch {
		case inFront && o.Solo:
			o.Role, others = x.solo, x.behind
		case inFront:
			o.Role, others = x.front, x.behind
		}
	}
	for i := range open {
		if open[i].Role == "" {
			open[i].Role = others
		}
	}
}

// tidy takes out cues that change nothing, and what cannot open earlier. What only closes mics soon after a cue comes by
// itself.
func (x *firstScore) tidy() {
	var kept []FirstCue
	for _, c := range x.cues {
		if len(kept) == 0 {
			c.Early = 0
			kept = append(kept, c)
			continue
		}
		before := kept[len(kept)-1]
		if slices.EqualFunc(before.Open, c.Open, func(a, b FirstOpening) bool {
			return a.Player == b.Player && a.Role == b.Role
		}) {
			continue
		}
		gap := c.At.Elapsed - before.At.Elapsed
		if c.At.Movement == before.At.Movement && gap <= autoCounts && len(missing(c.Open, before.Open)) == 0 {
			c.After = gap
		}
		kept = append(kept, c)
	}
	x.cues = kept
}

// missing are the players of a list that are not in another.
func missing(list, from []FirstOpening) (names []string) {
	for _, o := range list {
		if !slices.ContainsFunc(from, func(f FirstOpening) bool { return f.Player == o.Player }) {
			names = append(names, o.Player)
		}
	}
	return names
}
