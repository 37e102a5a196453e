package wire

import (
	"runtime"
	"time"
)

// TimeSource gives the time and sleeps. Sending takes one, so that its pace can be tested without waiting.
type TimeSource interface {
	Now() time.Time
	// Sleep returns once d has passed, at once if d is not over 0.
	Sleep(d time.Duration)
}

// Wall is the computer's own clock.
type Wall struct{}

// Now is the time of day with the monotonic reading.
func (Wall) Now() time.Time { return time.Now() }

// Sleep is exact to a few microseconds, and uses some CPU time for it.
func (Wall) Sleep(d time.Duration) {
	end := time.Now().Add(d)
	if d > timerLate {
		time.Sleep(d - timerLate)
	}
	for time.Now().Before(end) {
		runtime.Gosched()
	}
}

// timerLate is how late Go's timers fire on an idle computer, which waits in whole milliseconds. At 2,000 messages a
// second that is two messages.
const timerLate = 1200 * time.Microsecond

// WakeTimer wakes one goroutine close to an instant, while the goroutine may wait for other things too. Close releases it.
type WakeTimer struct {
	// C gets a value close to the instant that was Set, or to one that was Set before. The receiver calls Rest.
	C     chan struct{}
	late  time.Duration // how late the timer can be on a computer that is not busy
	timer interface {
		set(d time.Duration) // d is over 0; this replaces what was set before
		close()
	}
	at     time.Time
	within time.Duration
	awake  bool      // Rest waits without sleeping
	rough  time.Time // until then the computer counts as busy
}

// On a busy computer a goroutine that sleeps waits for a core afterward, and each message would be late by that. So
// after a wait that was too long, short waits do not sleep for a while. Alarms that must be exact are set early anyway;
// staying awake longer before those was tried, and gained nothing.
const (
	roughFor  = 100 * time.Millisecond
	shortWait = time.Millisecond
)

// nap is how long Rest takes at most, since its caller may have other work.
const nap = 20 * time.Microsecond

// NewWakeTimer makes an alarm with the system's best timer. It is not set yet.
func NewWakeTimer() *WakeTimer {
	if a := systemAlarm(); a != nil {
		return a
	}
	return goAlarm()
}

func goAlarm() *WakeTimer {
	c := make(chan struct{}, 1)
	return &WakeTimer{C: c, late: timerLate, timer: goTimer{time.AfterFunc(time.Hour, func() { ring(c) })}}
}

// Set makes C get a value shortly before the instant. A caller that then calls Set and Rest until the instant has come
// is late by no more than `within`, as far as the computer allows.
func (a *WakeTimer) Set(at time.Time, within time.Duration) {
	now := time.Now()
	if !a.at.IsZero() && now.Sub(a.at) > a.within+a.late { // a.at is still the last one that was set
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
	if within > 0 && within < shortWait && now.Before(a.rough) {
		lead = max(lead, shortWait)
	}
	d := at.Sub(now) - lead
	a.awake = lead > 0
	if d <= 0 {
		ring(a.C)
		return
	}
	a.timer.set(d)
}

// Rest waits for a short part of the remaining time, if any, without sleeping.
func (a *WakeTimer) Rest() {
	now := time.Now()
	for end := now.Add(nap); a.awake && now.Before(a.at) && now.Before(end); now = time.Now() {
		if a.late >= time.Millisecond {
			runtime.Gosched()
		}
	}
}

// Close ends the alarm.
func (a *WakeTimer) Close() { a.timer.close() }

// ring puts a value into a channel with room for one, unless it already has one.
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

// wait sleeps until n more messages may go. The ones after them wait n gaps from when these were due, so a sleep that
// ends a little late shifts nothing. Lost time is not made up: at most one message in a row comes early, however long
// the clock or the caller was held up.
func (p *pacer) wait(n, perSecond int, clock TimeSource) {
	now := clock.Now()
	due := now
	if p.next.After(now) {
		due = p.next
	}
	clock.Sleep(due.Sub(now))
	p.next = due.Add(time.Duration(n) * time.Second / time.Duration(perSecond))
}
