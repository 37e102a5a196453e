// Package run is the live run: it steps a compiled show at the desks, and sees to it that they hold what they are
// meant to. The Engine is a pure machine: it is given instants, commands and what the desks say, and gives back
// messages and the instant at which it wants to be called again. It opens no socket, reads no clock and starts no
// goroutine, so that a rehearsal, a test of a thousand runs and the show itself are one routine. Live drives it with
// real sockets and the machine's clock.
package run

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"backfield/cue"
	"backfield/layout/source"
	"backfield/osc"
	"backfield/osc/desk"
)

// Options change how a run behaves.
type Options struct {
	To      []string      // the desks, fed alike; for messages and the journal
	Guard   time.Duration // a go or back sooner after the last is taken for the same press; 0: 400 ms
	ByClock bool          // every cue goes by itself, from Start on
	Recall  bool          // cues are recalled from the desk's own scenes
	Record  func(Entry)   // the journal; nil for none
}

// State is all that a run must know to go on after it was cut off.
type State struct {
	Step    string        `json:"step"` // the snapshot that is meant; empty before the first
	Clock   Clock         `json:"clock"`
	Presses []press       `json:"presses,omitempty"` // of this movement
	Hush    bool          `json:"hush,omitempty"`
	Holds   []cue.Channel `json:"holds,omitempty"` // as they were when they were held
	InHand  []Hand        `json:"in_hand,omitempty"`
	Swaps   []Swapped     `json:"swaps,omitempty"`
	Spent   []int         `json:"spent,omitempty"` // channels that were spares and are none now: they are kept closed
	Nudges  []Nudged      `json:"nudges,omitempty"`
	Past    []past        `json:"past,omitempty"` // for Back, oldest first
}

// Hand is a channel that somebody moved at a desk.
type Hand struct {
	Desk    int    `json:"desk"` // from 0
	Channel int    `json:"channel"`
	What    string `json:"what"`
}

// Swapped is a dead pack's channel, and the spare's.
type Swapped struct {
	Channel int `json:"channel"`
	Spare   int `json:"spare"`
}

// Nudged is a level that was changed for this run, and the step in which that began.
type Nudged struct {
	Name string  `json:"name"`
	DB   float64 `json:"db"`
	Step string  `json:"step"`
}

// past is where a go came from.
type past struct {
	Step    string   `json:"step"`
	Clock   Clock    `json:"clock"`
	Presses []press  `json:"presses,omitempty"`
	Went    string   `json:"went,omitempty"` // the step that it led to
	Sent    []string `json:"sent,omitempty"` // the cues that have sent something besides their channels since
}

// mostPast is how many presses can be taken back.
const mostPast = 8

// line is a channel's level, or one of the desk's own parameters, as it moves, and the index of its address, -1 where the
// desk has none.
type line struct {
	fade  fade
	index int
}

// Engine is one run.
type Engine struct {
	Plan
	o     Options
	feeds []*feed
	now   time.Time // of the call that is being worked on

	step    int // the snapshot that is meant, -1 before the first
	clock   Clock
	presses []press
	past    []past
	acted   time.Time // when go, back or to was last taken
	went    string    // the last of to

	hush   bool
	holds  map[int]cue.Channel
	swaps  []Swapped
	nudges []Nudged

	meant     cue.Snapshot         // what the desks are to hold, fades at their end
	levels    []*line              // by channel; nil where it is closed
	glides    map[desk.Place]*line // the desk's own parameters that fade
	own       []desk.Own           // the desk's own parameters
	open      []bool               // by channel
	ours      []bool               // by channel: whether it is one of the show's, and so of every snapshot
	places    []desk.Place
	addresses []string
	want      []osc.Arg      // by address, as places
	dark      []osc.Arg      // the same closed: of mutes and levels only
	index     map[string]int // of an address
	order     []int          // the addresses parameter by parameter, as they are marked

	raws        map[string]bool // addresses of what cues send besides their channels
	sentBesides bool            // a cue has sent some

	ticking bool
	tickAt  time.Time

	cause     Verb   // of the command that is being carried out
	trouble   string // the last problem
	troubleAt time.Time
}

// New makes a run that stands before its first cue. Nothing is sent to a desk before Linked.
func New(p Plan, o Options, now time.Time) *Engine {
	o.Guard = cmp.Or(o.Guard, 400*time.Millisecond)
	e := &Engine{Plan: p, o: o, now: now, step: -1, clock: Clock{Rate: 1, At: now}, holds: map[int]cue.Channel{}, glides: map[desk.Place]*line{}, index: map[string]int{}, own: p.Desk.Own(), raws: map[string]bool{}}
	for _, to := range o.To {
		e.feeds = append(e.feeds, newFeed(e, to))
	}
	for i := range p.Show.Cues {
		for _, m := range desk.Raw(&p.Show.Cues[i]) {
			e.raws[m.Address] = true
		}
		for _, c := range p.Show.Cues[i].Channels {
			for len(e.ours) <= c.Channel {
				e.ours = append(e.ours, false)
			}
			e.ours[c.Channel] = true
		}
	}
	e.apply(now, 0)
	return e
}

// Resume makes a run that goes on from a state. The desks are taken to hold about what they are meant to: what is
// open is not closed first. The error is for a state of another show.
func Resume(p Plan, o Options, s State, now time.Time) (*Engine, error) {
	e := New(p, o, now)
	at := func(id string) (int, error) {
		if id == "" {
			return -1, nil
		}
		if i := e.find(id); i >= 0 {
			return i, nil
		}
		return -1, fmt.Errorf("the journal stands in cue %q, and the show has none of that id", id)
	}
	var err error
	if e.step, err = at(s.Step); err != nil {
		return nil, err
	}
	e.clock, e.presses, e.past, e.hush, e.swaps, e.nudges = s.Clock, s.Presses, s.Past, s.Hush, s.Swaps, s.Nudges
	if now.Before(s.Clock.At) { // on another computer, or one whose clock was set back
		e.clock.At, e.clock.Running, e.presses = now, false, nil
		e.problem(now, fmt.Sprintf("this computer's clock is %v behind that of the journal, so nobody knows how far the show is: the show clock stands until start or go", s.Clock.At.Sub(now).Round(time.Second)))
	}
	if !(s.Clock.Rate > 0) { // of a run that was killed before its first command
		e.clock.Rate = 1
	}
	for _, c := range s.Holds {
		e.holds[c.Channel] = c
	}
	for _, n := range s.Spent { // the desk may not have heard that they close
		e.meant.Channels = append(e.meant.Channels, cue.Channel{Channel: n, Kind: cue.Worn, LevelDB: cue.Silent})
	}
	for _, h := range s.InHand {
		if h.Desk < len(e.feeds) {
			e.feeds[h.Desk].inHand[h.Channel] = h.What
		}
	}
	for _, f := range e.feeds {
		f.lit = true
	}
	e.apply(now, 0)
	e.arrive(now)
	e.Advance(now)
	return e, nil
}

// State is what Resume needs.
func (e *Engine) State() State {
	s := State{Step: e.id(e.step), Clock: e.clock, Presses: e.presses, Hush: e.hush, Swaps: e.swaps, Nudges: e.nudges, Past: e.past}
	for _, c := range e.holds {
		s.Holds = append(s.Holds, c)
	}
	slices.SortFunc(s.Holds, func(a, b cue.Channel) int { return cmp.Compare(a.Channel, b.Channel) })
	for _, c := range e.meant.Channels {
		if !e.inUse(c.Channel) {
			s.Spent = append(s.Spent, c.Channel)
		}
	}
	for n, f := range e.feeds {
		for channel, what := range f.inHand {
			s.InHand = append(s.InHand, Hand{n, channel, what})
		}
	}
	slices.SortFunc(s.InHand, func(a, b Hand) int {
		return cmp.Or(cmp.Compare(a.Desk, b.Desk), cmp.Compare(a.Channel, b.Channel))
	})
	return s
}

func (e *Engine) id(step int) string {
	if step < 0 {
		return ""
	}
	return e.Show.Cues[step].ID
}

// Do carries out a command and says what came of it. The error is for a command that makes no sense here; then nothing
// has changed.
func (e *Engine) Do(c Command, now time.Time) (string, error) {
	e.Advance(now)
	e.cause = c.Verb
	said, err := e.do(c, now)
	e.cause = ""
	entry := Entry{At: now, Kind: "command", Command: c.String(), From: c.From, Text: said}
	if err != nil {
		entry.Text = err.Error()
	} else if c.Verb != Status {
		state := e.State()
		entry.State = &state
		entry.Step, entry.Rate = e.id(e.step), e.clock.Rate
	}
	if c.Verb != Status {
		e.record(entry)
	}
	return said, err
}

func (e *Engine) do(c Command, now time.Time) (string, error) {
	switch c.Verb {
	case Go, Back:
		if next := e.nextID(); c.Next != nil && *c.Next != next {
			return "", fmt.Errorf("somebody else was quicker: the next cue was %s and is %s now; not taken", cmp.Or(*c.Next, "none"), cmp.Or(next, "none"))
		}
		if !e.acted.IsZero() && now.Sub(e.acted) < e.o.Guard {
			return "", fmt.Errorf("a second press within %v: not taken", e.o.Guard)
		}
		e.went = ""
		if c.Verb == Back {
			return e.goBack(now)
		}
		return e.goOn(now)
	case To: // another one at once is somebody who has mistyped; the same is the same press
		if c.Name == e.went && !e.acted.IsZero() && now.Sub(e.acted) < e.o.Guard {
			return "", fmt.Errorf("the same again within %v: not taken", e.o.Guard)
		}
		said, err := e.goTo(c.Name, now)
		if err == nil {
			e.acted, e.went = now, c.Name
		}
		return said, err
	case Start:
		if e.clock.Running {
			return "the show clock runs already", nil
		}
		e.clock.At, e.clock.Running = now, true
		e.Advance(now)
		return "the show clock runs", nil
	case Stop:
		e.clock.ShowS, e.clock.At, e.clock.Running = e.clock.at(now), now, false
		e.presses = nil
		return "the show clock stands; nothing goes by itself", nil
	case Hush:
		if !e.shut(now) {
			return "hushed already", nil
		}
		return "hushed: every worn mic is closed until restore", nil
	case Restore:
		if !e.hush {
			return "not hushed", nil
		}
		e.hush = false
		e.apply(now, 0)
		return "restored", nil
	case Hold:
		return e.hold(c.Name, now)
	case Release:
		return e.release(c.Name, now)
	case Swap:
		return e.swap(c.Name, c.Channel, now)
	case Nudge:
		return e.nudge(c.Name, c.DB, now)
	case Status:
		return e.View(now).String(), nil
	case Quit:
		e.clock.ShowS, e.clock.At, e.clock.Running = e.clock.at(now), now, false // a run that is resumed begins by hand
		return "ended", nil
	}
	return "", fmt.Errorf("no command %q", c.Verb)
}

// remember keeps where a step came from.
func (e *Engine) remember(to int) {
	e.past = append(e.past, past{Step: e.id(e.step), Clock: e.clock, Presses: e.presses, Went: e.id(to)})
	if len(e.past) > mostPast {
		e.past = slices.Clone(e.past[1:])
	}
}

func (e *Engine) goOn(now time.Time) (string, error) {
	i := e.upcoming()
	if i == len(e.Show.Cues) {
		return "", fmt.Errorf("there is no cue after this one")
	}
	s := &e.Show.Cues[i]
	e.remember(i)
	e.acted = now
	if e.step < 0 || e.Show.Cues[e.step].Movement != s.Movement || !e.clock.Running {
		e.presses, e.clock.Rate = nil, 1 // a new beginning
	}
	e.presses = append(slices.Clone(e.presses), press{s.TimeS, now})
	if len(e.presses) > remembered {
		e.presses = e.presses[1:]
	}
	e.clock = Clock{ShowS: s.TimeS, At: now, Rate: tempo(e.presses, e.clock.Rate), Running: true}
	e.enter(i, now, seconds(s.FadeS/e.clock.Rate))
	return "cue " + s.ID + e.besides(i, now), nil
}

func (e *Engine) goBack(now time.Time) (string, error) {
	if e.step < 0 {
		return "", fmt.Errorf("this is the beginning")
	}
	of := e.cueOf(e.step)
	to := e.cueOf(of - 1)
	clock, presses := Clock{At: now, Rate: e.clock.Rate}, []press(nil)
	if to >= 0 {
		clock.ShowS = e.Show.Cues[to].TimeS
	}
	left := ""
	sent := func(id string) { left += fmt.Sprintf("; what cue %s has sent besides is not taken back", id) }
	n := len(e.past)
	if n > 0 && e.o.ByClock {
		// Other cues have gone by themselves since, perhaps all of the show, or this one would go again at once.
		if p := e.past[n-1]; p.Went != e.id(of) || p.Clock.Running && p.Clock.at(now) >= e.Show.Cues[of].TimeS {
			n = 0
		}
	}
	if n == 0 && len(desk.Raw(&e.Show.Cues[of])) > 0 {
		sent(e.id(of))
	}
	if n > 0 {
		for _, id := range e.past[n-1].Sent {
			sent(id)
		}
		to, clock, presses = e.find(e.past[n-1].Step), e.past[n-1].Clock, e.past[n-1].Presses
		e.past = slices.Clone(e.past[:n-1])
	}
	e.acted, e.clock, e.presses = now, clock, presses
	e.enter(to, now, 0)
	e.cause = ""
	e.Advance(now) // what has gone by itself since
	if e.step < 0 {
		return "back before the first cue" + left, nil
	}
	return "back to cue " + e.id(e.step) + left, nil
}

func (e *Engine) goTo(name string, now time.Time) (string, error) {
	i, at := e.find(name), 0.0
	switch {
	case i >= 0:
		at = e.Show.Cues[i].TimeS
	case e.Time != nil:
		v, err := e.Time.Find(name)
		if err != nil {
			return "", fmt.Errorf("no cue %q, and %w", name, err)
		}
		i, at = e.stepAt(v), v
	default:
		return "", fmt.Errorf("no cue %q", name)
	}
	e.remember(i)
	e.clock, e.presses = Clock{ShowS: at, At: now, Rate: 1}, nil
	e.enter(i, now, 0)
	if i < 0 {
		return "before the first cue; the show clock stands", nil
	}
	return fmt.Sprintf("cue %s, its full state%s; the show clock stands: start lets it run", e.id(i), e.besides(e.cueOf(i), now)), nil
}

// cueOf is the cue that a step belongs to: itself, or of a follow-on the cue before it.
func (e *Engine) cueOf(step int) int {
	for step > 0 && e.Show.Cues[step].FollowOn {
		step--
	}
	return step
}

// besides has the desks told what a cue sends besides its channels, once: it is no state, so it is not repeated, and a
// desk that is not reached misses it. It returns what the operator is told.
func (e *Engine) besides(i int, now time.Time) string {
	list := desk.Raw(&e.Show.Cues[i])
	if len(list) == 0 {
		return ""
	}
	e.sentBesides = true
	if n := len(e.past); n > 0 {
		e.past = slices.Clone(e.past)
		last := &e.past[n-1]
		last.Sent = append(slices.Clone(last.Sent), e.id(i))
	}
	for _, f := range e.feeds {
		f.raw = append(f.raw, list...)
		if !f.up || f.trying {
			f.miss(nil, now)
		}
	}
	return "; sends besides: " + besidesWords(list)
}

func besidesWords(list []osc.Message) string {
	var words []string
	for _, m := range list {
		words = append(words, m.String())
	}
	return strings.Join(words, ", ")
}

// again is what a desk gets that has missed something.
func (e *Engine) again() string {
	if e.sentBesides {
		return "everything is sent again, but for what cues have sent besides their channels"
	}
	return "everything is sent again"
}

// enter makes a step the one that is meant, and journals it.
func (e *Engine) enter(i int, now time.Time, fade time.Duration) {
	e.step = i
	if e.o.Recall && e.Desk.Recall != nil && i >= 0 && !e.hush { // the scene would open what is hushed
		e.recall(i, now)
	} else {
		e.apply(now, fade)
	}
	state := e.State()
	entry := Entry{At: now, Kind: "step", Command: string(e.cause), Step: e.id(i), Rate: e.clock.Rate, State: &state}
	if i >= 0 {
		entry.PlannedS = e.Show.Cues[i].TimeS
	}
	e.record(entry)
}

// recall has the desks fetch a step's scene; what is meant otherwise (holds, swaps, nudges, hush) is sent after the desk
// has had its time.
func (e *Engine) recall(i int, now time.Time) {
	stored := e.Desk.Settings(&e.Show.Cues[i])
	e.apply(now, 0)
	e.arrive(now)
	slot := e.Desk.Store.First + i
	for _, f := range e.feeds {
		f.lit = true
		f.extras = slices.DeleteFunc(f.extras, e.isRecall) // one that still waits is overtaken
		f.extras = append(f.extras, e.Desk.Recall.Message(slot, desk.SceneName(e.Show.Cues[i].ID, e.Show.Cues[i].Name)))
		f.clear()
		for n := range f.slots { // what a scene makes of channels that are none of its cue's, a spare's, nobody knows
			f.slots[n].known, f.slots[n].confirmed = false, false
		}
		for _, s := range stored {
			x := &f.slots[e.index[s.Message.Address]]
			x.sent, x.known, x.changedAt, x.sentAt = s.Message.Args[0], true, now, now
		}
		f.markAll()
		f.freeAt = now // whatever the last recall asked for, this one goes
		f.pause = e.Desk.Store.Settle
	}
}

func (e *Engine) isRecall(m osc.Message) bool {
	if e.Desk.Recall == nil {
		return false
	}
	_, _, is := e.Desk.Recall.Match(m)
	return is
}

// lookup finds the desk's channel that a name or number means: of a player, the one he wears in this step, or else next,
// or else before.
func (e *Engine) lookup(name string) (int, error) {
	var order []int
	for i := max(e.step, 0); i < len(e.Show.Cues); i++ {
		order = append(order, i)
	}
	for i := e.step - 1; i >= 0; i-- {
		order = append(order, i)
	}
	var names []string
	for _, i := range order {
		for _, c := range e.Show.Cues[i].Channels {
			if strings.EqualFold(c.Player, name) && name != "" {
				return c.Channel, nil
			}
			if !slices.Contains(names, c.Player) {
				names = append(names, c.Player)
			}
		}
	}
	number := strings.TrimSpace(strings.TrimPrefix(strings.ToLower(name), "ch "))
	if n, err := strconv.Atoi(number); err == nil {
		for _, c := range e.meant.Channels {
			if c.Channel == n {
				return n, nil
			}
		}
		return 0, fmt.Errorf("the show does not use channel %d", n)
	}
	return 0, fmt.Errorf("no player and no fixed mic %q; %s", name, source.DidYouMean(name, names, "names are those of the roster; a channel number will do"))
}

// who names a channel for messages.
func (e *Engine) who(channel int) string {
	for _, c := range e.meant.Channels {
		if c.Channel == channel && c.Player != "" {
			return fmt.Sprintf("%s (channel %d)", c.Player, channel)
		}
	}
	return fmt.Sprintf("channel %d", channel)
}

// whoAll names several.
func (e *Engine) whoAll(channels []int) (names []string) {
	for _, channel := range channels {
		names = append(names, e.who(channel))
	}
	return names
}

// now of a channel, with swaps: where his sound comes in.
func (e *Engine) spare(channel int) int {
	for _, s := range e.swaps {
		if s.Channel == channel {
			return s.Spare
		}
	}
	return channel
}

// inUse reports whether a channel is the show's or a spare of now.
func (e *Engine) inUse(channel int) bool {
	return channel < len(e.ours) && e.ours[channel] || slices.ContainsFunc(e.swaps, func(s Swapped) bool { return s.Spare == channel })
}

func (e *Engine) hold(name string, now time.Time) (string, error) {
	channel, err := e.lookup(name)
	if err != nil {
		return "", err
	}
	channel = e.spare(channel)
	if !e.inUse(channel) {
		return "", fmt.Errorf("channel %d is no spare any more, and closed", channel)
	}
	for _, c := range e.meant.Channels {
		if c.Channel == channel {
			if l := e.levels[channel]; l != nil {
				c.LevelDB = cue.Level(l.fade.at(now))
			}
			c.Params = e.gliding(&c, now)
			e.holds[channel] = c
		}
	}
	e.apply(now, 0)
	return fmt.Sprintf("%s is held as it is until release", e.who(channel)), nil
}

func (e *Engine) release(name string, now time.Time) (string, error) {
	channel, err := e.lookup(name)
	if err != nil && strings.EqualFold(name, "all") {
		return e.releaseAll(now)
	}
	if err != nil {
		return "", err
	}
	own := channel
	channel = e.spare(channel)
	_, held := e.holds[channel]
	delete(e.holds, channel)
	held = e.regain(channel) || held
	held = e.regain(own) || held // somebody may have his hand on a dead pack's as well
	if !held {
		if len(e.holds) > 0 {
			return "", fmt.Errorf("%s is neither held nor in hand; held: %s", e.who(channel), strings.Join(e.whoAll(sortedKeys(e.holds)), ", "))
		}
		return "", fmt.Errorf("%s is neither held nor in hand", e.who(channel))
	}
	e.apply(now, 0)
	return fmt.Sprintf("%s follows the cues again", e.who(channel)), nil
}

// releaseAll gives every channel back to the cues: after a group at the desk has muted twenty of them.
func (e *Engine) releaseAll(now time.Time) (string, error) {
	back := map[int]bool{}
	for channel := range e.holds {
		back[channel] = true
	}
	for _, f := range e.feeds {
		for _, channel := range sortedKeys(f.inHand) {
			back[channel] = true
			f.regain(channel)
		}
	}
	if len(back) == 0 {
		return "", fmt.Errorf("nothing is held or in hand")
	}
	clear(e.holds)
	e.apply(now, 0)
	return "back with the cues: " + strings.Join(e.whoAll(sortedKeys(back)), ", "), nil
}

func (e *Engine) swap(name string, to int, now time.Time) (string, error) {
	channel, err := e.lookup(name)
	if err != nil {
		return "", err
	}
	at := slices.IndexFunc(e.swaps, func(s Swapped) bool { return s.Channel == channel || s.Spare == channel })
	if to == 0 {
		if at < 0 {
			return "", fmt.Errorf("%s has not been swapped", e.who(channel))
		}
		s := e.swaps[at]
		e.takeAlong(s.Spare, s.Channel)
		e.swaps = slices.Delete(slices.Clone(e.swaps), at, at+1)
		e.apply(now, 0)
		return fmt.Sprintf("%s is back on channel %d; channel %d is closed", e.who(s.Channel), s.Channel, s.Spare), nil
	}
	if at >= 0 {
		channel = e.swaps[at].Channel
	}
	switch {
	case !e.inUse(channel):
		return "", fmt.Errorf("channel %d is no spare any more: nobody comes in on it", channel)
	case to > e.Desk.Channels:
		return "", fmt.Errorf("the desk has no channel %d; its channels are 1 to %d", to, e.Desk.Channels)
	case slices.ContainsFunc(e.swaps, func(s Swapped) bool { return s.Spare == to && s.Channel != channel }):
		return "", fmt.Errorf("channel %d is a spare in use", to)
	}
	for _, c := range e.Show.Cues[0].Channels {
		if c.Channel == to {
			return "", fmt.Errorf("channel %d is %s's; take one that the show does not use", to, c.Player)
		}
	}
	e.swaps = slices.Clone(e.swaps)
	if at >= 0 {
		e.takeAlong(e.swaps[at].Spare, to)
		e.swaps[at].Spare = to
	} else {
		e.takeAlong(channel, to)
		e.swaps = append(e.swaps, Swapped{channel, to})
	}
	e.apply(now, 0)
	return fmt.Sprintf("%s comes in on channel %d from now on; channel %d is closed", e.who(channel), to, channel), nil
}

// takeAlong takes a player's hold to his other channel; what was held there before is nobody's. Neither is left to a hand
// at a desk: that would leave open what is said to be closed, or closed what is to be heard.
func (e *Engine) takeAlong(from, to int) {
	c, held := e.holds[from]
	delete(e.holds, from)
	delete(e.holds, to)
	if held {
		c.Channel = to
		e.holds[to] = c
	}
	if from != to {
		e.regain(from)
		e.regain(to)
	}
}

func (e *Engine) nudge(name string, dB float64, now time.Time) (string, error) {
	channel, err := e.lookup(name)
	if err != nil {
		return "", err
	}
	name = e.player(name, channel)
	if dB == 0 {
		return "", fmt.Errorf("a nudge of 0 dB changes nothing")
	}
	e.nudges = append(slices.Clone(e.nudges), Nudged{name, dB, e.id(e.step)})
	e.apply(now, 0)
	said := fmt.Sprintf("%s: %+g dB, %+g in all for this run", name, dB, e.nudged(name))
	if over := e.overCeiling(channel); over > 0 {
		said += fmt.Sprintf("; %.4g dB of it are over the ceiling and not sent", over)
	}
	if _, held := e.holds[e.spare(channel)]; held {
		said += "; he is held, so it is heard after release"
	}
	return said, nil
}

// player is the name that a nudge belongs to, as the show writes it: a player's, or that of who comes in on a channel.
func (e *Engine) player(name string, channel int) string {
	for i := range e.Show.Cues {
		for _, c := range e.Show.Cues[i].Channels {
			if strings.EqualFold(c.Player, name) {
				return c.Player
			}
		}
	}
	for _, c := range e.meant.Channels {
		if c.Channel == channel {
			return c.Player
		}
	}
	return name
}

// overCeiling is by how much an open channel's level in this step, with all nudges, lies over what it may be sent.
func (e *Engine) overCeiling(channel int) float64 {
	if e.step < 0 {
		return 0
	}
	for _, c := range e.Show.Cues[e.step].Channels {
		if c.Channel == channel && c.Open {
			return float64(c.LevelDB) + e.nudged(c.Player) - min(e.Desk.CeilingDB(channel), e.Desk.CeilingDB(e.spare(channel)))
		}
	}
	return 0
}

// nudged is by how much a player's level is moved in this run.
func (e *Engine) nudged(name string) (dB float64) {
	for _, n := range e.nudges {
		if strings.EqualFold(n.Name, name) {
			dB += n.DB
		}
	}
	return dB
}

// mean works out what the desks are to hold in a step: its snapshot, and over it what the operator has changed.
func (e *Engine) mean(step int) cue.Snapshot {
	if len(e.Show.Cues) == 0 {
		return cue.Snapshot{}
	}
	s := e.Show.Cues[max(step, 0)]
	s.Channels = slices.Clone(s.Channels)
	shut := func(c *cue.Channel) { c.Open, c.Role, c.LevelDB = false, "", cue.Silent }
	for i := range s.Channels {
		c := &s.Channels[i]
		if step < 0 || e.hush && c.Kind == cue.Worn {
			shut(c)
		}
		if c.Open {
			c.LevelDB += cue.Level(e.nudged(c.Player))
			c.LevelDB = min(c.LevelDB, cue.Level(e.Desk.CeilingDB(c.Channel)))
		}
	}
	spares := map[int]bool{}
	for _, w := range e.swaps {
		for i := range s.Channels {
			if c := s.Channels[i]; c.Channel == w.Channel {
				c.Channel = w.Spare
				c.LevelDB = min(c.LevelDB, cue.Level(e.Desk.CeilingDB(c.Channel)))
				shut(&s.Channels[i])
				s.Channels = append(s.Channels, c)
				spares[w.Spare] = true
				break
			}
		}
	}
	for i := range e.meant.Channels { // a spare that is no longer one stays closed
		n := e.meant.Channels[i].Channel
		if i < len(s.Channels) && s.Channels[i].Channel == n || spares[n] { // mostly
			continue
		}
		if !slices.ContainsFunc(s.Channels, func(x cue.Channel) bool { return x.Channel == n }) {
			c := e.meant.Channels[i]
			shut(&c)
			s.Channels = append(s.Channels, c)
		}
	}
	for i := range s.Channels {
		c := &s.Channels[i]
		if held, ok := e.holds[c.Channel]; ok && !(e.hush && c.Kind == cue.Worn) {
			held.Player = c.Player // who wears it by now
			*c = held
		}
	}
	return s
}

// apply brings the desks on their way to what is meant: levels fade over a length, which is the safety ramp at least
// where one rises far.
func (e *Engine) apply(now time.Time, length time.Duration) {
	e.meant = e.mean(e.step)
	for i := range e.meant.Channels {
		c := &e.meant.Channels[i]
		for len(e.levels) <= c.Channel {
			e.levels, e.open = append(e.levels, nil), append(e.open, false)
		}
		l := e.levels[c.Channel]
		was := l != nil
		e.glide(c, was, now, length)
		e.open[c.Channel] = c.Open
		if !c.Open {
			e.levels[c.Channel] = nil
			continue
		}
		to := float64(c.LevelDB)
		if was && l.fade.to == to {
			continue
		}
		from := min(max(floorDB, e.Desk.Limits(cue.ParamLevel).Min), to)
		if was {
			from = l.fade.at(now)
		}
		d := length
		if to-from > e.Desk.Safety.RiseDB || !was {
			d = max(d, e.Desk.Safety.Ramp)
		}
		e.levels[c.Channel] = &line{fade{from, to, now, d}, -1}
	}
	e.sound(now)
}

// glide brings the desk's own parameters of a channel on their way. Who is not heard before and after has them at once.
func (e *Engine) glide(c *cue.Channel, heard bool, now time.Time, length time.Duration) {
	for _, x := range e.own {
		to, ok := c.Value(x.Name)
		if !ok || !x.Fade {
			continue
		}
		place := desk.Place{Channel: c.Channel, Param: x.Name}
		l := e.glides[place]
		switch {
		case l == nil:
			e.glides[place] = &line{fade{to, to, now, 0}, -1}
		case !heard || !c.Open:
			l.fade = fade{to, to, now, 0}
		case l.fade.to != to:
			l.fade = fade{l.fade.at(now), to, now, length}
		}
	}
}

// gliding are the desk's own parameters of a channel at an instant.
func (e *Engine) gliding(c *cue.Channel, now time.Time) []cue.Param {
	if len(e.glides) == 0 {
		return c.Params
	}
	list := slices.Clone(c.Params)
	for i, x := range list {
		if l := e.glides[desk.Place{Channel: c.Channel, Param: x.Name}]; l != nil {
			list[i].Value = l.fade.at(now)
		}
	}
	return list
}

// moving is the line that moves what stands at an address, nil where nothing does.
func (e *Engine) moving(i int) *line {
	place := e.places[i]
	l := e.levels[place.Channel]
	if place.Param != cue.ParamLevel {
		if l = nil; len(e.glides) > 0 {
			l = e.glides[place]
		}
	}
	if l == nil || l.index != i {
		return nil
	}
	return l
}

// fadable reports whether what stands at an address is one that may fade, so that it may hold any step of its way.
func (e *Engine) fadable(i int) bool {
	place := e.places[i]
	return place.Param == cue.ParamLevel || len(e.glides) > 0 && e.glides[place] != nil
}

// arrive ends all fades: the desks hold their ends already, or are about to by other means.
func (e *Engine) arrive(now time.Time) {
	for _, l := range e.levels {
		if l != nil {
			l.fade = fade{l.fade.to, l.fade.to, now, 0}
		}
	}
	for _, l := range e.glides {
		l.fade = fade{l.fade.to, l.fade.to, now, 0}
	}
	e.sound(now)
}

// sound sets what is wanted at every address to this instant of the fades, and has the feeds tell what differs.
func (e *Engine) sound(now time.Time) {
	n := 0
	e.Desk.Each(&e.meant, func(x desk.Place, arg osc.Arg) {
		i := e.at(x, n)
		n++
		if x.Param == cue.ParamLevel {
			if l := e.levels[x.Channel]; l != nil {
				l.index = i
				arg, _ = e.Desk.Level(x.Channel, l.fade.at(now), true)
			}
		}
		if l, ok := e.glides[x]; ok && len(e.glides) > 0 {
			l.index = i
			arg, _ = e.Desk.Moment(x.Channel, x.Param, l.fade.at(now))
		}
		e.want[i] = arg
	})
	for _, f := range e.feeds {
		f.grow()
		f.markAll()
	}
	e.ticking = false
	for _, l := range e.levels {
		e.ticking = e.ticking || l != nil && !l.fade.over(now)
	}
	for _, l := range e.glides {
		e.ticking = e.ticking || !l.fade.over(now)
	}
	e.tickAt = now.Add(e.period())
}

// fades reports whether what stands at an address is on its way.
func (e *Engine) fades(i int, now time.Time) bool {
	l := e.moving(i)
	return l != nil && !l.fade.over(now)
}

// at is the index of a place. Mostly it is the one that is likely, since every snapshot has the same places in the same
// order, but for spares.
func (e *Engine) at(x desk.Place, likely int) int {
	if likely < len(e.places) && e.places[likely] == x {
		return likely
	}
	address := e.Desk.Address(x)
	i, ok := e.index[address]
	if !ok {
		i = len(e.want)
		e.index[address] = i
		e.addresses, e.places = append(e.addresses, address), append(e.places, x)
		after, _ := slices.BinarySearchFunc(e.order, x, func(j int, x desk.Place) int {
			return cmp.Or(cmp.Compare(e.rank(e.places[j]), e.rank(x)), -1) // behind its equals
		})
		e.order = slices.Insert(e.order, after, i)
		e.want, e.dark = append(e.want, osc.Arg{}), append(e.dark, e.darkened(x))
	}
	return i
}

// rank is where a place's parameter stands among the desk's.
func (e *Engine) rank(x desk.Place) int {
	return slices.IndexFunc(e.Desk.Params, func(p *desk.Param) bool { return p.Name == x.Param })
}

// darkened is what a closed channel is sent; nothing for what is no mute and no level.
func (e *Engine) darkened(p desk.Place) (dark osc.Arg) {
	if p.Param != cue.ParamMute && p.Param != cue.ParamLevel {
		return dark
	}
	one := cue.Snapshot{Channels: []cue.Channel{{Channel: p.Channel, LevelDB: cue.Silent}}}
	e.Desk.Each(&one, func(x desk.Place, arg osc.Arg) {
		if x == p {
			dark = arg
		}
	})
	return dark
}

func (e *Engine) period() time.Duration { return time.Second / time.Duration(max(e.Desk.Tick, 1)) }

// tick moves the fades on. Ticks have deadlines of their own: a late one shifts nothing.
func (e *Engine) tick(now time.Time) {
	if !e.ticking || now.Before(e.tickAt) {
		return
	}
	e.ticking = false
	for i := range e.meant.Channels { // in order: the same run always sends the same
		channel := e.meant.Channels[i].Channel
		if l := e.levels[channel]; l != nil && l.index >= 0 {
			arg, _ := e.Desk.Level(channel, l.fade.at(now), true)
			e.move(l, arg, now)
		}
		for _, x := range e.own {
			if l := e.glides[desk.Place{Channel: channel, Param: x.Name}]; l != nil && l.index >= 0 && l.fade.length > 0 {
				arg, _ := e.Desk.Moment(channel, x.Name, l.fade.at(now))
				e.move(l, arg, now)
				if l.fade.over(now) {
					l.fade = fade{l.fade.to, l.fade.to, now, 0}
				}
			}
		}
	}
	for !e.tickAt.After(now) {
		e.tickAt = e.tickAt.Add(e.period())
	}
}

// move wants the value of a line at this instant.
func (e *Engine) move(l *line, arg osc.Arg, now time.Time) {
	if e.want[l.index] != arg {
		e.want[l.index] = arg
		for _, f := range e.feeds {
			f.mark(l.index)
		}
	}
	e.ticking = e.ticking || !l.fade.over(now)
}

// Advance does what is due: steps that go by themselves, fades, suspicions, keepalives.
func (e *Engine) Advance(now time.Time) {
	e.now = now
	for e.clock.Running && e.step+1 < len(e.Show.Cues) && e.byItself(e.step+1) {
		s := &e.Show.Cues[e.step+1]
		if e.clock.at(now) < s.TimeS-1e-9 {
			break
		}
		e.enter(e.step+1, now, seconds(s.FadeS/e.clock.Rate))
		e.besides(e.step, now)
	}
	e.tick(now)
	for _, f := range e.feeds {
		f.recover(now)
		f.anew(now)
		f.listen(now)
		f.decide(now)
		f.keepAlive(now)
	}
}

// Next is when Advance and Take want to be called again, if nothing happens before, and how late that may be: not at all
// where something goes by itself or a fade moves on.
func (e *Engine) Next(now time.Time) (at time.Time, within time.Duration) {
	at, within = now.Add(time.Hour), idly
	if e.clock.Running && e.step+1 < len(e.Show.Cues) && e.byItself(e.step+1) {
		if t := e.clock.when(e.Show.Cues[e.step+1].TimeS); t.Before(at) {
			at, within = t, 0
		}
	}
	if e.ticking && e.tickAt.Before(at) {
		at, within = e.tickAt, 0
	}
	for _, f := range e.feeds {
		if t, w := f.wake(now); t.Before(at) {
			at, within = t, w
		}
	}
	return at, within
}

// Take returns what may be sent to a desk now: mostly one message, more where messages travel in bundles or where the
// desk's rate is high. It is valid until the next Take. Passed or Failed must be told what became of it.
func (e *Engine) Take(feed int, now time.Time) []Told { return e.feeds[feed].take(now) }

// Linked tells that the road to a desk is open; it is told everything.
func (e *Engine) Linked(feed int, now time.Time) {
	f := e.feeds[feed]
	if e.now = now; !f.up && f.reason != "" {
		again := ""
		if f.told > 0 {
			again = " again: " + e.again()
		}
		e.problem(now, fmt.Sprintf("%s is reached%s", f.to, again))
	}
	f.up, f.trying, f.reason = true, false, ""
	f.owedAt, f.silent = time.Time{}, false
	f.refill()
}

// Cut tells that the road to a desk is closed, and why. It stays so until Linked.
func (e *Engine) Cut(feed int, err error, now time.Time) {
	f := e.feeds[feed]
	e.now = now
	if f.up || f.reason != err.Error() {
		e.problem(now, err.Error())
	}
	f.up, f.reason = false, err.Error()
	f.miss(nil, now)
}

// Passed and Failed tell what became of messages that Take gave.
func (e *Engine) Passed(feed int, now time.Time) { e.feeds[feed].passed(now) }

// Failed tells that messages could not be sent; they are told again.
func (e *Engine) Failed(feed int, ts []Told, err error, now time.Time) {
	e.now = now
	e.feeds[feed].fail(ts, err, now)
}

// Hopeless tells that a message can never be sent, and why. It is given up, since it would fail each time.
func (e *Engine) Hopeless(feed int, m osc.Message, err error, now time.Time) {
	f := e.feeds[feed]
	e.now = now
	i, ok := e.index[m.Address]
	if ok && f.slots[i].hopeless {
		return
	}
	what := m.Address
	if ok {
		s := &f.slots[i]
		s.hopeless, s.known, s.confirmed = true, false, false
		if place := e.places[i]; place.Param == cue.ParamLevel {
			f.mute[place.Channel] = true
			what = fmt.Sprintf("%s (so channel %d stays closed)", m.Address, place.Channel)
			f.markAll()
		}
	}
	e.problem(now, fmt.Sprintf("%s is given up at %s: %v", what, f.to, err))
}

// Heard takes a message from a desk.
func (e *Engine) Heard(feed int, m osc.Message, now time.Time) {
	e.now = now
	e.feeds[feed].hear(m, now)
}

// Settled reports whether a desk is reached, every one that is holds what is meant, as far as it can be known, and no
// level is on its way.
func (e *Engine) Settled() bool {
	if e.ticking {
		return false
	}
	reached := false
	for _, f := range e.feeds {
		if !f.up || f.trying {
			continue
		}
		if reached = true; !f.settled() {
			return false
		}
	}
	return reached
}

// Close ends the run: every worn mic is closed. It is told to the desks like all else.
func (e *Engine) Close(now time.Time) {
	e.shut(now)
	state := e.State()
	e.record(Entry{At: now, Kind: "command", Command: string(Hush), Text: "closed at the end", Step: e.id(e.step), State: &state})
}

// shut hushes. It reaches a channel that is in somebody's hand, too, also one that he has opened under the hush: that is
// when it must. It reports whether it had anything to do.
func (e *Engine) shut(now time.Time) bool {
	did := !e.hush
	e.hush = true
	for _, c := range e.meant.Channels {
		if c.Kind == cue.Worn && e.regain(c.Channel) {
			did = true
		}
	}
	e.apply(now, 0)
	for _, f := range e.feeds {
		f.interrupt(now)
	}
	return did
}

// regain takes a channel back at every desk where it is in hand; it reports whether there is one.
func (e *Engine) regain(channel int) (any bool) {
	for _, f := range e.feeds {
		if _, left := f.inHand[channel]; left {
			any = true
			f.regain(channel)
		}
	}
	return any
}

// Trouble takes a problem that somebody else has, for the operator and the journal.
func (e *Engine) Trouble(text string, now time.Time) { e.problem(now, text) }

func (e *Engine) problem(now time.Time, text string) {
	e.tell(Entry{At: now, Kind: "problem", Text: text})
}

// tell records a problem, which is the last one from now on.
func (e *Engine) tell(problem Entry) {
	e.trouble, e.troubleAt = problem.Text, problem.At
	e.record(problem)
}

func (e *Engine) record(entry Entry) {
	if e.o.Record != nil {
		e.o.Record(entry)
	}
}
