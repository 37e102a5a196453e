package suggest

import (
	"math"
	"slices"
)

const (
	passCounts   = 12 // so long somebody has the melody before and after it passes on: more than two measures
	phraseCounts = 16 // so far the notes are looked at for who has it
	nearCounts   = 8  // and so far for the barline at which it passes on
)

// addPasses adds cues at the barlines where the melody passes on from one player to another, without a rest. Around such
// a place it seems to do so at the barlines before and after too: the one in the middle is meant.
func (x *firstScore) addPasses(number int, list []phrase, times []float64, end float64) []float64 {
	m := x.Clock.Movements[number-1]
	if m.Music == nil {
		return times
	}
	var bars, passes []float64
	for _, bar := range m.Music.Measures {
		if bar.From > -1e-6 && bar.From < end && bar.From == math.Floor(bar.From) {
			bars = append(bars, bar.From)
		}
	}
	for k := 0; k < len(bars); k++ {
		var run, closest []float64
		for ; k < len(bars); k++ {
			pass, close := x.passes(list, times, bars[k], end)
			if !pass {
				break
			}
			run = append(run, bars[k])
			if close {
				closest = append(closest, bars[k])
			}
		}
		if len(closest) > 0 {
			run = closest
		}
		if len(run) > 0 {
			passes = append(passes, run[len(run)/2])
		}
	}
	times = append(times, passes...)
	slices.Sort(times)
	return times
}

// passes reports whether those who play on at a place have the melody before or after it, and somebody only after it;
// and whether the counts just before and after it say so too, which they have to where somebody only joins.
func (x *firstScore) passes(list []phrase, times []float64, at, end float64) (pass, close bool) {
	from, to := max(at-phraseCounts, 0), min(at+phraseCounts, end)
	for _, t := range times {
		if t < at {
			from = max(from, t)
		} else {
			to = min(to, t)
		}
	}
	if at-from < passCounts-1e-6 || to-at < passCounts-1e-6 {
		return false, false
	}
	before, after := x.ahead(list, from, at), x.ahead(list, at, to)
	stops := func(player int) bool { // an entry or a release has a cue of its own
		return !slices.ContainsFunc(list, func(p phrase) bool {
			return p.player == player && p.from < at-togetherCounts && p.to > at+togetherCounts
		})
	}
	enters := func(player int) bool { return !slices.Contains(before, player) }
	if len(before) == 0 || !slices.ContainsFunc(after, enters) ||
		slices.ContainsFunc(slices.Concat(before, after), stops) {
		return false, false
	}
	close = slices.Equal(x.ahead(list, at-nearCounts, at), before) &&
		slices.Equal(x.ahead(list, at, at+nearCounts), after)
	return close || !slices.ContainsFunc(after, func(player int) bool { return !enters(player) }), close
}

// ahead is who is in front of the others between two places, in the order of the phrases.
func (x *firstScore) ahead(list []phrase, from, to float64) (players []int) {
	var open []FirstOpening
	var voices []*playedLine
	var who []int
	for _, p := range list {
		if p.from > to-1e-6 || p.to < from+1e-6 || slices.Contains(who, p.player) {
			continue
		}
		player := x.Roster.Players[p.player]
		who = append(who, p.player)
		open = append(open, FirstOpening{Player: player.Name, Section: player.Section, Solo: p.solo})
		voices = append(voices, newPlayedLine(x.lanes[player.Name], from, to-cutCounts))
	}
	front, _ := inFront(open, voices)
	for i, player := range who {
		if front[i] {
			players = append(players, player)
		}
	}
	return players
}
