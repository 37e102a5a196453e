// Package run is the live run: it steps through a compiled show and keeps the mixers in the right state. The Engine
// does no I/O: callers give it times, commands and the mixers' replies, and it returns messages and the time of its
// next call. It opens no socket, reads no clock and starts no goroutine, so a rehearsal, a test of a thousand runs and
// the show itself use the same code. Package live drives it with real sockets and the computer's clock.
//
// The Engine steps through the show. The operator's changes are in overrides, fades in motion. Together they fill a
// hold.TargetTable, from which one feed.Feed for each mixer sends.
package run

import (
	"cmp"
	"fmt"
	"time"

	"backfield/cue"
	"backfield/osc/accept"
	"backfield/osc/feed"
	"backfield/osc/hold"
	"backfield/osc/journal"
	"backfield/osc/mixer"
	"backfield/osc/override"
	"backfield/osc/route"
	"backfield/osc/tempo"
)

// Options are the settings of a run.
type Options struct {
	To      []string            // names of the mixers, for messages and the journal; all get the same
	Guard   time.Duration       // a go or back within this time of the last counts as the same press; 0 means 400 ms
	ByClock bool                // every cue is automatic once the clock runs
	Recall  bool                // cues are recalled from scenes in the mixer
	Up      []int               // for Resume: mixers whose link is open, so that what is due at once goes out
	Record  func(journal.Entry) // writes the journal; nil for none
}

// maxPast is how many presses back can undo.
const maxPast = 8

// Engine is one run. Make one with New or Resume.
type Engine struct {
	setup ShowSetup
	o     Options
	route route.Route
	table *hold.TargetTable
	feeds []*feed.Feed

	step      int // the current snapshot, -1 before the first cue
	clock     journal.PlayClock
	presses   []journal.Press
	past      []journal.Past
	pressedAt time.Time // when go, back or jump was last taken
	lastJump  string    // the argument of the last jump
	onlyName  string    // the argument of the last only, taken or not
	onlyAt    time.Time // when that was

	overrides override.Overrides
	motion    *hold.Motion
	aimedS    float64 // the show's time for which that was made
	limits    hold.GlideLimits
	index     []int        // by channel: where a snapshot has it, -1 for one outside the show
	closes    []int        // channels that fade out, ascending
	target    cue.Snapshot // what the mixers should hold once all fades are over
	cause     Verb         // the command being carried out
	byOthers  int          // see View

	problems []shownProblem // the latest ones, oldest first
	notice   string
	noticeAt time.Time
}

// New makes a run before its first cue. It sends nothing to a mixer before LinkUp.
func New(p ShowSetup, o Options, now time.Time) *Engine {
	o.Guard = cmp.Or(o.Guard, 400*time.Millisecond)
	table := hold.New(p.Mixer)
	e := &Engine{
		setup: p, o: o, route: route.Route{Cues: p.Show.Cues, ByClock: o.ByClock}, step: -1,
		clock: journal.PlayClock{Rate: 1, At: now, Why: journal.StoppedAtStart},
		table: table, overrides: override.New(p.Show, p.Mixer),
	}
	e.index, e.limits = channelIndex(p.Show), hold.LimitsOf(p.Show)
	e.motion = hold.NewMotion(table, e.path, e.limits, feedList{e})
	for _, to := range o.To {
		e.feeds = append(e.feeds, feed.New(table, to, e.reports(len(e.feeds), to)))
	}
	e.apply(now)
	return e
}

// Resume makes a run that continues from a state. It assumes that the mixers are still about right, so open mics are
// not closed first. The error is for a state of another show.
func Resume(p ShowSetup, o Options, s journal.RunState, now time.Time) (*Engine, error) {
	e := New(p, o, now)
	if e.step = e.route.Find(s.Step); e.step < 0 && s.Step != "" {
		return nil, fmt.Errorf("the journal ends in cue %q, which this show does not have", s.Step)
	}
	s, refused := accept.State(s, p.Show, p.Mixer, len(o.To), accept.StateLimits{
		Presses: tempo.MostPresses, Past: maxPast, NudgeDB: maxNudgeDB, Slowest: tempo.Slowest, Fastest: tempo.Fastest,
	}, now)
	if refused != "" {
		e.ReportProblem(refused, now)
	}
	e.clock, e.presses, e.past = s.Clock, s.Presses, s.Past
	e.overrides.Load(s)
	e.loadOnly(s)
	if now.Before(s.Clock.At) { // another computer, or the clock was set back
		e.clock = journal.PlayClock{ShowS: s.Clock.ShowS, At: now, Rate: s.Clock.Rate, Why: journal.StoppedByResume}
		e.presses = nil
		e.ReportProblem(
			fmt.Sprintf("this computer's clock is %v behind the journal's, so the show's time is unknown: "+
				"show clock stopped until start or go", s.Clock.At.Sub(now).Round(time.Second)),
			now,
		)
	}
	for _, n := range s.OldSpares { // the mixer may not have received that they close
		e.target.Channels = append(e.target.Channels, cue.Channel{Channel: n, Kind: cue.Worn, LevelDB: cue.Silent})
	}
	for _, f := range e.feeds {
		f.Open()
	}
	for _, i := range o.Up {
		e.feeds[i].LinkUp(now)
	}
	e.apply(now)
	for _, m := range s.Manual {
		e.feeds[m.Mixer].SetManual(mixer.Control{Channel: m.Channel, Param: m.Param, Zone: m.Zone}, m.Muted)
	}
	if s.Hush {
		for n, f := range e.feeds {
			f.Outside().SetHushed(s.ClosedByHush(n))
		}
	}
	e.finishFades(now)
	e.Advance(now)
	return e, nil
}

// State is what Resume needs to continue this run.
func (e *Engine) State() journal.RunState {
	s := journal.RunState{Step: e.route.ID(e.step), Clock: e.clock, Presses: e.presses, Past: e.past}
	e.overrides.Save(&s)
	for _, c := range e.target.Channels {
		if !e.overrides.InUse(c.Channel) {
			s.OldSpares = append(s.OldSpares, c.Channel)
		}
	}
	for n, f := range e.feeds {
		for _, m := range f.Moves() {
			manual := journal.ManualChannel{
				Mixer: n, Channel: m.Channel, Param: m.Param, Zone: m.Zone, Muted: m.Muted, What: m.What,
			}
			if dB, known := f.FaderOffsetDB(m.Channel); known && m.Param == cue.ParamLevel {
				manual.Player, manual.OffsetDB = e.playerOn(m.Channel), dB
			}
			s.Manual = append(s.Manual, manual)
		}
		for _, c := range f.Outside().Closed() {
			s.Outside = append(s.Outside, journal.HushedChannel{Mixer: n, Channel: c})
		}
	}
	return s
}

// snapshot is what the mixers should hold in a step: its snapshot with the operator's changes. Before the first cue it
// is the first snapshot, closed.
func (e *Engine) snapshot(o *override.Overrides, step int, now time.Time) cue.Snapshot {
	if len(e.route.Cues) == 0 {
		return cue.Snapshot{}
	}
	s := e.route.Cues[max(step, 0)]
	if step == e.step && step >= 0 {
		s = s.OpensEarly(e.clock.NowS(now))
	}
	return o.ApplyTo(s, step < 0, e.target.Channels)
}

// apply makes the current step's snapshot the target after a command, without a fade.
func (e *Engine) apply(now time.Time) { e.aim(now, hold.Entering{}) }

// aim makes the current step's snapshot the target.
func (e *Engine) aim(now time.Time, how hold.Entering) {
	before := e.target.Channels
	e.target, e.aimedS = e.snapshot(&e.overrides, e.step, now), e.clock.NowS(now)
	closes := e.openAndClose(before)
	how.Cut = how.Cut || e.overrides.Hush || e.overrides.Only != nil
	how.AtOnce = append(how.AtOnce, e.handed(before)...)
	e.motion.Aim(&e.target, now, how)
	e.follow(now)
	e.markAll()
	e.closes = append(e.closes, closes...)
	e.reportClosed(now)
}

// follow has the feeds move what they send of open channels toward their paths. Ticks go on while one is behind.
func (e *Engine) follow(now time.Time) {
	for _, f := range e.feeds {
		f.Follow(now)
	}
}

// finishFades ends all fades at once.
func (e *Engine) finishFades(now time.Time) {
	e.motion.Finish(&e.target, now)
	e.follow(now)
	e.markAll()
}

// feedList is all feeds of a run, for its motion.
type feedList struct{ *Engine }

// Mark has every feed check a row of the table.
func (l feedList) Mark(row int) {
	for _, f := range l.feeds {
		f.Mark(row)
	}
}

// SetAt is when the last of the mixers in reach was sent a value of a row.
func (l feedList) SetAt(row int, now time.Time) (at time.Time) {
	for _, f := range l.feeds {
		if t := f.SetAt(row, now); f.Reached() && t.After(at) {
			at = t
		}
	}
	return at
}

func (e *Engine) markAll() {
	for _, f := range e.feeds {
		f.MarkAll()
	}
}

// recall has the mixers recall a step's scene. What differs from it (holds, swaps, nudges, hush) is sent after the
// mixer's settle time.
func (e *Engine) recall(i int, now time.Time) {
	e.aim(now, hold.Entering{Cut: true, Step: true})
	e.finishFades(now)
	s := &e.route.Cues[i]
	stored := s.Scene()
	scene := e.setup.Mixer.Recall.Message(e.setup.Mixer.Store.First+i, mixer.SceneName(s.ID, s.Name))
	for _, f := range e.feeds {
		f.Recall(scene, &stored, now)
	}
	e.follow(now)
}

// Advance does what is due: automatic steps, fades, and the feeds' own work.
func (e *Engine) Advance(now time.Time) {
	for {
		next, ok := e.route.NextAutomatic(e.step)
		if !ok || !e.clock.Running || e.clock.NowS(now) < e.route.Cues[next].TimeS-1e-9 {
			break
		}
		e.enter(next, now, e.fades(next))
		e.sendExtras(next, now)
	}
	if at, fade, ok := e.nextEarly(); ok && !now.Before(at) {
		e.aim(now, hold.Entering{Fade: fade, Step: true})
	}
	if e.motion.Tick(&e.target, now) {
		e.follow(now)
		e.reportClosed(now)
	}
	for _, f := range e.feeds {
		if f.Advance(now); f.Behind() {
			e.motion.KeepTicking(now)
		}
	}
}

// slack is how late work may be done that need not be exact to a millisecond.
const slack = 5 * time.Millisecond

// Next is when Advance and Take must be called again if nothing happens before, and how late that may be. An automatic
// step or a fade may not be late.
func (e *Engine) Next(now time.Time) (at time.Time, within time.Duration) {
	at, within = now.Add(time.Hour), slack
	if next, ok := e.route.NextAutomatic(e.step); ok && e.clock.Running {
		if t := e.clock.When(e.route.Cues[next].TimeS); t.Before(at) {
			at, within = t, 0
		}
	}
	if t, _, ok := e.nextEarly(); ok && t.Before(at) {
		at, within = t, 0
	}
	if t := e.motion.Next(); t.Before(at) {
		at, within = t, 0
	}
	for _, f := range e.feeds {
		if t, w := f.Next(now); t.Before(at) {
			at, within = t, w
		}
	}
	return at, within
}

// Settled reports whether at least one mixer is in reach, each of those holds the target as far as that can be known,
// and nothing fades. What glides along a path is settled all the same.
func (e *Engine) Settled() bool {
	if e.motion.Fading() {
		return false
	}
	reached := false
	for _, f := range e.feeds {
		if !f.Reached() {
			continue
		}
		if reached = true; !f.Settled() || f.Behind() {
			return false
		}
	}
	return reached
}

// FinishFades ends all fades at the end of a run, so that no level stays partway. It reports whether there were any.
func (e *Engine) FinishFades(now time.Time) bool {
	e.Advance(now)
	if !e.motion.Fading() {
		return false
	}
	e.finishFades(now)
	return true
}

// Close closes every worn mic at the end of a run, and ends the fades of all others. The messages go out like any other.
func (e *Engine) Close(now time.Time) {
	e.closeWorn(now)
	e.finishFades(now)
	state := e.State()
	e.record(journal.Entry{
		At: now, Kind: "command", Command: string(Hush), Text: "closed at the end",
		Step: e.route.ID(e.step), State: &state,
	})
}

func (e *Engine) record(entry journal.Entry) {
	if e.o.Record != nil {
		e.o.Record(entry)
	}
}
