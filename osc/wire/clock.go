package wire

import (
	"runtime"
	"time"
)

// Clock tells and passes the time. Sending takes one, so that its pace can be tested without waiting.
type Clock interface {
	Now() time.Time
	// Sleep returns once d has passed, at once if d is not over 0.
	Sleep(d time.Duration)
}

// Wall is the machine's own clock.
type Wall struct{}

// Now is the time of day with the monotonic reading.
func (Wall) Now() time.Time { return time.Now() }

// Spun is how much of a sleep is spent awake: timers fire up to a millisecond late on an idle machine, which
// at 2,000 messages a second is two messages.
const Spun = 1200 * time.Microsecond

// Sleep is exact to some microseconds, for a little of one core.
func (Wall) Sleep(d time.Duration) {
	end := time.Now().Add(d)
	if d > Spun {
		time.Sleep(d - Spun)
	}
	for time.Now().Before(end) {
		runtime.Gosched()
	}
}

// pacer spaces messages: next is when the next one may go.
type pacer struct{ next time.Time }

// wait sleeps until n more messages may go, and has the ones after them wait n gaps from when these could.
// So a sleep that ends a little late shifts nothing, and of any messages in a row at most one comes early,
// however long the clock or the caller was held up: what is late stays late and is never caught up with.
func (p *pacer) wait(n, perSecond int, clock Clock) {
	now := clock.Now()
	due := now
	if p.next.After(now) {
		due = p.next
	}
	clock.Sleep(due.Sub(now))
	p.next = due.Add(time.Duration(n) * time.Second / time.Duration(perSecond))
}
