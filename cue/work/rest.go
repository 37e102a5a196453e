package work

import "backfield/cue/parts"

const (
	// silentCounts is the rest from which on a mixer whose delay clicks may change it unheard.
	silentCounts = 2
	// restWeight is what a moment in such a rest counts of one in which the player plays: next to nothing, so that a
	// cue that is all rest has a best delay too.
	restWeight = 1e-3
)

// rest marks the samples of a worn mic that are in long rests of its player, and in the middle of each rest inside the
// stretch the one at which the delay may jump.
func (s *MicStretch) rest(lanes *parts.Lanes) {
	for k := 0; k < len(s.Samples); {
		if !s.silent(lanes, k) {
			k++
			continue
		}
		first := k
		for k < len(s.Samples) && s.silent(lanes, k) {
			k++
		}
		to := min(k, len(s.Samples)-1)
		from, until := s.Samples[first].Counts, s.Samples[to].Counts
		if until-from < silentCounts-tinyCounts {
			continue
		}
		for i := first; i < k; i++ {
			s.Samples[i].Rests = true
		}
		if first == 0 || k == len(s.Samples) {
			continue
		}
		middle := first
		for s.Samples[middle].Counts < (from+until)/2-tinyCounts {
			middle++
		}
		s.Samples[middle].MayJump = true
	}
}

// silent reports whether the player is known not to play at a sample.
func (s *MicStretch) silent(lanes *parts.Lanes, k int) bool {
	at := &s.Samples[k]
	lane := lanes.Of(s.Name, at.Movement)
	if lane == nil {
		return false
	}
	_, plays := lane.Playing(at.Elapsed)
	return !plays
}
