package wire

import (
	"runtime"
	"time"
)

// Clock tells and passes the time. Sending takes one, so that its pace can be tested without waiting.
type TimeSource interface {
	Now() time.Time
	// Sleep returns once d has passed, at once if d is not over 0.
	Sleep(d time.Duration)
}

// Wall is the machine's own clock.
type Wall struct{}

// Now is the time of day with the monotonic reading.
func (Wall) Now() time.Time { return time.Now() }

// Sleep is exact to some microseconds, for a little of one core.
func (Wall) Sleep(d time.Duration) {
	end := time.Now().Add(d)
	if d > timerLate {
		time.Sleep(d - timerLate)
	}
	for time.Now().Before(end) {
		runtime.Gosched()
	}
}

// timerLate is how late Go's timers fire on an idle machine, which waits in whole milliseconds. At 2,000 messages a
// second it is two messages.
const timerLate = 1200 * time.Microsecond

// Alarm wakes one goroutine near an instant, while it may wait for other things as well. Close gives it back.
type Alarm struct {
	// C gets a value at about the instant that was Set, or at one that was Set before. Whoever takes it calls Rest.
	C     chan struct{}
	late  time.Duration // how late the timer comes at times, on a machine that is not busy
	timer interface {
		set(d time.Duration) // d is over 0; what was set before is forgotten
		close()
	}
	at     time.Time
	within time.Duration
	awake  bool      // what is left once C has a value is not slept
	rough  time.Time // until then the machine is taken for busy
}

// A machine that has others to do makes who sleeps wait for a core, and one message after the other would come late by
// that. So after a wait that was too long short ones are waited awake for a while. What must be exact is set early
// anyway; to be awake for longer before that was tried, and gained nothing.
const (
	roughFor = 100 * time.Millisecond
	short    = time.Millisecond
)

// nap is how long Rest takes at most: its caller may have other things to see to.
const nap = 20 * time.Microsecond

// NewAlarm makes an alarm that is not set, out of the system's best timer.
func NewAlarm() *Alarm {
	if a := systemAlarm(); a != nil {
		return a
	}
	return goAlarm()
}

func goAlarm() *Alarm {
	c := make(chan struct{}, 1)
	return &Alarm{C: c, late: timerLate, timer: goTimer{time.AfterFunc(time.Hour, func() { ring(c) })}}
}

// Set has C get a value when the instant is near enough that it is reached no later than within, as far as the machine
// allows, by who goes on to Set and Rest until it has come.
func (a *Alarm) Set(at time.Time, within time.Duration) {
	now := time.Now()
	if !a.at.IsZero() && now.Sub(a.at) > a.within+a.late { // what was set last
		a.rough = now.Add(roughFor)
	}
	if at.Before(now) {
		at = now
	}
	a.at, a.within = at, within
	lead := time.Duration(0)
	if within < a.late {
		lead = a.late
	}
	if within > 0 && within < short && now.Before(a.rough) {
		lead = max(lead, short)
	}
	d := at.Sub(now) - lead
	a.awake = lead > 0
	if d <= 0 {
		ring(a.C)
		return
	}
	a.timer.set(d)
}

// Rest waits awake for a little of what is left, if anything is.
func (a *Alarm) Rest() {
	now := time.Now()
	for end := now.Add(nap); a.awake && now.Before(a.at) && now.Before(end); now = time.Now() {
		if a.late >= time.Millisecond {
			runtime.Gosched()
		}
	}
}

// Close ends the alarm.
func (a *Alarm) Close() { a.timer.close() }

// ring puts a value into a channel that has room for one, unless there is one.
func ring(c chan struct{}) {
	select {
	case c <- struct{}{}:
	default:
	}
}

type goTimer struct{ *time.Timer }

func (t goTimer) set(d time.Duration) { t.Reset(d) }
func (t goTimer) close()              { t.Stop() }

// pacer spaces messages: next is when the next one may go.
type pacer struct{ next time.Time }

// wait sleeps until n more messages may go, and has the ones after them wait n gaps from when these could.
// So a sleep that ends a little late shifts nothing, and of any messages in a row at most one comes early,
// however long the clock or the caller was held up: what is late stays late and is never caught up with.
func (p *pacer) wait(n, perSecond int, clock TimeSource) {
	now := clock.Now()
	due := now
	if p.next.After(now) {
		due = p.next
	}
	clock.Sleep(due.Sub(now))
	p.next = due.Add(time.Duration(n) * time.Second / time.Duration(perSecond))
}
