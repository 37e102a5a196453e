package diff

import (
	"fmt"
	"math"

	"backfield/cue"
)

// What can differ in a cue itself; see CueKinds.
const (
	KindTime  = "time"
	KindFade  = "fade"
	KindExtra = "extra messages"
	KindEarly = "opens early"
	KindOrder = "order"
)

// CueKinds lists what differs in each cue that both shows have, apart from its channels and its name, by its id.
func CueKinds(old, new *cue.Show) map[string][]string {
	kinds := map[string][]string{}
	pairs := match(old.Cues, new.Cues)
	moved := outOfOrder(pairs)
	for i, p := range pairs {
		if p.old < 0 || p.new < 0 {
			continue
		}
		a, b := &old.Cues[p.old], &new.Cues[p.new]
		add := func(differs bool, kind string) {
			if differs {
				kinds[b.ID] = append(kinds[b.ID], kind)
			}
		}
		add(otherTime(a, b), KindTime)
		add(a.FadeS != b.FadeS || a.FadeCounts != b.FadeCounts || a.Closing() != b.Closing(), KindFade)
		add(!sameMessages(a.Also, b.Also), KindExtra)
		add(earlyWords(a, b) != nil, KindEarly)
		add(moved[i], KindOrder)
	}
	return kinds
}

// leastS is the shortest time that is worth a word, in seconds: no one presses more exactly.
const leastS = 0.05

// otherTime reports whether a cue comes at another time or count.
func otherTime(old, new *cue.Snapshot) bool {
	return old.Movement != new.Movement || old.Count != new.Count || math.Abs(new.TimeS-old.TimeS) >= leastS
}

// movedCues sums up the cues that come at another time: "3 cues come at another time, by at most 1.5 s"; "" for none.
func movedCues(old, new *cue.Show, pairs []cuePair) string {
	n, mostS := 0, 0.0
	for _, p := range pairs {
		if p.old >= 0 && p.new >= 0 && otherTime(&old.Cues[p.old], &new.Cues[p.new]) {
			n++
			mostS = max(mostS, math.Abs(new.Cues[p.new].TimeS-old.Cues[p.old].TimeS))
		}
	}
	switch {
	case n == 0:
		return ""
	case n == 1:
		return fmt.Sprintf("1 cue comes at another time, by %.1f s", mostS)
	}
	return fmt.Sprintf("%d cues come at another time, by at most %.1f s", n, mostS)
}
