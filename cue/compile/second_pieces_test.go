package compile

import (
	"math"
	"slices"
)

// plainChannel is one open channel of one cue, with its numbers at the cue's moment. Those of the path, which depend on
// all of its stretch, are compared in cue/plain.
type plainChannel struct {
	open             bool
	level, levelEdge float64
	pan, panEdge     float64
	sends            map[int]float64
	sendEdge         map[int]float64
	onTheWay         bool // one stack alone carries the mic, and it may be on the way to the next
	delay, delayEdge float64
	byHand           bool // the delay
}

// plainPiece is one snapshot.
type plainPiece struct {
	id       string
	movement int
	count    float64
	time     float64
	channels map[int]plainChannel
}

// work computes the whole show.
func (s *plainShow) work() (pieces []plainPiece) {
	seats := s.seats()
	var images [][][2]float64
	if s.standFit {
		images = s.images(seats)
	}
	sorted := *s
	sorted.cues = slices.Clone(s.cues)
	sorted.sortCues()
	for i, q := range sorted.cues {
		piece := plainPiece{id: q.id, movement: q.movement, count: q.elapsed + 1,
			time: s.seconds(q.movement, q.elapsed), channels: map[int]plainChannel{}}
		for _, m := range s.mics {
			if q.role[m.name] == "" {
				continue
			}
			w := s.channel(q, m, seats, images)
			w.onTheWay = s.zones && s.mostZones == 1 && i > 0 && sorted.cues[i-1].role[m.name] != ""
			piece.channels[m.channel] = w
		}
		pieces = append(pieces, piece)
	}
	return pieces
}

// channel works out one open mic at a cue's moment.
func (s *plainShow) channel(q plainCue, m plainMic, seats []plainSeat, images [][][2]float64) plainChannel {
	w := plainChannel{open: true, byHand: m.delay != nil}
	p := s.place(m, q.movement, q.elapsed)
	level := m.trim + q.nudges[m.name] + q.nudges["@"+m.group]
	for _, role := range s.roles {
		if role.name == q.role[m.name] {
			level += role.level
		}
	}
	if s.makeMost > 0 && !m.fixed {
		level += math.Max(0, math.Min(s.makeMost, 20*math.Log10(p.to(s.ref)/s.makeFrom)))
	}
	level = math.Max(s.mixer.Level.Min, math.Min(s.mixer.Level.Max, level))
	w.level, w.levelEdge = onStep(level, s.mixer.Level.Step)

	if s.zones {
		w.sends, w.sendEdge = map[int]float64{}, map[int]float64{}
		sends := s.zoneSends(azimuth(p, s.ref))
		for i, k := range s.heard() {
			if sends[i] == 0 {
				w.sends[k.zone], w.sendEdge[k.zone] = math.Inf(-1), 1
				continue
			}
			w.sends[k.zone], w.sendEdge[k.zone] = onStep(math.Max(s.mixer.Send.Min,
				math.Min(s.mixer.Send.Max, 20*math.Log10(sends[i]))), s.mixer.Send.Step)
		}
	} else {
		pan := 0.0
		switch {
		case m.pan != nil:
			pan = *m.pan
		case s.standFit:
			pan = math.Max(-s.width, math.Min(s.width, standPan(p, seats, images)))
		default:
			pan = math.Max(-s.width, math.Min(s.width, s.tangentPan(p)))
		}
		w.pan, w.panEdge = panOnStep(pan, s.mixer.Pan.Step)
	}
	if m.delay != nil {
		most := s.mixer.Delay.Max
		w.delay, w.delayEdge = onStep(math.Max(0, math.Min(most, *m.delay)), s.mixer.Delay.Step)
		w.delay = math.Min(most, w.delay) // the most need not lie on a step
	}
	return w
}
