package balance

import (
	"math"

	"backfield/layout"
	"backfield/layout/level"
)

// LevelsAt is how loud a cue is at some places, every quarter count.
func LevelsAt(l *Loudness, cue int, places []layout.Point) (list [][]level.NearLevel) {
	for _, at := range l.x.Spans[cue].Samples {
		playing, _ := l.scene(cue, at, nil)
		list = append(list, l.Stadium.Sounding(playing).Near(places))
	}
	return list
}

// PlainNear is how loud a cue is for players and people, computed at every quarter count.
func PlainNear(l *Loudness, cue int) (list []NearEar) {
	silent := NearSound{DBA: math.Inf(-1)}
	for _, m := range l.walk(cue, [2]int{}).moments {
		for len(list) < len(m.ears) {
			list = append(list, NearEar{Stacks: silent, All: silent})
		}
		for j, x := range l.Stadium.Sounding(m.playing).Near(m.ears) {
			if m.here[j] {
				list[j].Stacks.peak(x.StacksDBA, m.at, m.ears[j])
				list[j].All.peak(x.AllDBA, m.at, m.ears[j])
				list[j].Stacks.DosePct += level.DosePct(x.StacksDBA, m.holdS/3600)
				list[j].All.DosePct += level.DosePct(x.AllDBA, m.holdS/3600)
			}
		}
	}
	return list
}
