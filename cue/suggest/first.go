package suggest

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"backfield/cue/clock"
	"backfield/cue/compile"
	"backfield/cue/parts"
	"backfield/cue/timeline"
)

const (
	standsOutDB = 4.0 // one mark: by so much the featured are louder than the others
	fewPlayers  = 2   // so many alone are featured
	autoCounts  = 8   // a cue that only closes mics comes by itself so soon after the one before
)

const whyLouder = "louder than the others"

// FirstCue is a cue of a first score.
type FirstCue struct {
	At    clock.Moment
	After float64        // it comes by itself so many counts after the cue before; 0: at its place
	Open  []FirstOpening // by player, in the order of the roster
	Early float64        // open_early, in counts
	Why   string         // why somebody is in front; empty where nobody is
}

// FirstOpening is a player whose mic a cue has open.
type FirstOpening struct {
	Player, Section string
	Role            string
	Solo            bool
	Front           bool // in front of the others
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
	lanes                         map[string]*parts.PlayerLane // of one movement, with the ends of its solos
	cues                          []FirstCue
}

func (x *firstScore) wears(player string) bool {
	return slices.ContainsFunc(x.Lines.List, func(line timeline.Line) bool {
		return slices.ContainsFunc(line.Wears, func(w timeline.LineWear) bool { return w.Player == player })
	})
}

// movement adds the cues of a movement.
func (x *firstScore) movement(number int) {
	end := x.Clock.Movements[number-1].Counts
	x.endSolos(number)
	list := slices.DeleteFunc(x.phrases(number), func(p phrase) bool { return p.from > end-1e-6 })
	times := entries(list)
	if len(times) == 0 || times[0] > 0 { // the movement begins with nobody open
		times = append([]float64{0}, times...)
	}
	times = x.addTurns(number, list, times, end)
	times = x.addPasses(number, list, times, end)
	x.goStraightOn(number, list)
	times = releases(list, times, end)
	for k, at := range times {
		until := end
		if k+1 < len(times) {
			until = times[k+1]
		}
		x.cues = append(x.cues, x.cue(clock.Moment{Movement: number, Elapsed: at}, until, list))
	}
}

// goStraightOn takes out the cue that closes all mics at the end of the movement before, where this one begins so soon
// that nobody could press both: its first cue closes them.
func (x *firstScore) goStraightOn(number int, list []phrase) {
	n := len(x.cues)
	if n == 0 || len(x.cues[n-1].Open) > 0 || len(list) == 0 || list[0].opens > 0 {
		return
	}
	downbeat := clock.Moment{Movement: number}
	beginsS := x.Clock.Seconds(downbeat) - x.Clock.Span(downbeat, earlyCounts(list[0], 0))
	if beginsS-x.Clock.Seconds(x.cues[n-1].At) < pressedTooCloseS {
		x.cues = x.cues[:n-1]
	}
}

// earlyCounts is how early a cue has to open a mic for the first note of a phrase.
func earlyCounts(p phrase, at float64) float64 { return max(1, math.Ceil(at-p.from-1e-6)+1) }

// cue is a cue of a movement, up to the next one.
func (x *firstScore) cue(at clock.Moment, until float64, list []phrase) FirstCue {
	c := FirstCue{At: at}
	lines := map[string]*playedLine{}
	for _, p := range slices.Backward(list) { // of two phrases of a player the later one
		player := x.Roster.Players[p.player]
		_, wears := x.Lines.LineOf(player.Name, at)
		if !wears || p.opens > at.Elapsed || p.closes <= at.Elapsed {
			continue
		}
		if p.opens == at.Elapsed && !x.openBefore(player.Name) {
			c.Early = max(c.Early, earlyCounts(p, at.Elapsed))
		}
		if lines[player.Name] != nil {
			continue
		}
		lane := x.lanes[player.Name]
		lines[player.Name] = newPlayedLine(lane, at.Elapsed, until)
		c.Open = append(c.Open, FirstOpening{Player: player.Name, Section: player.Section, Solo: p.solo})
	}
	order := x.Roster.Names()
	slices.SortStableFunc(c.Open, func(a, b FirstOpening) int {
		return cmp.Compare(slices.Index(order, a.Player), slices.Index(order, b.Player))
	})
	voices := make([]*playedLine, len(c.Open))
	for i, o := range c.Open {
		voices[i] = lines[o.Player]
	}
	c.Why = x.cast(c.Open, voices)
	return c
}

// openBefore reports whether the cue before has a player's mic open.
func (x *firstScore) openBefore(player string) bool {
	n := len(x.cues)
	return n > 0 && slices.ContainsFunc(x.cues[n-1].Open, func(o FirstOpening) bool { return o.Player == player })
}

// cast gives each player a role, and says why somebody is in front. The others are behind them, and so is who rests.
// Where nobody is in front, all are together.
func (x *firstScore) cast(open []FirstOpening, voices []*playedLine) (why string) {
	front, why := inFront(open, voices)
	others := x.together
	if slices.Contains(front, true) {
		others = x.behind
	}
	for i := range open {
		o := &open[i]
		switch o.Front = front[i]; {
		case o.Front && o.Solo:
			o.Role = x.solo
		case o.Front:
			o.Role = x.front
		default:
			o.Role = others
		}
	}
	return why
}

// inFront finds who is in front: those whom the music calls solo or soli; otherwise those who play a mark louder than
// somebody else, if they are not the most, and who plays the same line; otherwise who has the melody; otherwise one or
// two who play alone.
func inFront(open []FirstOpening, voices []*playedLine) (front []bool, why string) {
	front = make([]bool, len(open))
	loudest, softest, sound := math.Inf(-1), math.Inf(1), 0
	for _, v := range voices {
		if v.loudDB > loudest {
			loudest = v.loudDB
		}
		if v.sounds() {
			softest = min(softest, v.loudDB)
			sound++
		}
	}
	if sound == 0 {
		return front, ""
	}
	soli, louder := 0, 0
	for i, v := range voices {
		if v.sounds() && open[i].Solo {
			soli++
		}
		if v.loudDB > loudest-standsOutDB+1e-6 {
			louder++
		}
	}
	few := len(open) <= fewPlayers
	switch {
	case soli > 0:
		for i, v := range voices {
			front[i] = v.sounds() && open[i].Solo
		}
		return front, "solo or soli in the music"
	case sound == 1 && few:
		for i, v := range voices {
			front[i] = v.sounds()
		}
		return front, "alone"
	case loudest-softest > standsOutDB-1e-6 && (2*louder <= len(open) || few):
		var group []*playedLine
		for i, v := range voices {
			if front[i] = v.loudDB > loudest-standsOutDB+1e-6; front[i] {
				group = append(group, v)
			}
		}
		why = whyLouder
		if k, reason := melody(group); k >= 0 { // only one of them has the melody
			for i, v := range voices {
				front[i] = v == group[k]
			}
			why = reason
		}
		return front, join(open, voices, front, why)
	}
	if k, reason := melody(voices); k >= 0 {
		front[k] = true
		return front, join(open, voices, front, reason)
	}
	if few {
		for i, v := range voices {
			front[i] = v.sounds()
		}
		return front, "two alone"
	}
	return front, ""
}

// join takes those to the front who play the same line as somebody there, and adds them to the reason.
func join(open []FirstOpening, voices []*playedLine, front []bool, why string) string {
	var leads, along, beside []string
	was, bass := slices.Clone(front), bassLines(voices)
	for i, v := range voices {
		if was[i] {
			leads = append(leads, open[i].Player)
			continue
		}
		parallel := false
		for k, lead := range was {
			if lead && v.joins(voices[k], bass[i]) {
				_, alike := v.beside(voices[k])
				front[i], parallel = true, parallel || alike
			}
		}
		switch {
		case parallel:
			along = append(along, open[i].Player)
		case front[i]:
			beside = append(beside, open[i].Player)
		}
	}
	unclear := len(beside) > 0 && why != whyLouder
	if unclear {
		leads, why = append(leads, beside...), "move in the same rhythm, either may have the tune"
	} else {
		along = append(along, beside...)
	}
	if unclear || len(along) > 0 {
		why = strings.Join(leads, ", ") + ": " + why
	}
	if len(along) > 0 {
		why += "; " + strings.Join(along, ", ") + ": moves along"
	}
	return why
}

// tidy takes out cues that change nothing, and what cannot open earlier. What only closes mics soon after a cue comes by
// itself; somebody who comes to the front is worth a go.
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
		inside := c.At.Elapsed < x.Clock.Movements[c.At.Movement-1].Counts-1e-6 // no count is written for the end
		soon := c.At.Movement == before.At.Movement && gap <= autoCounts
		if soon && inside && len(missing(inFrontOf(c.Open), inFrontOf(before.Open))) == 0 &&
			len(missing(c.Open, before.Open)) == 0 {
			c.After = gap
		}
		kept = append(kept, c)
	}
	x.cues = kept
}

// inFrontOf are those of a list who are in front.
func inFrontOf(list []FirstOpening) []FirstOpening {
	return slices.DeleteFunc(slices.Clone(list), func(o FirstOpening) bool { return !o.Front })
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
