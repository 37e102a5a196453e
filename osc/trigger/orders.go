package trigger

import (
	"fmt"
	"sync"
	"time"

	"backfield/osc/run"
)

const (
	maxWaiting  = 16              // commands that are yet to be carried out
	reportEvery = 5 * time.Second // from one report of a kind of problem to the next
)

// Do carries out a command that came from somewhere, in words, and returns what the run says of it.
type Do func(c run.Command, from string) (said string, err error)

// orders takes the commands of one source, whatever they come over, has them carried out one at a time in the order in
// which they came, and reports problems. A source gives commands, notes what is no command, and says when its last has
// come.
type commandQueue struct {
	do     Do
	report func(text string)

	waiting chan pendingCommand
	ended   chan struct{} // no more orders will be carried out
	poke    chan struct{} // there is a problem to report
	running sync.WaitGroup

	mu       sync.Mutex
	counts   PortCounts
	problems [kinds]pendingProblem
}

// Counts is what came from a source.
type PortCounts struct {
	Packets   int // that came, from anybody
	Strangers int // packets from addresses that are not named
	Malformed int // packets that are no OSC, too long, or of too many messages; connections that were cut
	Refused   int // messages that are no command
	Released  int // buttons let go
	Flooded   int // commands over what one address may give in a second, or over what can wait; not carried out
	Failed    int // commands that came to nothing: the run would not take them
	Done      int // commands that were carried out
}

// order is a command that waits.
type pendingCommand struct {
	command run.Command
	from    string
}

// problem is what is yet to be reported of one kind of it.
type pendingProblem struct {
	n        int    // since it was last reported
	text     string // of the first since then
	reported time.Time
}

// The kinds of problems, each of which is reported by itself.
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

// Counts is what it has seen so far.
func (o *commandQueue) Counts() PortCounts {
	o.mu.Lock()
	defer o.mu.Unlock()
	return o.counts
}

// give has a command carried out in its turn, if there is room for one more to wait.
func (o *commandQueue) give(x pendingCommand) bool {
	select {
	case o.waiting <- x:
		return true
	default:
		return false
	}
}

// last says that no more commands will come.
func (o *commandQueue) last() { close(o.waiting) }

func (o *commandQueue) count(add func(*PortCounts)) {
	o.mu.Lock()
	defer o.mu.Unlock()
	add(&o.counts)
}

// note counts a problem. The text is made only if it will be reported.
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

// work carries out commands.
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

// speak reports problems.
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

// due is what is to be reported of a kind of problem now, and how long it is until there is more.
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
		text = fmt.Sprintf("%s (and %d more such)", text, x.n-1)
	}
	*x = pendingProblem{reported: now}
	return text, time.Hour
}
