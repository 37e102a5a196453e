package suggest

import (
	"cmp"
	"math"
	"slices"
)

const (
	openRestCounts = 8    // the longest rest over which a mic stays open
	togetherCounts = 4    // nobody presses twice in so many counts: entries and releases that are closer share a cue
	briefCounts    = 4    // what is shorter is not worth a mic while others play
	fewNotes       = 3    // so few notes are not either, unless they are long
	cutCounts      = 0.25 // so much of a last note may fall into the fade that closes its mic
)

// phrase is a time for which a player's mic should be open, over rests that are not worth closing it for.
type phrase struct {
	player   int // in the roster
	from, to float64
	notes    int
	solo     bool
	opens    float64 // the time of the cue that opens it
	closes   float64 // the time of the cue that closes it; +Inf where none does
}

// phrases are those of all wearers in a movement, by their beginning.
func (x *firstScore) phrases(movement int) []phrase {
	var list []phrase
	for i, player := range x.Roster.Players {
		lane := x.lanes[player.Name]
		if lane == nil || !x.wears(player.Name) {
			continue
		}
		own := len(list)
		for _, run := range lane.Passages() {
			notes := 0
			for _, n := range lane.Notes {
				if n.From > run.From-1e-6 && n.From < run.To-1e-6 {
					notes++
				}
			}
			if n := len(list); n > own && run.From <= list[n-1].to+openRestCounts && run.Solo == list[n-1].solo {
				list[n-1].to = max(list[n-1].to, run.To)
				list[n-1].notes += notes
				continue
			}
			list = append(list, phrase{player: i, from: run.From, to: run.To, notes: notes, solo: run.Solo})
		}
	}
	slices.SortStableFunc(list, func(a, b phrase) int { return cmp.Compare(a.from, b.from) })
	all := slices.Clone(list)
	long := slices.DeleteFunc(slices.Clone(list), phrase.brief)
	return slices.DeleteFunc(list, func(p phrase) bool {
		near := func(q phrase) bool { // the same player, in another role
			return q.player == p.player && q != p && q.from <= p.to+openRestCounts && p.from <= q.to+openRestCounts
		}
		return p.brief() && !slices.ContainsFunc(all, near) && slices.ContainsFunc(long, func(q phrase) bool {
			return q.hides(p)
		})
	})
}

// brief reports whether a phrase is only a few notes of no solo.
func (p phrase) brief() bool {
	counts := p.to - p.from
	return !p.solo && (counts <= briefCounts+1e-6 || p.notes <= fewNotes && counts <= 2*briefCounts+1e-6)
}

// hides reports whether a brief phrase of another player is not worth a mic: it sounds while this one does, all of it
// unless it is very short.
func (p phrase) hides(brief phrase) bool {
	if brief.to-brief.from <= briefCounts+1e-6 {
		return p.from < brief.to && p.to > brief.from
	}
	return p.from < brief.from+1e-6 && p.to > brief.to-1e-6
}

// enters is the count on which a phrase begins.
func (p phrase) enters() float64 { return max(math.Floor(p.from+1e-6), 0) }

// ends is the first count from which the mic may close.
func (p phrase) ends() float64 { return math.Ceil(p.to - cutCounts - 1e-6) }

// release is the count on which a phrase has ended, at the latest that of the end of the movement.
func (p phrase) release(end float64) float64 { return min(math.Ceil(p.to-1e-6), end) }

// goesOn reports whether the player goes on after a phrase, in another role.
func goesOn(list []phrase, p phrase) bool {
	return slices.ContainsFunc(list, func(q phrase) bool {
		return q.player == p.player && q.from > p.from+1e-6 && q.from < p.to+openRestCounts+1e-6
	})
}

// entries finds the times of the cues that open mics, and puts each phrase to one. Entries that come together share a
// cue, on the count of the first; one before the barline waits for those on it. Where others release just after an
// entry, the cue is at their release: there the old ends, and open_early has opened the new.
func entries(list []phrase) (times []float64) {
	for i := 0; i < len(list); {
		first := list[i]
		begin := first.enters()
		if len(times) == 0 && begin <= togetherCounts {
			begin = 0
		}
		joint := begin
		if begin > 0 && first.from > begin+1e-6 &&
			slices.ContainsFunc(list[i:], func(p phrase) bool { return p.enters() == begin+1 }) {
			joint = begin + 1
		}
		for _, p := range list[:i] {
			if end := p.ends(); end > joint && end <= begin+togetherCounts && !goesOn(list, p) {
				joint = end
			}
		}
		for _, p := range list[i:] { // a cue of its own closes the mic for a rest just before: not too close to that
			for _, q := range list[:i] {
				rest := q.player == p.player && p.enters() <= joint+togetherCounts && !goesOn(list, q)
				if apart := q.ends() + togetherCounts + 1; rest && apart > joint && apart <= begin+togetherCounts {
					joint = apart
				}
			}
		}
		times = append(times, joint)
		for i < len(list) && list[i].enters() <= joint+togetherCounts {
			list[i].opens = joint
			i++
		}
	}
	return times
}

// releases adds the times of cues that only close mics, where no other cue comes soon after a phrase has ended, and
// finds which cue closes each phrase. After the last note of the movement all mics close.
func releases(list []phrase, times []float64, end float64) []float64 {
	var ends []phrase
	last := 0.0
	for _, p := range list {
		if !goesOn(list, p) {
			ends = append(ends, p)
			last = max(last, p.release(end))
		}
	}
	slices.SortStableFunc(ends, func(a, b phrase) int { return cmp.Compare(a.to, b.to) })
	for _, p := range ends {
		at := p.release(end)
		next := slices.IndexFunc(times, func(t float64) bool { return t > min(p.ends(), end)-1e-6 && t > p.opens+1e-6 })
		if next >= 0 && times[next] <= p.to+openRestCounts && !opensAt(list, p.player, times[next]) {
			continue // that cue closes it
		}
		before, after := times[0], math.Inf(1)
		if next < 0 {
			next = len(times)
		} else {
			after = times[next]
		}
		if next > 0 {
			before = times[next-1]
		}
		for _, q := range ends { // with this one
			to := q.release(end)
			if to > at && to <= p.release(end)+togetherCounts && to < after-togetherCounts {
				at = to
			}
		}
		if last <= p.to+openRestCounts && last < after-togetherCounts {
			at = last
		}
		if free := max(at, before+togetherCounts+1); free < after-togetherCounts {
			at = free
		} else if at = max(at, before+togetherCounts-1); at > after-togetherCounts+1 {
			continue
		}
		if at = min(at, end); at > before {
			times = slices.Insert(times, next, at)
		}
	}
	for i := range list {
		p := &list[i]
		p.closes = math.Inf(1)
		for _, t := range times {
			if t > p.opens && t > min(p.ends(), end)-1e-6 {
				p.closes = t
				break
			}
		}
	}
	return times
}

// opensAt reports whether a cue opens a phrase of a player, and so closes nothing of theirs.
func opensAt(list []phrase, player int, at float64) bool {
	return slices.ContainsFunc(list, func(p phrase) bool { return p.player == player && p.opens == at })
}
