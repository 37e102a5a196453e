// Package run is the live run: it steps a compiled show at the mixers, and sees to it that they hold what they should.
// The Engine is a pure machine: it is given instants, commands and what the mixers say, and gives back messages and the
// instant at which it wants to be called again. It opens no socket, reads no clock and starts no goroutine, so that a
// rehearsal, a test of a thousand runs and the show itself are one routine. Live drives it with real sockets and the
// machine's clock.
//
// The Engine steps through the show. What the operator has changed over it is kept in overrides, what is on its way in
// motion. Together they fill a hold.Table, from which one feed.Feed for each mixer sends.
package run

import (
	"cmp"
	"fmt"
	"time"

	"backfield/cue"
	"backfield/osc/feed"
	"backfield/osc/hold"
	"backfield/osc/journal"
	"backfield/osc/mixer"
)

// Options change how a run behaves.
type Options struct {
	To      []string            // the mixers, fed alike; for messages and the journal
	Guard   time.Duration       // a go or back sooner after the last is taken for the same press; 0: 400 ms
	ByClock bool                // every cue goes by itself, from Start on
	Recall  bool                // cues are recalled from the mixer's own scenes
	Record  func(journal.Entry) // the journal; nil for none
}

// mostPast is how many presses can be taken back.
const maxPast = 8

// Engine is one run. Make one with New or Resume.
type Engine struct {
	setup Setup
	o     Options
	route route
	feeds []*feed.Feed

	step      int // the snapshot that is meant, -1 before the first
	clock     journal.PlayClock
	presses   []journal.Press
	past      []journal.Past
	pressedAt time.Time // when go, back or to was last taken
	lastJump  string    // the last of to

	overrides overrides
	motion    motion
	target    cue.Snapshot // what the mixers should hold, fades at their end
	cause     Verb         // of the command that is being carried out

	problem   string // the last one
	problemAt time.Time
}

// New makes a run that is before its first cue. Nothing is sent to a mixer before Linked.
func New(p Setup, o Options, now time.Time) *Engine {
	o.Guard = cmp.Or(o.Guard, 400*time.Millisecond)
	table := hold.New(p.Mixer)
	e := &Engine{
		setup: p, o: o, route: route{p.Show.Cues, o.ByClock}, step: -1, clock: journal.PlayClock{Rate: 1, At: now},
		overrides: newOverrides(p),
	}
	e.motion = newMotion(p.Mixer, table, e.mark)
	for _, to := range o.To {
		e.feeds = append(e.feeds, feed.New(table, to, e.reports(to)))
	}
	e.apply(now, 0)
	return e
}

// Resume makes a run that goes on from a state. The mixers are taken to hold about what they should: what is open is
// not closed first. The error is for a state of another show.
func Resume(p Setup, o Options, s journal.RunState, now time.Time) (*Engine, error) {
	e := New(p, o, now)
	if e.step = e.route.find(s.Step); e.step < 0 && s.Step != "" {
		return nil, fmt.Errorf("the journal stands in cue %q, and the show has none of that id", s.Step)
	}
	e.clock, e.presses, e.past = s.Clock, s.Presses, s.Past
	e.overrides.load(s)
	if now.Before(s.Clock.At) { // on another computer, or one whose clock was set back
		e.clock.At, e.clock.Running, e.presses = now, false, nil
		e.ReportProblem(
			fmt.Sprintf("this computer's clock is %v behind that of the journal, so nobody knows how far the show is: "+
				"the show clock stands until start or go", s.Clock.At.Sub(now).Round(time.Second)),
			now,
		)
	}
	if !(s.Clock.Rate > 0) { // of a run that was killed before its first command
		e.clock.Rate = 1
	}
	for _, n := range s.OldSpares { // the mixer may not have got that they close
		e.target.Channels = append(e.target.Channels, cue.Channel{Channel: n, Kind: cue.Worn, LevelDB: cue.Silent})
	}
	for _, m := range s.Manual {
		if m.Mixer < len(e.feeds) {
			e.feeds[m.Mixer].SetManual(m.Channel, m.What)
		}
	}
	for _, f := range e.feeds {
		f.Open()
	}
	e.apply(now, 0)
	e.finishFades(now)
	e.Advance(now)
	return e, nil
}

// State is what Resume needs.
func (e *Engine) State() journal.RunState {
	s := journal.RunState{Step: e.route.id(e.step), Clock: e.clock, Presses: e.presses, Past: e.past}
	e.overrides.save(&s)
	for _, c := range e.target.Channels {
		if !e.overrides.inUse(c.Channel) {
			s.OldSpares = append(s.OldSpares, c.Channel)
		}
	}
	for n, f := range e.feeds {
		for _, channel := range f.Manual() {
			s.Manual = append(s.Manual, journal.ManualChannel{Mixer: n, Channel: channel, What: f.Moved(channel)})
		}
	}
	return s
}

// snapshot is what the mixers should hold in a step: its snapshot, and over it what the operator has changed. Before
// the first step it is the first snapshot, closed.
func (e *Engine) snapshot(step int) cue.Snapshot {
	if len(e.route.cues) == 0 {
		return cue.Snapshot{}
	}
	return e.overrides.applyTo(e.route.cues[max(step, 0)], step < 0, e.target.Channels)
}

// apply brings the mixers on their way to what is meant. Fades take a length.
func (e *Engine) apply(now time.Time, length time.Duration) {
	e.target = e.snapshot(e.step)
	e.motion.aim(&e.target, now, length)
	e.markAll()
}

// arrive ends all fades.
func (e *Engine) finishFades(now time.Time) {
	e.motion.finish(&e.target, now)
	e.markAll()
}

// mark has every feed look at a row of the table.
func (e *Engine) mark(row int) {
	for _, f := range e.feeds {
		f.Mark(row)
	}
}

func (e *Engine) markAll() {
	for _, f := range e.feeds {
		f.MarkAll()
	}
}

// recall has the mixers fetch a step's scene; what is meant otherwise (holds, swaps, nudges, hush) is sent after the
// mixer has had its time.
func (e *Engine) recall(i int, now time.Time) {
	e.apply(now, 0)
	e.finishFades(now)
	s := &e.route.cues[i]
	scene := e.setup.Mixer.Recall.Message(e.setup.Mixer.Store.First+i, mixer.SceneName(s.ID, s.Name))
	for _, f := range e.feeds {
		f.Recall(scene, s, now)
	}
}

// Advance does what is due: steps that go by themselves, fades, and what the feeds have to do.
func (e *Engine) Advance(now time.Time) {
	for {
		next, ok := e.route.nextAutomatic(e.step)
		if !ok || !e.clock.Running || e.clock.NowS(now) < e.route.cues[next].TimeS-1e-9 {
			break
		}
		e.enter(next, now, journal.Seconds(e.route.cues[next].FadeS/e.clock.Rate))
		e.sendExtras(next, now)
	}
	e.motion.tick(&e.target, now)
	for _, f := range e.feeds {
		f.Advance(now)
	}
}

// idly is how late something may be done that does not matter to a millisecond.
const slack = 5 * time.Millisecond

// Next is when Advance and Take want to be called again, if nothing happens before, and how late that may be: not at
// all where something goes by itself or a fade moves on.
func (e *Engine) Next(now time.Time) (at time.Time, within time.Duration) {
	at, within = now.Add(time.Hour), slack
	if next, ok := e.route.nextAutomatic(e.step); ok && e.clock.Running {
		if t := e.clock.When(e.route.cues[next].TimeS); t.Before(at) {
			at, within = t, 0
		}
	}
	if e.motion.ticking && e.motion.tickAt.Before(at) {
		at, within = e.motion.tickAt, 0
	}
	for _, f := range e.feeds {
		if t, w := f.Next(now); t.Before(at) {
			at, within = t, w
		}
	}
	return at, within
}

// Settled reports whether a mixer is reached, every one that is holds what is meant, as far as it can be known, and no
// level is on its way.
func (e *Engine) Settled() bool {
	if e.motion.ticking {
		return false
	}
	reached := false
	for _, f := range e.feeds {
		if !f.Reached() {
			continue
		}
		if reached = true; !f.Settled() {
			return false
		}
	}
	return reached
}

// Close ends the run: every worn mic is closed. It is sent to the mixers like all else.
func (e *Engine) Close(now time.Time) {
	e.closeWorn(now)
	state := e.State()
	e.record(journal.Entry{
		At: now, Kind: "command", Command: string(Hush), Text: "closed at the end",
		Step: e.route.id(e.step), State: &state,
	})
}

// Trouble takes a problem that somebody else has, for the operator and the journal.
func (e *Engine) ReportProblem(text string, now time.Time) {
	e.report(journal.Entry{At: now, Kind: "problem", Text: text})
}

// report records a problem, which is the last one from now on.
func (e *Engine) report(problem journal.Entry) {
	e.problem, e.problemAt = problem.Text, problem.At
	e.record(problem)
}

func (e *Engine) record(entry journal.Entry) {
	if e.o.Record != nil {
		e.o.Record(entry)
	}
}
