package compile

import (
	"math"
	"slices"

	"backfield/cue"
	"backfield/cue/plain"
	"backfield/layout"
	"backfield/layout/sound"
)

type sample struct {
	movement int
	elapsed  float64
}

func (a sample) before(b sample) bool {
	return a.movement < b.movement || a.movement == b.movement && a.elapsed < b.elapsed-1e-9
}

// plainStretch is the time for which a mic stays open, and what it does there.
type plainStretch struct {
	mic     plainMic
	samples []sample
	cues    []int // the cue of each sample
	list    []plain.PlainSample
	course  *plain.Course
}

// samplesOf are both ends, every cue and every quarter of a count between, and both ends of every wait.
func (s *plainShow) samplesOf(from, to sample, cues []plainCue) []sample {
	list := []sample{from, to}
	for m := from.movement; m <= to.movement; m++ {
		here := []sample{{m, 0}, {m, s.length(m)}}
		for n := 0.0; n/4 < s.length(m); n++ {
			here = append(here, sample{m, n / 4})
		}
		for _, q := range cues {
			if q.movement == m {
				here = append(here, sample{m, q.elapsed})
			}
		}
		for _, x := range here {
			if from.before(x) && x.before(to) {
				list = append(list, x)
			}
		}
	}
	slices.SortFunc(list, func(a, b sample) int {
		switch {
		case a.before(b):
			return -1
		case b.before(a):
			return 1
		}
		return 0
	})
	return slices.CompactFunc(list, func(a, b sample) bool { return !a.before(b) && !b.before(a) })
}

// stretches are all stretches of one mic. The cues are in order of time.
func (s *plainShow) stretches(m plainMic, cues []plainCue, scene *plain.Scene) []*plainStretch {
	var list []*plainStretch
	for i := 0; i < len(cues); i++ {
		if cues[i].role[m.name] == "" {
			continue
		}
		first := i
		for i+1 < len(cues) && cues[i+1].role[m.name] != "" {
			i++
		}
		to := sample{len(s.movements), s.length(len(s.movements))}
		if i+1 < len(cues) {
			to = sample{cues[i+1].movement, cues[i+1].elapsed}
		}
		x := &plainStretch{mic: m, samples: s.samplesOf(sample{cues[first].movement, cues[first].elapsed}, to, cues)}
		now := first
		for k, at := range x.samples {
			for now < i && !at.before(sample{cues[now+1].movement, cues[now+1].elapsed}) {
				now++
			}
			x.cues = append(x.cues, now)
			p := s.place(m, at.movement, at.elapsed)
			y := plain.PlainSample{Count: at.elapsed + 1, TimeS: s.seconds(at.movement, at.elapsed),
				At: layout.Point{X: p.x, Y: p.y, Z: p.z}, Policy: s.policyOf(cues[now], m), Least: 5, Most: 20, Free: s.free,
				Cue:       at == sample{cues[now].movement, cues[now].elapsed},
				AfterWait: k > 0 && at.movement != x.samples[k-1].movement}
			if y.Pan = m.pan; y.Pan == nil && !s.standFit && y.Policy != "joint" {
				pan := math.Max(-s.width, math.Min(s.width, s.tangentPan(p)))
				y.Pan = &pan
			}
			if m.delay != nil {
				y.Policy = "reference" // which moves nothing
			}
			if s.makeMost > 0 && !m.fixed {
				y.LevelDB = s.makeUp(p)
			}
			x.list = append(x.list, y)
		}
		s.takeOutPauses(x)
		x.course = scene.Path(x.list)
		for k := range x.course.Bends {
			if m.delay != nil {
				x.course.Bends[k].DelayMS = *m.delay
			}
		}
		list = append(list, x)
	}
	return list
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

// takeOutPauses counts a pause for the sample at which the path stands, and takes its time from all later ones.
func (s *plainShow) takeOutPauses(x *plainStretch) {
	last := len(x.samples) - 1
	for m, v := range s.movements {
		for _, t := range v.tempo {
			at := sample{m + 1, t.at} // the count after it
			if t.pause == 0 || !x.samples[0].before(at) || x.samples[last].before(at) {
				continue
			}
			stands := 0
			for k := range x.samples {
				if !at.before(x.samples[k]) {
					stands = k
				}
				if !x.samples[k].before(at) {
					x.list[k].TimeS -= t.pause
				}
			}
			x.list[stands].PauseS += t.pause
		}
	}
}

func (s *plainShow) makeUp(p spot) float64 {
	return math.Max(0, math.Min(s.makeMost, 20*math.Log10(p.to(s.ref)/s.makeFrom)))
}

// scene is the rig and the settings as the second implementation of paths takes them.
func (s *plainShow) scene() *plain.Scene {
	law, _ := sound.LawByName(s.law)
	x := &plain.Scene{
		Box: layout.Point{X: s.ref.x, Y: s.ref.y, Z: s.ref.z}, LatencyMS: s.latency,
		SpeedMPS: 343.2 * math.Sqrt((s.air+273.15)/293.15), Law: law, Zones: s.zones, MostOne: s.mostZones == 1,
		Width: s.width, StandFit: s.standFit, AngleDeg: 6,
		WindowMS: s.window, MarginMS: 2, SlewMSPS: 8, TolMS: 1, PanTol: 0.02, LeadMS: s.lead,
		Moves: string(s.mixer.Moves), StepMS: s.mixer.Delay.Step, MaxMS: s.mixer.Delay.Max,
	}
	for _, k := range s.heard() {
		x.Stacks = append(x.Stacks, plain.Emitter{At: layout.Point{X: k.at.x, Y: k.at.y, Z: k.at.z}, Left: k.left,
			Right: k.right, Trim: k.amplitude, DelayMS: k.delay})
	}
	for _, q := range s.seats() {
		x.Seats = append(x.Seats, plain.PlainSeat{At: layout.Point{X: q.at.x, Y: q.at.y, Z: q.at.z}, Weight: q.weight})
	}
	return x
}

// plainChannel is one open channel of one cue, with its numbers.
type plainChannel struct {
	open             bool
	level, levelEdge float64
	levelRaw         float64 // before rounding
	levelStep        float64
	pan, panEdge     float64
	delay, delayEdge float64
	sends            map[int]float64
	sendEdge         map[int]float64
	served           float64 // share of seats in time; NaN where it lasts no time
	bendDelay        float64 // at the cue, before rounding
	bendPan          float64
	bends            []plainBend // after the cue, up to the next
}

// servedIn is the share of seats in time over some samples of a stretch, with the delays as they are sent.
func (s *plainShow) servedIn(x *plainStretch, from, to int, hand *float64) float64 {
	scene := s.scene()
	sum, seconds := 0.0, 0.0
	for k := from; k <= to; k++ {
		d := s.delayAt(x, k)
		if hand != nil {
			d = *hand
		}
		d, _ = onStep(math.Max(0, math.Min(s.mixer.Delay.Max, d)), s.mixer.Delay.Step)
		w := x.course.Weight[k]
		sum, seconds = sum+w*scene.Served(x.list[k].At, x.course.Want[k], math.Min(s.mixer.Delay.Max, d)), seconds+w
	}
	return sum / seconds // NaN where it lasts no time
}

// delayAt is the delay of a sample on the lines between the knots.
func (s *plainShow) delayAt(x *plainStretch, k int) float64 {
	for j := len(x.course.Bends) - 1; j >= 0; j-- {
		a := x.course.Bends[j]
		if a.Sample > k {
			continue
		}
		if a.Sample == k || s.mixer.Moves != cue.Glides {
			return a.DelayMS
		}
		b := x.course.Bends[j+1]
		part := (x.list[k].Count - x.list[a.Sample].Count) / (x.list[b.Sample].Count - x.list[a.Sample].Count)
		return a.DelayMS + (b.DelayMS-a.DelayMS)*part
	}
	panic("no knot")
}

// plainBend is one knot of a channel.
type plainBend struct {
	at         sample
	delay, pan float64 // in zones the place
	level      float64
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
	sorted := *s
	sorted.cues = slices.Clone(s.cues)
	sorted.sortCues()
	scene := s.scene()
	for _, q := range sorted.cues {
		pieces = append(pieces, plainPiece{id: q.id, movement: q.movement, count: q.elapsed + 1,
			time: s.seconds(q.movement, q.elapsed), channels: map[int]plainChannel{}})
	}
	for _, m := range s.mics {
		for _, x := range s.stretches(m, sorted.cues, scene) {
			for i := x.cues[0]; i <= x.cues[len(x.cues)-1]; i++ {
				pieces[i].channels[m.channel] = s.channel(sorted.cues[i], x, i)
			}
		}
	}
	return pieces
}

// channel is one open mic in cue i.
func (s *plainShow) channel(q plainCue, x *plainStretch, i int) plainChannel {
	m := x.mic
	w := plainChannel{open: true}
	begin := slices.Index(x.cues, i)
	end := len(x.cues) - 1 // the next cue's sample, or the last
	next := slices.Index(x.cues, i+1)
	if next >= 0 {
		end = next
	}
	level := m.trim + q.nudges[m.name] + q.nudges["@"+m.group]
	for _, role := range s.roles {
		if role.name == q.role[m.name] {
			level += role.level
		}
	}
	held := func(level float64) float64 {
		return math.Max(s.mixer.Level.Min, math.Min(s.mixer.Level.Max, level))
	}
	w.levelRaw = held(level + x.list[begin].LevelDB)
	w.level, w.levelEdge = onStep(w.levelRaw, s.mixer.Level.Step)
	w.levelStep = s.mixer.Level.Step
	last := end
	if next >= 0 {
		last = end - 1
	}
	w.served = s.servedIn(x, begin, last, m.delay)
	var at plain.Bend
	for _, b := range x.course.Bends {
		switch {
		case b.Sample == begin:
			at = b
			w.bendDelay, w.bendPan = b.DelayMS, b.Pan
		case b.Sample > begin && b.Sample <= end:
			w.bends = append(w.bends, plainBend{x.samples[b.Sample], b.DelayMS, b.Pan,
				held(level + x.list[b.Sample].LevelDB)})
		}
	}
	if n := len(w.bends); n > 0 && next > 0 && s.mixer.Moves != cue.Glides {
		w.bends[n-1].delay = x.course.Delay(end - 1) // the change at the next cue is that cue's
		if m.delay != nil {
			w.bends[n-1].delay = *m.delay
		}
	}
	if s.zones {
		w.sends, w.sendEdge = map[int]float64{}, map[int]float64{}
		for j, v := range s.sendsAt(at.Pan) {
			zone := s.heard()[j].zone
			if v == 0 {
				w.sends[zone], w.sendEdge[zone] = math.Inf(-1), 1
				continue
			}
			w.sends[zone], w.sendEdge[zone] = onStep(math.Max(s.mixer.Send.Min,
				math.Min(s.mixer.Send.Max, 20*math.Log10(v))), s.mixer.Send.Step)
		}
	} else {
		w.pan, w.panEdge = panOnStep(at.Pan, s.mixer.Pan.Step)
	}
	step, most := s.mixer.Delay.Step, s.mixer.Delay.Max
	w.delay, w.delayEdge = onStep(math.Max(0, math.Min(most, at.DelayMS)), step)
	w.delay = math.Min(most, w.delay) // the most need not lie on a step
	return w
}
