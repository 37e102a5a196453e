package trigger

import (
	"fmt"
	"slices"
	"strings"
	"sync"
	"time"

	"backfield/osc/run"
)

const (
	maxWaiting  = 16              // commands that wait to be carried out
	reportEvery = 5 * time.Second // between two notices of the same problem
	maxNotices  = 16              // different refused commands that are named within that time; more are counted
	// hushEvery is the least time between two hushes if nothing came in between: nobody can fill the journal with them.
	hushEvery = 50 * time.Millisecond
)

// Do carries out a command and returns the run's answer. from names the sender.
type Do func(c run.Command, from string) (said string, err error)

// Report gets a problem in words. named reports whether it is with a machine that may send commands; the operator must
// see that, while anybody can cause the others.
type Report func(text string, named bool)

// commandQueue has the commands of one source carried out one at a time, in the order in which they came, and reports
// problems. A source calls give for each command, note for each problem, and last at its end.
type commandQueue struct {
	do     Do
	report Report

	more    chan struct{} // more commands wait, or none will come
	ended   chan struct{} // closed when no more commands are carried out
	poke    chan struct{} // there is a problem to report
	running sync.WaitGroup

	mu       sync.Mutex
	waiting  []pendingCommand // at most maxWaiting, and one hush more
	over     bool             // no more commands will come
	counts   PortCounts
	problems []*pendingNotice
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

// pendingNotice is what is still to be reported of one problem.
type pendingNotice struct {
	kind     problemKind
	what     string // which command was refused, and why; empty for the kinds that are one notice for all
	n        int    // since it was last reported
	text     string // the first one since then
	reported time.Time
}

// problemKind is a kind of problem.
type problemKind int

const (
	stranger  problemKind = iota // who may not send commands
	broken                       // connections
	malformed                    // packets of a machine that may
	flooded
	refused // each command that is refused names itself
	others  // more of these than are named
)

func newCommandQueue(do Do, report Report) *commandQueue {
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
func (o *commandQueue) note(kind problemKind, add func(*PortCounts), text func() string) {
	o.noteOne(kind, "", add, text)
}

// refuse counts a command that was refused. The same command of the same machine is one notice, whatever its port.
func (o *commandQueue) refuse(from, why string, add func(*PortCounts)) {
	machine := from[:max(strings.LastIndexByte(from, ':'), 0)]
	o.noteOne(refused, machine+" "+why, add, func() string { return from + ": " + why })
}

func (o *commandQueue) noteOne(kind problemKind, what string, add func(*PortCounts), text func() string) {
	o.mu.Lock()
	defer o.mu.Unlock()
	add(&o.counts)
	x := o.notice(kind, what)
	if x.n++; x.n > 1 {
		return
	}
	x.text = text()
	select {
	case o.poke <- struct{}{}:
	default:
	}
}

// notice is the notice of a problem: a new one, or the one that it has already.
func (o *commandQueue) notice(kind problemKind, what string) *pendingNotice {
	named := 0
	for _, x := range o.problems {
		if x.kind == kind && x.what == what {
			return x
		}
		if x.what != "" {
			named++
		}
	}
	if what != "" && named >= maxNotices {
		return o.notice(others, "")
	}
	x := &pendingNotice{kind: kind, what: what}
	o.problems = append(o.problems, x)
	return x
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
		o.refuse(x.from, fmt.Sprintf("%s: %v", x.command, err), func(c *PortCounts) { c.Failed++ })
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
		for {
			text, named, wait := o.due(time.Now())
			if text == "" {
				timer.Reset(wait)
				break
			}
			o.report(text, named)
		}
	}
}

// due is a notice to report now, empty for none, and the wait until the next one.
func (o *commandQueue) due(now time.Time) (text string, named bool, wait time.Duration) {
	o.mu.Lock()
	defer o.mu.Unlock()
	wait = time.Hour
	o.problems = slices.DeleteFunc(o.problems, func(x *pendingNotice) bool {
		return x.n == 0 && now.Sub(x.reported) >= reportEvery
	})
	for _, x := range o.problems {
		switch left := x.reported.Add(reportEvery).Sub(now); {
		case x.n == 0:
		case left > 0:
			wait = min(wait, left)
		default:
			text = x.words()
			x.n, x.reported = 0, now
			return text, x.kind != stranger && x.kind != broken, 0
		}
	}
	return "", false, wait
}

func (x *pendingNotice) words() string {
	switch {
	case x.kind == others:
		return fmt.Sprintf("%d more commands were refused, such as %s", x.n, x.text)
	case x.n == 1:
		return x.text
	case x.kind == refused:
		return fmt.Sprintf("%s (%d times)", x.text, x.n)
	}
	return fmt.Sprintf("%s (and %d more like this)", x.text, x.n-1)
}
