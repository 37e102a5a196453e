package run

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"backfield/osc/hold"
	"backfield/osc/journal"
	"backfield/osc/mixer"
	"backfield/osc/tempo"
)

// press takes a go or back, unless it was an accident.
func (e *Engine) press(c Command, now time.Time) (string, error) {
	if next := e.route.UpcomingID(e.step); c.Next != nil && *c.Next != next {
		return "", fmt.Errorf("someone else was faster: the next cue was %s and is now %s; %s ignored",
			cmp.Or(*c.Next, "none"), cmp.Or(next, "none"), c.Verb)
	}
	if e.tooSoon(now) {
		return "", fmt.Errorf("%s ignored (pressed twice within %d ms)", c.Verb, e.o.Guard.Milliseconds())
	}
	e.lastJump = ""
	if c.Verb == Back {
		return e.goBack(now)
	}
	return e.goNext(now)
}

// tooSoon reports whether the last press was so recent that this one counts as the same.
func (e *Engine) tooSoon(now time.Time) bool {
	return !e.pressedAt.IsZero() && now.Sub(e.pressedAt) < e.o.Guard
}

func (e *Engine) goNext(now time.Time) (string, error) {
	i := e.route.Upcoming(e.step)
	if i == len(e.route.Cues) {
		return "", fmt.Errorf("end of show: there is no next cue")
	}
	s := &e.route.Cues[i]
	e.remember(i)
	e.pressedAt = now
	if e.step < 0 || e.route.Cues[e.step].Movement != s.Movement || !e.clock.Running {
		e.presses, e.clock.Rate = nil, 1 // the tempo starts again as written
	}
	e.presses = append(slices.Clone(e.presses), journal.Press{PlannedS: s.TimeS, At: now})
	if len(e.presses) > tempo.MostPresses {
		e.presses = e.presses[1:]
	}
	e.clock = journal.PlayClock{ShowS: s.TimeS, At: now, Rate: tempo.Rate(e.presses, e.clock.Rate), Running: true}
	e.enter(i, now, e.fades(i))
	return "cue " + s.ID + e.sendExtras(i, now), nil
}

func (e *Engine) goBack(now time.Time) (string, error) {
	if e.step < 0 {
		return "", fmt.Errorf("this is the start of the show: there is no cue to go back to")
	}
	to := e.before(e.step, now)
	left := ""
	for _, id := range to.Sent {
		left += fmt.Sprintf("; the extra messages of cue %s cannot be undone", id)
	}
	e.pressedAt, e.clock, e.presses = now, to.Clock, to.Presses
	e.enter(e.route.Find(to.Step), now, hold.Entering{Cut: true})
	e.cause = ""
	e.Advance(now) // the automatic cues that are due on the old clock
	if e.step < 0 {
		return "back to before the first cue" + left, nil
	}
	return "back to cue " + e.route.ID(e.step) + left, nil
}

// before removes and returns where the run was before a cue. Once that is no longer known, it returns the cue before it
// in the score, with the clock stopped there.
func (e *Engine) before(of int, now time.Time) journal.Past {
	if n := len(e.past); n > 0 && !e.overtaken(e.past[n-1], of, now) {
		p := e.past[n-1]
		e.past = slices.Clone(e.past[:n-1])
		return p
	}
	to := of - 1
	stopped := journal.PlayClock{At: now, Rate: e.clock.Rate, Why: journal.StoppedByBack}
	p := journal.Past{Step: e.route.ID(to), Clock: stopped}
	if to >= 0 {
		p.Clock.ShowS = e.route.Cues[to].TimeS
	}
	if len(e.route.Cues[of].Also) > 0 {
		p.Sent = []string{e.route.ID(of)}
	}
	return p
}

// overtaken reports whether going back that far makes no sense with every cue automatic: other cues have gone since,
// perhaps the whole show, or the cue would go again at once.
func (e *Engine) overtaken(p journal.Past, of int, now time.Time) bool {
	due := p.Clock.Running && p.Clock.NowS(now) >= e.route.Cues[of].TimeS
	return e.o.ByClock && (p.Went != e.route.ID(of) || due)
}

// jump goes to a cue or a count. The same jump twice at once counts as one press; a different one corrects a typo.
func (e *Engine) jump(name string, now time.Time) (string, error) {
	if name == e.lastJump && e.tooSoon(now) {
		return "", fmt.Errorf("jump ignored (same jump twice within %d ms)", e.o.Guard.Milliseconds())
	}
	i, showS, err := e.find(name)
	if err != nil {
		return "", err
	}
	e.remember(i)
	e.clock, e.presses = journal.PlayClock{ShowS: showS, At: now, Rate: 1, Why: journal.StoppedByJump}, nil
	e.enter(i, now, hold.Entering{Cut: true})
	said := "jumped to before the first cue; show clock stopped (start runs it)"
	if i >= 0 {
		extras := e.sendExtras(i, now)
		said = fmt.Sprintf("jumped to cue %s%s; show clock stopped (start runs it)", e.route.ID(i), extras)
	}
	e.pressedAt, e.lastJump = now, name
	return said, nil
}

// find returns the step and the time of a cue's id or a count.
func (e *Engine) find(name string) (step int, showS float64, err error) {
	if i := e.route.Find(name); i >= 0 {
		return i, e.route.Cues[i].TimeS, nil
	}
	if e.setup.Time == nil {
		return 0, 0, fmt.Errorf("no cue %q", name)
	}
	showS, err = e.setup.Time.Find(name)
	if err != nil {
		return 0, 0, fmt.Errorf("no cue %q, and %w", name, err)
	}
	return e.route.At(showS), showS, nil
}

// remember notes where the run is before it enters a step, for back.
func (e *Engine) remember(to int) {
	e.past = append(e.past, journal.Past{
		Step: e.route.ID(e.step), Clock: e.clock, Presses: e.presses, Went: e.route.ID(to),
	})
	if len(e.past) > maxPast {
		e.past = slices.Clone(e.past[1:])
	}
}

// enter makes a step the current one and records it in the journal.
func (e *Engine) enter(i int, now time.Time, how hold.Entering) {
	if e.step < 0 && i >= 0 {
		e.overrides.Only = nil // another machine's time starts the show
	}
	e.step = i
	whole := !e.overrides.Hush && e.overrides.Only == nil // else a scene would open what is to be closed
	if e.o.Recall && e.setup.Mixer.Recall != nil && i >= 0 && whole {
		e.recall(i, now)
	} else {
		e.aim(now, how)
	}
	state := e.State()
	entry := journal.Entry{
		At: now, Kind: "step", Command: string(e.cause), Step: e.route.ID(i), Rate: e.clock.Rate, State: &state,
	}
	if i >= 0 {
		entry.PlannedS = e.route.Cues[i].TimeS
	}
	e.record(entry)
}

// sendExtras sends a cue's extra messages once. They are not part of the mixer's state, so they are not repeated, and a
// mixer without a link misses them. It returns the words for the operator.
func (e *Engine) sendExtras(i int, now time.Time) string {
	list := mixer.ExtraMessages(&e.route.Cues[i])
	if len(list) == 0 {
		return ""
	}
	if n := len(e.past); n > 0 {
		e.past = slices.Clone(e.past)
		last := &e.past[n-1]
		last.Sent = append(slices.Clone(last.Sent), e.route.ID(i))
	}
	words := make([]string, len(list))
	for n, m := range list {
		words[n] = m.String()
	}
	for _, f := range e.feeds {
		f.SendOnce(list, now)
	}
	return "; extra messages: " + strings.Join(words, ", ")
}
