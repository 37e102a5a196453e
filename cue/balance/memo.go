package balance

import (
	"crypto/sha256"
	"encoding/binary"
	"math"
	"reflect"

	"backfield/cue/work"
	"backfield/layout"
	"backfield/layout/level"
)

// remembering hears through the memo of a caller that compiles the same show again and again. What it keeps is found by a
// sum of all that goes into it, whole: own sound by the conditions without the stacks and by who plays where, what is near
// people by all of the conditions and by who plays where through which mics, at every quarter count.
type remembering struct {
	stadium         *level.Stadium
	memo            *work.HeardMemo // nil: nothing is kept
	ofOwn, ofStacks [sha256.Size]byte
}

func newRemembering(s *level.Stadium, memo *work.HeardMemo) *remembering {
	r := &remembering{stadium: s, memo: memo}
	if memo == nil {
		return r
	}
	memo.Turn()
	c := s.Conditions
	r.ofStacks = sha256.Sum256(work.AppendWhole([]byte("all"), reflect.ValueOf(c)))
	c.Stacks, c.NominalDB, c.BackgroundDB = nil, 0, nil
	r.ofOwn = sha256.Sum256(work.AppendWhole([]byte("own"), reflect.ValueOf(c)))
	return r
}

// own is Stadium.OwnSound.
func (r *remembering) own(some []level.Performer) *level.OwnSound {
	if r.memo == nil {
		return r.stadium.OwnSound(some)
	}
	return r.memo.Get(r.ownKey(some), func() any { return r.stadium.OwnSound(some) }).(*level.OwnSound)
}

func (r *remembering) ownKey(some []level.Performer) [sha256.Size]byte {
	return sha256.Sum256(work.AppendWhole(r.ofOwn[:len(r.ofOwn):len(r.ofOwn)], reflect.ValueOf(some)))
}

// near is what compute makes of a walk and of the seats at which the doses are looked for.
func (r *remembering) near(w *earWalk, compute func() *CueNear) *CueNear {
	if r.memo == nil {
		return compute()
	}
	return r.memo.Get(r.nearKey(w), func() any { return compute() }).(*CueNear)
}

// nearKey is the sum of a walk. A performer of whom only the place has changed since the moment before is as good as the
// place: that makes the sum of a cue cheap.
func (r *remembering) nearKey(w *earWalk) [sha256.Size]byte {
	b := work.AppendWhole(r.ofStacks[:len(r.ofStacks):len(r.ofStacks)], reflect.ValueOf(w.dosed))
	b = work.AppendWhole(b, reflect.ValueOf([]int{w.cue, w.players}))
	b = work.AppendWhole(b, reflect.ValueOf(w.names))
	var before []level.Performer
	for i := range w.moments {
		m := &w.moments[i]
		b = work.AppendWhole(b, reflect.ValueOf(m.at))
		b = work.AppendWhole(b, reflect.ValueOf([]float64{m.atS, m.holdS}))
		now := m.playing.Performers
		b = binary.LittleEndian.AppendUint64(b, uint64(len(now)))
		for k := range now {
			p := &now[k]
			b = appendPoint(b, p.At)
			same := k < len(before)
			if same {
				was := before[k]
				was.At = p.At
				same = was == *p
			}
			if same {
				b = append(b, 0)
			} else {
				b = work.AppendWhole(append(b, 1), reflect.ValueOf(*p))
			}
		}
		before = now
		b = work.AppendWhole(b, reflect.ValueOf(m.playing.Worn))
		b = work.AppendWhole(b, reflect.ValueOf(m.playing.Fixed))
		for j, ear := range m.ears {
			b = appendPoint(b, ear)
			b = append(b, byte(0))
			if m.here[j] {
				b[len(b)-1] = 1
			}
		}
	}
	return sha256.Sum256(b)
}

// appendPoint is work.AppendWhole of a place, which is faster.
func appendPoint(b []byte, p layout.Point) []byte {
	for _, v := range [...]float64{p.X, p.Y, p.Z} {
		b = binary.LittleEndian.AppendUint64(b, math.Float64bits(v))
	}
	return b
}
