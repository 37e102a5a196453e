package feed

import (
	"math"
	"time"

	"backfield/osc/mixer"
)

const (
	backOff = 60 * time.Millisecond // no row is repeated sooner
	sweep   = 40 * time.Millisecond // from one check of a confirmed row to the next
	inDoubt = 2 * time.Millisecond  // the same while a row is in doubt, at most that often
)

// never is the wait of a row that a round skips.
const never = time.Duration(math.MaxInt64)

// rounds go over the rows again and again: repeats over those that the mixer has not confirmed, sweeps over those that
// it has.
type rounds struct {
	repeats  round
	sweeps   round
	repeatAt time.Time // no repeat or check before
	sweepAt  time.Time // no check before
	swept    bool      // the last one was a check
}

// round is how far one round over the rows is.
type round struct{ cursor int }

// next is the next row that is due, or else the wait until one is due.
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

// repeat sends or asks for one row that the mixer has not confirmed. Now and then it checks a confirmed row, since a
// mixer may restart or someone may move a fader. Checks get their share of the time even if there is much to repeat:
// some mixers never confirm some values.
func (f *Feed) repeat(m *Outgoing, now time.Time) bool {
	r := &f.rounds
	if !f.mixer.Repeat || now.Before(r.repeatAt) || len(f.slots) == 0 {
		return false
	}
	first, second := f.toLookAt, f.toRepeat
	if r.swept { // in turn, if both have something to do
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
	if f.slots[i].Confirmed {
		f.lag.Asked(i, now)
	} else {
		f.lag.Drop(i)
	}
	if r.swept = f.slots[i].Confirmed || f.onlyAsked(i); r.swept {
		gap = min(gap, sweep)
		r.sweepAt = now.Add(sweep)
		if len(f.doubts.rows) > 0 {
			r.sweepAt = now.Add(max(gap, inDoubt))
		}
	}
	r.repeatAt = now.Add(gap)
	f.expectReply(now)
	s := &f.slots[i]
	if f.mixer.Query != nil && (f.onlyAsked(i) || s.Confirmed || s.SentAt.After(s.askedAt)) { // send and ask in turn
		s.askedAt = now
		*m = f.question(i)
		return true
	}
	s.SentAt = now
	f.value(m, i)
	return true
}

// repeatGap is the time from one repeat to the next. Repeats get a quarter of the mixer's rate, or a tenth if it cannot
// confirm.
func (f *Feed) repeatGap() time.Duration {
	rate := time.Duration(max(f.mixer.Rate, 1))
	if !f.mixer.CanConfirm() {
		return max(10*time.Second/rate, 5*time.Millisecond)
	}
	return 4 * time.Second / rate
}

// toLookAt is the next confirmed row to check, or else the wait until one is due.
func (f *Feed) toLookAt(now time.Time) (i int, ok bool, wait time.Duration) {
	if d := f.rounds.sweepAt.Sub(now); d > 0 {
		return 0, false, d
	}
	due := func(i int) bool { return f.slots[i].Confirmed && !f.leftOut(i, now) }
	if i, ok = f.lag.Due(now); ok && due(i) {
		return i, true, 0
	}
	if i, ok, _ = f.rounds.sweeps.next(len(f.slots), func(i int) time.Duration {
		if f.onlyAsked(i) || due(i) && !f.lag.Has(i) {
			return 0
		}
		return never
	}); !ok { // nothing is confirmed yet
		f.rounds.sweepAt = now.Add(sweep)
		return 0, false, sweep
	}
	return i, true, 0
}

// toRepeat is the next unconfirmed row to repeat, or else the wait until one is due.
func (f *Feed) toRepeat(now time.Time) (i int, ok bool, wait time.Duration) {
	return f.rounds.repeats.next(len(f.slots), func(i int) time.Duration { return f.due(i, now) })
}

// onlyAsked reports whether the mixer is asked for a row, and the row is not sent again: its value is the mixer's, or
// another program sends to the mixer.
func (f *Feed) onlyAsked(i int) bool {
	return f.mixer.Query != nil && (f.restarts.contested || f.isLeft(i))
}

// leftOut reports whether a row is not repeated: it is manual, that is not decided yet, or a fade sends it anyway.
func (f *Feed) leftOut(i int, now time.Time) bool {
	return f.restarts.contested || f.isLeft(i) || f.doubts.rows[i] != nil || f.table.Fading(i, now) ||
		f.glidesNow(i, glideRests, now)
}

// due is the wait until an unconfirmed row is repeated.
func (f *Feed) due(i int, now time.Time) time.Duration {
	s := &f.slots[i]
	if f.leftOut(i, now) || s.Confirmed || s.unsendable || !s.Known {
		return never
	}
	last := s.SentAt
	if s.askedAt.After(last) {
		last = s.askedAt
	}
	if f.mixer.CanConfirm() { // a reply before then does not confirm it
		if at := s.ChangedAt.Add(mixer.EchoDelay); now.Before(at) && now.Sub(s.ChangedAt) > 2*backOff {
			return max(at.Sub(now), backOff-now.Sub(last))
		}
	}
	return backOff - now.Sub(last)
}
