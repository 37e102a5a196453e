package trigger

import (
	"fmt"
	"slices"
	"sync"
	"time"

	"backfield/osc/run"
)

const (
	maxWaiting  = 16              // commands that wait to be carried out
	reportEvery = 5 * time.Second // between two reports of the same kind of problem
	// hushEvery is the least time between two hushes if nothing came in between: nobody can fill the journal with them.
	hushEvery = 50 * time.Millisecond
)

// Do carries out a command and returns the run's answer. from names the sender.
type Do func(c run.Command, from string) (said string, err error)

// commandQueue has the commands of one source carried out one at a time, in the order in which they came, and reports
// problems. A source calls give for each command, note for each problem, and last at its end.
type commandQueue struct {
	do     Do
	report func(text string)

	more    chan struct{} // more commands wait, or none will come
	ended   chan struct{} // closed when no more commands are carried out
	poke    chan struct{} // there is a problem to report
	running sync.WaitGroup

	mu       sync.Mutex
	waiting  []pendingCommand // at most maxWaiting, and one hush more
	over     bool             // no more commands will come
	counts   PortCounts
	problems [kinds]pendingProblem
}

// PortCounts is how much came from a source, by what became of it.
type PortCounts struct {
	Packets   int // from anyone
	Strangers int // packets and connections from addresses that may not send commands
	Malformed int // packets that are not OSC, are too long, or have too many messages; broken connections
	Refused   int // messages that are not commands
	Released  int // released buttons
	Flooded   int // commands beyond what one address may send or what can wait; dropped
	Failed    int // commands that the run refused
	Done      int // commands that were carried out; hushes that follow each other at once count as often as they came
}

// pendingCommand is a command that waits.
type pendingCommand struct {
	command run.Command
	from    string
}

// pendingProblem is what is still to be reported about one kind of problem.
type pendingProblem struct {
	n        int    // since it was last reported
	text     string // the first one since then
	reported time.Time
}

// The kinds of problems. Each is reported separately.
const (
	stranger = iota
	malformed
	refused
	flooded
	failed
	kinds
)

func newCommandQueue(do Do, report func(text string)) *commandQueue {
	o := &commandQueue{do: do, report: report, more: make(chan struct{}, 1), ended: make(chan struct{}),
		poke: make(chan struct{}, 1)}
	o.running.Go(o.work)
	o.running.Go(o.speak)
	return o
}

// give queues a command, and reports whether there was room. There is always room for a hush: after another hush that
// still waits it needs no place of its own, since that one will be carried out after this one came.
func (o *commandQueue) give(x pendingCommand) bool {
	o.mu.Lock()
	defer o.mu.Unlock()
	n, hush := len(o.waiting), x.command.Verb == run.Hush
	switch {
	case hush && n > 0 && o.waiting[n-1].command.Verb == run.Hush:
		o.counts.Done++
		return true
	case !hush && n >= maxWaiting:
		return false
	}
	o.waiting = append(o.waiting, x)
	o.wake()
	return true
}

// last ends the queue: no more commands will come.
func (o *commandQueue) last() {
	o.mu.Lock()
	defer o.mu.Unlock()
	o.over = true
	o.wake()
}

// wake has work look at the queue.
func (o *commandQueue) wake() {
	select {
	case o.more <- struct{}{}:
	default:
	}
}

// take gives the next command. If wait is over 0, there is none to carry out before that time has passed or more wakes
// the caller; over means that none will come. hushed is when the last hush was carried out, if it was the last command.
func (o *commandQueue) take(now, hushed time.Time) (x pendingCommand, wait time.Duration, over bool) {
	o.mu.Lock()
	defer o.mu.Unlock()
	if len(o.waiting) == 0 {
		return x, time.Hour, o.over
	}
	x = o.waiting[0]
	if wait = hushed.Add(hushEvery).Sub(now); wait > 0 && x.command.Verb == run.Hush && len(o.waiting) == 1 && !o.over {
		return x, wait, false
	}
	o.waiting = slices.Delete(o.waiting, 0, 1)
	return x, 0, false
}

func (o *commandQueue) count(add func(*PortCounts)) {
	o.mu.Lock()
	defer o.mu.Unlock()
	add(&o.counts)
}

// note counts a problem. It calls text only if the problem will be reported.
func (o *commandQueue) note(kind int, add func(*PortCounts), text func() string) {
	o.mu.Lock()
	defer o.mu.Unlock()
	add(&o.counts)
	x := &o.problems[kind]
	if x.n++; x.n > 1 {
		return
	}
	x.text = text()
	select {
	case o.poke <- struct{}{}:
	default:
	}
}

// work carries out the commands.
func (o *commandQueue) work() {
	defer close(o.ended)
	timer := time.NewTimer(time.Hour)
	defer timer.Stop()
	var hushed time.Time
	for {
		x, wait, over := o.take(time.Now(), hushed)
		switch {
		case over:
			return
		case wait > 0:
			timer.Reset(wait)
			select {
			case <-o.more:
			case <-timer.C:
			}
			continue
		}
		o.carryOut(x)
		if hushed = (time.Time{}); x.command.Verb == run.Hush {
			hushed = time.Now()
		}
	}
}

func (o *commandQueue) carryOut(x pendingCommand) {
	if _, err := o.do(x.command, x.from); err != nil {
		o.note(failed, func(c *PortCounts) { c.Failed++ }, func() string {
			return fmt.Sprintf("%s: %s: %v", x.from, x.command, err)
		})
		return
	}
	o.count(func(c *PortCounts) { c.Done++ })
}

// speak reports the problems.
func (o *commandQueue) speak() {
	timer := time.NewTimer(time.Hour)
	defer timer.Stop()
	for {
		select {
		case <-o.ended:
			return
		case <-o.poke:
		case <-timer.C:
		}
		now, wait := time.Now(), time.Hour
		for kind := range o.problems {
			text, due := o.due(kind, now)
			if text != "" {
				o.report(text)
			}
			wait = min(wait, due)
		}
		timer.Reset(wait)
	}
}

// due is what to report now about a kind of problem, empty for nothing, and the wait until the next report.
func (o *commandQueue) due(kind int, now time.Time) (text string, wait time.Duration) {
	o.mu.Lock()
	defer o.mu.Unlock()
	x := &o.problems[kind]
	wait = x.reported.Add(reportEvery).Sub(now)
	switch {
	case x.n == 0:
		return "", time.Hour
	case wait > 0:
		return "", wait
	}
	if text = x.text; x.n > 1 {
		text = fmt.Sprintf("%s (and %d more like this)", text, x.n-1)
	}
	*x = pendingProblem{reported: now}
	return text, time.Hour
}
