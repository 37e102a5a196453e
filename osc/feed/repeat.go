package feed

import (
	"math"
	"time"
)

const (
	backOff = 60 * time.Millisecond // a row is not repeated sooner
	sweep   = 40 * time.Millisecond // from one look at a confirmed row to the next
)

// never is when a row is due that is none of a round's.
const never = time.Duration(math.MaxInt64)

// rounds go over the rows again and again: one over those that the mixer has not confirmed, one over those that it has.
type rounds struct {
	repeats  round
	sweeps   round
	repeatAt time.Time // neither before
	sweepAt  time.Time // no look before
	swept    bool      // the last was a look
}

// round is where one round of the rows stands.
type round struct{ cursor int }

// next is the next row that is due by now, or else how long the first one has still to wait.
func (r *round) next(n int, due func(i int) time.Duration) (i int, ok bool, wait time.Duration) {
	wait = never
	for k := range n {
		i := (r.cursor + k) % n
		d := due(i)
		if d <= 0 {
			r.cursor = i + 1
			return i, true, 0
		}
		wait = min(wait, d)
	}
	return 0, false, wait
}

// repeat goes round the rows: those that the mixer has not confirmed are sent again, or asked for; those that it has
// confirmed are looked at again, slowly, since a mixer may restart or somebody may move a fader. The second has its
// share of the time however much the first has to do: some mixers never confirm some of what they are sent.
func (f *Feed) repeat(m *Outgoing, now time.Time) bool {
	r := &f.rounds
	if !f.mixer.Repeat || now.Before(r.repeatAt) || len(f.slots) == 0 {
		return false
	}
	first, second := f.toLookAt, f.toRepeat
	if r.swept { // in turn, where both have something to do
		first, second = second, first
	}
	i, ok, wait := first(now)
	if !ok {
		var other time.Duration
		i, ok, other = second(now)
		wait = min(wait, other)
	}
	if !ok {
		r.repeatAt = now.Add(wait)
		return false
	}
	gap := f.repeatGap()
	if r.swept = f.slots[i].confirmed; r.swept {
		gap = min(gap, sweep)
		r.sweepAt = now.Add(sweep)
		if len(f.suspects.channels) > 0 {
			r.sweepAt = now.Add(gap)
		}
	}
	r.repeatAt = now.Add(gap)
	f.expectReply(now)
	s := &f.slots[i]
	if f.mixer.Query != nil && (s.confirmed || s.sentAt.After(s.askedAt)) { // sent and asked in turn
		s.askedAt = now
		*m = f.question(i)
		return true
	}
	s.sentAt = now
	f.value(m, i)
	return true
}

// repeatGap is the time from one repeat to the next: a quarter of the mixer's rate is theirs, a tenth where nothing is
// ever confirmed.
func (f *Feed) repeatGap() time.Duration {
	rate := time.Duration(max(f.mixer.Rate, 1))
	if !CanConfirm(f.mixer) {
		return max(10*time.Second/rate, 5*time.Millisecond)
	}
	return 4 * time.Second / rate
}

// toLookAt is the next row of those that the mixer has confirmed, or else how long none is due.
func (f *Feed) toLookAt(now time.Time) (i int, ok bool, wait time.Duration) {
	if d := f.rounds.sweepAt.Sub(now); d > 0 {
		return 0, false, d
	}
	if i, ok, _ = f.rounds.sweeps.next(len(f.slots), func(i int) time.Duration {
		if f.leftOut(i, now) || !f.slots[i].confirmed {
			return never
		}
		return 0
	}); !ok { // nothing to look at yet
		f.rounds.sweepAt = now.Add(sweep)
		return 0, false, sweep
	}
	return i, true, 0
}

// toRepeat is the next row of those that the mixer has not confirmed, or else how long none is due.
func (f *Feed) toRepeat(now time.Time) (i int, ok bool, wait time.Duration) {
	return f.rounds.repeats.next(len(f.slots), func(i int) time.Duration { return f.due(i, now) })
}

// leftOut reports whether a row is none to be repeated: it is manual, or not judged yet whether it is, or a fade
// sends it anyway.
func (f *Feed) leftOut(i int, now time.Time) bool {
	place := f.table.Place(i)
	return f.manual.has(place) || f.suspects.has(place) || f.table.Fading(i, now)
}

// due is how long it is until a row that the mixer has not confirmed is repeated.
func (f *Feed) due(i int, now time.Time) time.Duration {
	s := &f.slots[i]
	if f.leftOut(i, now) || s.confirmed || s.unsendable || !s.known {
		return never
	}
	last := s.sentAt
	if s.askedAt.After(last) {
		last = s.askedAt
	}
	if CanConfirm(f.mixer) { // a confirmation counts only then
		if at := s.changedAt.Add(echoDelay); now.Before(at) && now.Sub(s.changedAt) > 2*backOff {
			return max(at.Sub(now), backOff-now.Sub(last))
		}
	}
	return backOff - now.Sub(last)
}
