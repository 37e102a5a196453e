package balance

import (
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
