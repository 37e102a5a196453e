package compile

import (
	"fmt"
	"math"
	"slices"

	"backfield/cue"
)

type sample struct {
	movement int
	elapsed  float64
}

// cutAt is where a span may be cut: the piece before ends with one sample, the next begins with another, which
// is the same but at the end of a movement.
type cutAt struct{ end, begin int }

// spanOf lists the samples from one moment to another and where they may be parted.
func (s *plainShow) spanOf(from, to sample) (list []sample, cuts []cutAt) {
	if to.elapsed < 1e-9 && to.movement > from.movement {
		to = sample{to.movement - 1, s.length(to.movement - 1)}
	}
	for m := from.movement; m <= to.movement; m++ {
		lo, hi := 0.0, s.length(m)
		if m == from.movement {
			lo = from.elapsed
		}
		if m == to.movement {
			hi = to.elapsed
		}
		for n := 0; lo+float64(n)/4 < hi-1e-9; n++ {
			if n > 0 && n%4 == 0 {
				cuts = append(cuts, cutAt{len(list), len(list)})
			}
			list = append(list, sample{m, lo + float64(n)/4})
		}
		list = append(list, sample{m, hi})
		if m < to.movement {
			cuts = append(cuts, cutAt{len(list) - 1, len(list)})
		}
	}
	return list, cuts
}

// plainTrack is what one open mic does in a span, by sample.
type plainTrack struct {
	mic     plainMic
	at      []spot
	time    []float64 // to the reference seat, seconds
	pan     []float64 // wanted, held to the width; in zones the azimuth
	mayPan  float64   // how far pan may swing
	mayTime float64
}

// allows reports whether samples lo to hi may share a snapshot, and by how much it was decided.
func (t *plainTrack) allows(lo, hi int) (ok bool, margin float64) {
	a := t.mayTime - swing(t.time[lo:hi+1])
	b := t.mayPan - swing(t.pan[lo:hi+1])
	return a >= 0 && b >= 0, math.Min(math.Abs(a), math.Abs(b))
}

func swing(v []float64) float64 { return slices.Max(v) - slices.Min(v) }

func middle(v []float64) float64 { return (slices.Max(v) + slices.Min(v)) / 2 }

// plainChannel is one open channel of one piece, with its numbers.
type plainChannel struct {
	open             bool
	level, levelEdge float64
	pan, panEdge     float64
	delay, delayEdge float64
	sends            map[int]float64
	sendEdge         map[int]float64
	fit              *cue.SeatFit
	timeSwing        float64 // in the piece
	panSwing         float64
	byHand           bool // the delay
}

// plainPiece is one snapshot.
type plainPiece struct {
	id       string
	movement int
	count    float64
	time     float64
	channels map[int]plainChannel
	mayCut   bool // it could have been cut shorter
}

// work computes the whole show. near is how close any cut was to being decided otherwise.
func (s *plainShow) work() (pieces []plainPiece, near float64) {
	near = math.Inf(1)
	c := 343.2 * math.Sqrt((s.air+273.15)/293.15)
	seats := s.seats()
	var images [][][2]float64
	if s.standFit {
		images = s.images(seats)
	}
	sorted := *s
	sorted.cues = slices.Clone(s.cues)
	sorted.sortCues()
	for i, q := range sorted.cues {
		end := sample{len(s.movements), s.length(len(s.movements))}
		if i+1 < len(sorted.cues) {
			end = sample{sorted.cues[i+1].movement, sorted.cues[i+1].elapsed}
		}
		list, cuts := s.spanOf(sample{q.movement, q.elapsed}, end)
		var tracks []*plainTrack
		for _, m := range s.mics {
			if q.role[m.name] == "" {
				continue
			}
			t := &plainTrack{mic: m, mayTime: 2*s.drift/1000 + 1e-9, mayPan: 2*s.swing + 1e-9}
			if s.zones {
				t.mayPan = 2*s.turn*math.Pi/180 + 1e-9
			}
			for _, at := range list {
				p := s.place(m, at.movement, at.elapsed)
				pan := 0.0
				switch {
				case s.zones:
					pan = azimuth(p, s.ref)
				case m.pan != nil:
					pan = *m.pan
				case s.standFit:
					pan = standPan(p, seats, images)
				default:
					pan = s.tangentPan(p)
				}
				if !s.zones && m.pan == nil {
					pan = math.Max(-s.width, math.Min(s.width, pan))
				}
				t.at, t.time, t.pan = append(t.at, p), append(t.time, p.to(s.ref)/c), append(t.pan, pan)
			}
			tracks = append(tracks, t)
		}
		allows := func(lo, hi int) bool {
			all := true
			for _, t := range tracks {
				ok, margin := t.allows(lo, hi)
				near = math.Min(near, margin)
				all = all && ok
			}
			return all
		}
		begin, follow := 0, 0
		for {
			last, next := len(list)-1, -1
			if s.followOn && q.follow && !allows(begin, last) {
				for _, cut := range cuts {
					if cut.begin <= begin {
						continue
					}
					if next < 0 || allows(begin, cut.end) {
						last, next = cut.end, cut.begin
					} else {
						break
					}
				}
			}
			piece := plainPiece{id: q.id, movement: list[begin].movement, count: list[begin].elapsed + 1,
				time: s.seconds(list[begin].movement, list[begin].elapsed), channels: map[int]plainChannel{}}
			piece.mayCut = s.followOn && q.follow && slices.ContainsFunc(cuts,
				func(cut cutAt) bool { return cut.begin > begin && cut.end < last })
			if follow > 0 {
				piece.id = fmt.Sprintf("%s.%d", q.id, follow)
			}
			for _, t := range tracks {
				piece.channels[t.mic.channel] = s.channel(q, t, begin, last, seats, c)
			}
			pieces = append(pieces, piece)
			if next < 0 {
				break
			}
			begin = next
			follow++
		}
	}
	return pieces, near
}

// policyOf is the policy for one mic in one cue: the cue's, the player's, the role's, the show's.
func (s *plainShow) policyOf(q plainCue, m plainMic) string {
	if q.policy != "" {
		return q.policy
	}
	if m.policy != "" {
		return m.policy
	}
	for _, role := range s.roles {
		if role.name == q.role[m.name] && role.policy != "" {
			return role.policy
		}
	}
	switch {
	case s.policy != "":
		return s.policy
	case s.standing():
		return "most-seats"
	}
	return "reference"
}

// channel works out one open mic over samples lo to hi.
func (s *plainShow) channel(q plainCue, t *plainTrack, lo, hi int, seats []plainSeat, c float64) plainChannel {
	m := t.mic
	w := plainChannel{open: true, timeSwing: swing(t.time[lo : hi+1]), panSwing: swing(t.pan[lo : hi+1]),
		byHand: m.delay != nil}

	level := m.trim + q.nudges[m.name] + q.nudges["@"+m.group]
	for _, role := range s.roles {
		if role.name == q.role[m.name] {
			level += role.level
		}
	}
	if s.makeMost > 0 && !m.fixed {
		level += math.Max(0, math.Min(s.makeMost, 20*math.Log10(t.at[lo].to(s.ref)/s.makeFrom)))
	}
	level = math.Max(s.mixer.Level.Min, math.Min(s.mixer.Level.Max, level))
	w.level, w.levelEdge = onStep(level, s.mixer.Level.Step)

	var g []float64
	if s.zones {
		w.sends, w.sendEdge = map[int]float64{}, map[int]float64{}
		sends := s.zoneSends(middle(t.pan[lo : hi+1]))
		for i, k := range s.heard() {
			g = append(g, faint(sends[i]*k.amplitude))
			if sends[i] == 0 {
				w.sends[k.zone], w.sendEdge[k.zone] = math.Inf(-1), 1
				continue
			}
			w.sends[k.zone], w.sendEdge[k.zone] = onStep(math.Max(s.mixer.Send.Min,
				math.Min(s.mixer.Send.Max, 20*math.Log10(sends[i]))), s.mixer.Send.Step)
		}
	} else {
		w.pan, w.panEdge = panOnStep(middle(t.pan[lo:hi+1]), s.mixer.Pan.Step)
		g = s.stereo(w.pan)
	}

	// What the loudspeakers do does not change in the piece; what the player does is looked at in each sample.
	firstR, _ := s.first(g, s.ref, c)
	var first []float64
	var reached []plainSeat
	for _, q := range seats {
		if f, ok := s.first(g, q.at, c); ok {
			first, reached = append(first, f), append(reached, q)
		}
	}
	policy := s.policyOf(q, m)
	var raw []float64
	var needs [][]float64
	weight := make([]float64, len(reached))
	for j := range reached {
		weight[j] = reached[j].weight
	}
	for _, p := range t.at[lo : hi+1] {
		need := make([]float64, len(reached))
		for j, q := range reached {
			need[j] = p.to(q.at)/c - first[j]
		}
		needs = append(needs, need)
		raw = append(raw, 1000*s.rawDelay(policy, need, weight, p.to(s.ref)/c-firstR))
	}
	delay, early := middle(raw), policy == "never-early"
	if early {
		delay = slices.Max(raw)
	}
	if m.delay != nil {
		delay, early = *m.delay, false
	}
	step, most := s.mixer.Delay.Step, s.mixer.Delay.Max
	delay = math.Max(0, math.Min(most, delay))
	if early {
		w.delay = math.Min(most, math.Ceil(delay/step-1e-9)*step)
		w.delayEdge = math.Abs(delay/step-math.Round(delay/step)) * step
	} else {
		w.delay, w.delayEdge = onStep(delay, step)
		w.delay = math.Min(most, w.delay) // the most need not lie on a step
	}

	if len(reached) > 0 {
		w.fit = s.fit(w.delay/1000, needs, weight)
	}
	return w
}

// fit is how a delay works for all seats, each counted once in every sample.
func (s *plainShow) fit(tau float64, needs [][]float64, weight []float64) *cue.SeatFit {
	var f cue.SeatFit
	var lateness, weights []float64
	total := 0.0
	for _, need := range needs {
		for j, q := range need {
			e := tau - q
			total += weight[j]
			lateness, weights = append(lateness, 1000*e), append(weights, weight[j])
			switch {
			case e < -1e-9:
				f.Early += weight[j]
				f.WorstEarlyMS = math.Max(f.WorstEarlyMS, -1000*e)
			case e > s.window/1000+1e-9:
				f.Late += weight[j]
				f.WorstLateMS = math.Max(f.WorstLateMS, 1000*e-s.window)
			default:
				f.InTime += weight[j]
			}
		}
	}
	f.InTime, f.Early, f.Late = f.InTime/total, f.Early/total, f.Late/total
	f.MedianMS = lowerMedian(lateness, weights)
	return &f
}
