package repeats

import (
	"maps"
	"slices"
	"strings"

	"backfield/layout/source"
)

// endingBracket is an ending: the measures that are played at some times only.
type endingBracket struct {
	first, last int
	numbers     []int
	top         int  // the highest number of its group
	alone       bool // it is the only one of its group
	final       bool // it is the last one of its group
}

// Order lists the measures as they are played, by their numbers from 0 among those that are written. Fault says what
// cannot be followed, and At where.
func (s *JumpSigns) Order(bars, most int) (order []int, at source.Span, fault *source.Fault) {
	if at, fault = s.unclear(bars); fault != nil {
		return nil, at, fault
	}
	brackets, at, fault := s.brackets(bars)
	if fault != nil {
		return nil, at, fault
	}
	w := playWalk{JumpSigns: s, bars: bars, most: most, brackets: brackets}
	return w.all()
}

// unclear finds signs that do not say enough by themselves.
func (s *JumpSigns) unclear(bars int) (at source.Span, fault *source.Fault) {
	for _, bar := range slices.Sorted(maps.Keys(s.middle)) {
		return s.middle[bar], repeatInside()
	}
	for _, bar := range slices.Sorted(maps.Keys(s.badTimes)) {
		return s.badTimes[bar], unclearTimes(mostTimes)
	}
	for _, x := range s.timed {
		if len(x.times) == 0 {
			return x.at, unclearTimed()
		}
	}
	if at, fault = s.unplayed(); fault != nil {
		return at, fault
	}
	for _, bar := range slices.Sorted(maps.Keys(s.afterJump)) {
		if len(s.jumps) > 0 {
			return s.afterJump[bar], repeatAfterJump()
		}
	}
	jumps, leaves := slices.Sorted(maps.Keys(s.jumps)), slices.Sorted(maps.Keys(s.toCoda))
	switch {
	case len(jumps) > 1:
		return s.jumps[jumps[1]].at, secondJump()
	case len(jumps) == 0 && len(leaves) > 0:
		return s.toCoda[leaves[0]], codaWithoutJump()
	case len(jumps) == 1 && len(s.fine) == 0 && len(leaves) == 0 && jumps[0] < bars-1:
		return s.jumps[jumps[0]].at, noStop()
	case len(jumps) == 1:
		return s.unclearJump(s.jumps[jumps[0]])
	}
	return at, nil
}

func (s *JumpSigns) unclearJump(j jump) (at source.Span, fault *source.Fault) {
	_, known := s.segnos[j.segno]
	leaves := slices.Sorted(maps.Keys(s.toCoda))
	for _, name := range slices.Sorted(maps.Keys(s.twice)) {
		if coda := strings.HasPrefix(name, "coda "); coda && len(leaves) > 0 ||
			!coda && !j.capo && (!known || name == "segno "+j.segno) {
			return s.twice[name], signTwice()
		}
	}
	switch {
	case !j.capo && !known && len(s.segnos) != 1:
		return j.at, noSegno()
	case len(leaves) > 1:
		return s.toCoda[leaves[1]], secondJump()
	case len(leaves) == 1 && len(s.codas) != 1:
		return s.toCoda[leaves[0]], noCoda()
	}
	return at, nil
}

// brackets pairs the beginnings and ends of endings, in order, and finds those of one repeat: they follow one another.
func (s *JumpSigns) brackets(bars int) (list []endingBracket, at source.Span, fault *source.Fault) {
	begins := slices.Sorted(maps.Keys(s.begun))
	group := 0
	defer func() {
		if fault == nil {
			at, fault = s.timesOfEndings(list)
		}
	}()
	for i, first := range begins {
		e := s.begun[first]
		b := endingBracket{first: first, last: first, numbers: e.numbers}
		for b.last < bars-1 && !s.ended[b.last] {
			b.last++
		}
		if !s.ended[b.last] || i+1 < len(begins) && begins[i+1] <= b.last || len(e.numbers) == 0 {
			return nil, e.at, unclearEnding()
		}
		if i > 0 && list[i-1].last != first-1 {
			group = i
		}
		top := 0
		if i > group {
			before := list[i-1]
			if top = before.top; !s.leadsBack(before.last) {
				return nil, e.at, endingGoesOn()
			}
		}
		for _, n := range e.numbers { // each group counts up from 1
			if top++; n != top {
				return nil, e.at, unclearEnding()
			}
		}
		list = append(list, b)
		for j := group; j <= i; j++ {
			list[j].top, list[j].alone, list[j].final = top, i == group, j == i
		}
	}
	return list, at, nil
}

// timesOfEndings holds the number of times at a repeat against its endings. Twice is what files say by default.
func (s *JumpSigns) timesOfEndings(list []endingBracket) (at source.Span, fault *source.Fault) {
	for _, b := range list {
		played := b.top
		if b.alone {
			played++
		}
		_, inside := s.forward[b.first]
		if back := s.backward[b.last]; back.said && back.times > 2 && !inside && back.times != played &&
			back.times != len(b.numbers) {
			return back.at, timesAndEndings(back.times, played)
		}
	}
	return at, nil
}

func (s *JumpSigns) leadsBack(bar int) bool {
	_, back := s.backward[bar]
	return back
}

// playWalk goes through the measures as the players do.
type playWalk struct {
	*JumpSigns
	bars, most int
	brackets   []endingBracket

	order   []int
	from    int  // where the current repeat leads back to
	time    int  // how often its measures are being played, from 1
	open    bool // it began with a sign, and none has led back yet
	jumped  bool
	through bool        // after a jump no repeat is taken, and of the endings the last
	left    bool        // it has left for the coda
	stopped bool        // it has ended at a fine
	plays   []int       // by measure: how often it has been played
	taken   map[int]int // by measure: at which time its jump, coda or fine was taken
}

// all walks to the end. After that every measure has been played, or something is wrong with the signs.
func (w *playWalk) all() (order []int, at source.Span, fault *source.Fault) {
	w.time, w.plays, w.taken = 1, make([]int, w.bars), map[int]int{}
	for i := 0; i < w.bars; {
		b := w.bracket(i)
		if b != nil && b.first == i && !w.hasTurn(b) {
			i = b.last + 1
			continue
		}
		if past := w.bracket(i - 1); past != nil && past.final && past.last == i-1 && past.first > w.from {
			w.from, w.time, w.open = i, 1, false
		}
		if at, begins := w.forward[i]; begins && i != w.from || begins && !w.open && w.time == 1 {
			if w.open {
				return nil, at, nested()
			}
			w.from, w.time, w.open = i, 1, !w.through
		}
		w.plays[i]++
		if w.order = append(w.order, i); len(w.order) > w.most {
			return nil, w.cause(), tooOften(w.most)
		}
		next, done := w.after(i, b)
		if done {
			break
		}
		i = next
	}
	for i := range w.bars {
		if !slices.Contains(w.order, i) {
			return nil, w.cause(), neverPlayed(i)
		}
	}
	if at, fault = w.missed(); fault != nil {
		return nil, at, fault
	}
	return w.order, at, nil
}

// missed finds a sign that the walk never came to where it counts: a coda or fine before the place that the jump leads
// to, or one that is for another time.
func (w *playWalk) missed() (at source.Span, fault *source.Fault) {
	for _, bar := range slices.Sorted(maps.Keys(w.toCoda)) {
		if w.jumped && !w.left {
			return w.toCoda[bar], neverReached("to coda")
		}
	}
	for _, bar := range slices.Sorted(maps.Keys(w.fine)) {
		if w.jumped && !w.left && !w.stopped {
			return w.fine[bar], neverReached("fine")
		}
	}
	for _, x := range w.timed {
		if w.taken[x.bar] != x.times[0] {
			return x.at, unclearTimed()
		}
	}
	return at, nil
}

// bracket is the ending over a measure, or nil.
func (w *playWalk) bracket(bar int) *endingBracket {
	i := slices.IndexFunc(w.brackets, func(b endingBracket) bool { return b.first <= bar && bar <= b.last })
	if i < 0 {
		return nil
	}
	return &w.brackets[i]
}

// hasTurn reports whether an ending is for this time. One with which a repeat of its own begins is played.
func (w *playWalk) hasTurn(b *endingBracket) bool {
	if w.through {
		return b.final && !(b.alone && w.leadsBack(b.last))
	}
	return b.first == w.from && b.first > 0 || slices.Contains(b.numbers, w.time)
}

// after is the measure that follows one that has been played.
func (w *playWalk) after(i int, b *endingBracket) (next int, done bool) {
	if back, leads := w.backward[i]; leads && !w.through {
		times := back.times
		own := b != nil && b.first > w.from // of this repeat, not around a repeat of its own
		if own {
			times = b.top
			if b.alone {
				times++
			}
		}
		w.open = false
		if w.time < times {
			w.time++
			return w.from, false
		}
		if !own {
			w.from, w.time = i+1, 1
		}
	}
	if j, jumps := w.jumps[i]; jumps && !w.jumped {
		w.taken[i] = w.plays[i]
		w.jumped, w.through, w.from, w.time, w.open = true, true, w.target(j), 1, false
		return w.from, false
	}
	if _, leaves := w.toCoda[i]; leaves && w.through {
		coda := slices.Collect(maps.Values(w.codas))[0]
		w.through, w.left, w.from, w.time = false, true, coda, 1
		w.taken[i] = w.plays[i]
		return coda, false
	}
	if _, ends := w.fine[i]; ends && w.through {
		w.stopped, w.taken[i] = true, w.plays[i]
	}
	return i + 1, w.stopped
}

// target is where a jump leads.
func (w *playWalk) target(j jump) int {
	if j.capo {
		return 0
	}
	if bar, known := w.segnos[j.segno]; known {
		return bar
	}
	return slices.Collect(maps.Values(w.segnos))[0]
}

// cause is a sign that may be to blame for the order: the jump, or else the first ending or the first repeat.
func (w *playWalk) cause() source.Span {
	for _, j := range w.jumps {
		return j.at
	}
	for _, first := range slices.Sorted(maps.Keys(w.begun)) {
		return w.begun[first].at
	}
	for _, first := range slices.Sorted(maps.Keys(w.backward)) {
		return w.backward[first].at
	}
	return source.Span{}
}
