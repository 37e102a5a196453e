package trigger

import (
	"fmt"
	"sync"
	"time"

	"backfield/osc/run"
)

const (
	maxWaiting  = 16              // commands that wait to be carried out
	reportEvery = 5 * time.Second // between two reports of the same kind of problem
)

// Do carries out a command and returns the run's answer. from names the sender.
type Do func(c run.Command, from string) (said string, err error)

// commandQueue has the commands of one source carried out one at a time, in the order in which they came, and reports
// problems. A source calls give for each command, note for each problem, and last at its end.
type commandQueue struct {
	do     Do
	report func(text string)

	waiting chan pendingCommand
	ended   chan struct{} // closed when no more commands are carried out
	poke    chan struct{} // there is a problem to report
	running sync.WaitGroup

	mu       sync.Mutex
	counts   PortCounts
	problems [kinds]pendingProblem
}

// PortCounts is how much came from a source, by what became of it.
type PortCounts struct {
	Packets   int // from anyone
	Strangers int // packets from addresses that may not send commands
	Malformed int // packets that are not OSC, are too long, or have too many messages; broken connections
	Refused   int // messages that are not commands
	Released  int // released buttons
	Flooded   int // commands beyond what one address may send or what can wait; dropped
	Failed    int // commands that the run refused
	Done      int // commands that were carried out
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
	o := &commandQueue{do: do, report: report, waiting: make(chan pendingCommand, maxWaiting), ended: make(chan struct{}),
		poke: make(chan struct{}, 1)}
	o.running.Go(o.work)
	o.running.Go(o.speak)
	return o
}

// Counts returns the counts so far.
func (o *commandQueue) Counts() PortCounts {
	o.mu.Lock()
	defer o.mu.Unlock()
	return o.counts
}

// give queues a command, and reports whether there was room.
func (o *commandQueue) give(x pendingCommand) bool {
	select {
	case o.waiting <- x:
		return true
	default:
		return false
	}
}

// last ends the queue: no more commands will come.
func (o *commandQueue) last() { close(o.waiting) }

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
	for x := range o.waiting {
		if _, err := o.do(x.command, x.from); err != nil {
			o.note(failed, func(c *PortCounts) { c.Failed++ }, func() string {
				return fmt.Sprintf("%s: %s: %v", x.from, x.command, err)
			})
			continue
		}
		o.count(func(c *PortCounts) { c.Done++ })
	}
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
