package run

import (
	"fmt"
	"math"
	"slices"
	"time"

	"backfield/cue"
	"backfield/osc"
	"backfield/osc/desk"
)

// The order in which what differs is sent. Within a channel a later class waits for an earlier one, so that nobody is
// open with the place of another moment; over all channels closing goes first.
const (
	closing   = iota // mutes of channels that close
	silencing        // their levels
	moving           // delays, pans, sends
	opening          // mutes of channels that open; where the desk's level is not known, levels first
	fading           // levels
	classes          // how many
	notQueued = -1
)

// How a lossy road is dealt with. A datagram that is still under way after half of settle is lost for good.
const (
	settle       = 300 * time.Millisecond // an echo later than this after the last change speaks of it
	handAfter    = time.Second            // a value that differs later than this was not ours
	patience     = 60 * time.Millisecond  // an address is not repeated sooner
	sweep        = 40 * time.Millisecond  // from one confirmed address to the next
	probing      = 400 * time.Millisecond // how long a suspicion waits for others
	manySuspects = 3                      // channels that differ at once: nobody has so many hands
	retry        = 200 * time.Millisecond // from one try to the next while the road is down
	steady       = 600 * time.Millisecond // without a failure it is up again
)

// slot is what is known of one address at one desk.
type slot struct {
	sent      any
	before    any  // what it was told before that, nil for nothing
	known     bool // whether sent is what the desk was last told
	sentAt    time.Time
	changedAt time.Time // when it was last told something else than before
	confirmed bool
	class     int  // of its place in the queue
	hopeless  bool // it can never be sent
	askedAt   time.Time
}

// feed is one desk as the run knows it: what it was told, what it has confirmed, and what it is still to be told.
type feed struct {
	e      *Engine
	to     string
	up     bool // the road is open
	failed time.Time
	trying bool // the road has failed and is being tried
	reason string
	lit    bool         // it has been sent everything closed, so that mics may open
	mute   map[int]bool // channels whose level it can never be told: they stay closed

	slots  []slot
	queue  [classes][]int
	extras []osc.Message // sent before all else
	raw    []osc.Message // what cues send besides, once; sent after what closes, before what moves or opens
	pause  time.Duration // after the extras: the desk is busy with them
	freeAt time.Time     // when the next message may go

	cursor   int       // of the round of repeats
	repeatAt time.Time // no repeat before

	keptAt   []time.Time // when each keepalive was last sent
	inHand   map[int]string
	suspects map[int]string
	decideAt time.Time

	told, repeated, heard, strange int
	heardAt                        time.Time
	log                            []string
}

func newFeed(e *Engine, to string) *feed {
	return &feed{e: e, to: to, mute: map[int]bool{}, inHand: map[int]string{}, suspects: map[int]string{}, keptAt: make([]time.Time, len(e.Desk.Keepalives))}
}

// grow makes room for addresses that have come up.
func (f *feed) grow() {
	for len(f.slots) < len(f.e.want) {
		f.slots = append(f.slots, slot{class: notQueued})
	}
}

// want is what the desk is to hold at an address. Until it has been darkened, every channel is closed.
func (f *feed) want(i int) osc.Message {
	if (!f.lit || len(f.mute) > 0 && f.mute[f.e.places[i].Channel]) && f.e.dark[i].Address != "" {
		return f.e.dark[i]
	}
	return f.e.want[i]
}

// mark puts an address into the queue, if the desk is to be told something else than it was.
func (f *feed) mark(i int) {
	s := &f.slots[i]
	place := f.e.places[i]
	if _, left := f.inHand[place.Channel]; left || s.hopeless || s.known && same(s.sent, f.want(i)) {
		return
	}
	class := f.class(i)
	if class != s.class { // less urgent, too: a mute that waits to close must not open first of all once a cue opens it
		f.queue[class] = append(f.queue[class], i)
		s.class = class
	}
}

func (f *feed) class(i int) int {
	place := f.e.places[i]
	open := f.lit && f.e.open[place.Channel]
	switch {
	case place.Param == cue.ParamMute && !open:
		return closing
	case place.Param == cue.ParamLevel && !open:
		return silencing
	case place.Param != cue.ParamMute && place.Param != cue.ParamLevel:
		if l := f.e.moving(i); l != nil && l.fade.length > 0 && open { // heard on its way: no sooner than the levels
			return fading
		}
		return moving
	}
	blind := false // the desk's level is not known: it is set before the mute is taken off
	if l, ok := f.e.levels[place.Channel]; ok {
		blind = !f.slots[l.index].known
	}
	if blind == (place.Param == cue.ParamLevel) {
		return opening
	}
	return fading
}

func (f *feed) markAll() {
	for i := range f.slots {
		f.mark(i)
	}
}

// refill forgets what the desk was told, and tells it all again: first what it must hear every so often. Questions and
// recalls of scenes that are still waiting have become pointless.
func (f *feed) refill() {
	f.extras, f.pause = nil, 0
	clear(f.keptAt)
	for i := range f.slots {
		f.slots[i].known, f.slots[i].confirmed = false, false
	}
	clear(f.suspects)
	f.markAll()
}

// queued reports whether something is waiting that the desk was not told.
func (f *feed) queued() bool {
	if len(f.extras) > 0 || len(f.raw) > 0 {
		return true
	}
	for c := range f.queue {
		for len(f.queue[c]) > 0 && !f.live(f.queue[c][0], c) {
			f.queue[c] = f.queue[c][1:]
		}
		if len(f.queue[c]) > 0 {
			return true
		}
	}
	return false
}

// live drops places in the queue that have become pointless or have moved to another class.
func (f *feed) live(i, class int) bool {
	s := &f.slots[i]
	if s.class != class {
		return false
	}
	if s.hopeless || s.known && same(s.sent, f.want(i)) {
		s.class = notQueued
		return false
	}
	if _, left := f.inHand[f.e.places[i].Channel]; left {
		s.class = notQueued
		return false
	}
	return true
}

// pop takes the next address from the queue, of the classes before one.
func (f *feed) pop(before int) (i int, ok bool) {
	for c := range before {
		for len(f.queue[c]) > 0 {
			i, f.queue[c] = f.queue[c][0], f.queue[c][1:]
			if f.live(i, c) {
				f.slots[i].class = notQueued
				return i, true
			}
		}
	}
	return 0, false
}

// take returns the messages that may go now, and remembers them as told.
func (f *feed) take(now time.Time) []osc.Message {
	if !f.up || f.freeAt.After(now) || f.trying && now.Sub(f.failed) < retry {
		return nil
	}
	gap := time.Second / time.Duration(max(f.e.Desk.Rate, 1))
	if now.Sub(f.freeAt) >= gap {
		f.freeAt = now
	}
	var out []osc.Message
	size := 16
	for {
		m, ok := f.next(now)
		if !ok {
			break
		}
		out = append(out, m)
		f.freeAt = f.freeAt.Add(gap)
		if len(f.extras) == 0 && f.pause > 0 {
			f.freeAt, f.pause = f.freeAt.Add(f.pause), 0
			break
		}
		if size += len(m.Address) + 32; !f.e.Desk.Bundle || size > f.e.Desk.MaxPacket-80 || !f.queued() {
			break
		}
	}
	if !f.lit && len(out) > 0 && !f.queued() || !f.lit && len(out) == 0 {
		f.lit = true
		f.markAll()
	}
	if !f.queued() {
		f.flush(now)
	}
	return out
}

// next is the next message: what must go first, what the desk was not told, then repeats.
func (f *feed) next(now time.Time) (osc.Message, bool) {
	if len(f.extras) > 0 {
		m := f.extras[0]
		f.extras = f.extras[1:]
		f.log = append(f.log, m.String())
		return m, true
	}
	before := classes
	if len(f.raw) > 0 {
		before = moving
	}
	if i, ok := f.pop(before); ok {
		m := f.tell(i, now)
		if l := f.e.moving(i); l == nil || l.fade.over(now) {
			f.log = append(f.log, m.String())
		}
		return m, true
	}
	if len(f.raw) > 0 {
		m := f.raw[0]
		f.raw = f.raw[1:]
		f.log = append(f.log, m.String())
		return m, true
	}
	return f.repeat(now)
}

// miss tells of what cues send besides and this desk has not got: those that are lost, and all that wait. They are not
// sent later, when nobody expects them.
func (f *feed) miss(lost []osc.Message, now time.Time) {
	lost = append(lost, f.raw...)
	if f.raw = nil; len(lost) > 0 {
		f.e.problem(now, fmt.Sprintf("%s was not reached and has NOT got: %s; it is not sent again: do it by hand, or go to the cue again", f.to, besidesWords(lost)))
	}
}

// tell remembers that the desk is told what is wanted at an address.
func (f *feed) tell(i int, now time.Time) osc.Message {
	s, m := &f.slots[i], f.want(i)
	if !s.known || !same(s.sent, m) {
		s.before, s.changedAt, s.confirmed = nil, now, false
		if s.known {
			s.before = s.sent
		}
	}
	s.sent, s.known, s.sentAt = m.Args[0], true, now
	f.told++
	return m
}

// repeat goes round the addresses: those that the desk has not confirmed are told again, or asked for; those that
// it has confirmed are looked at again, slowly, since a desk may restart or a hand may move.
func (f *feed) repeat(now time.Time) (osc.Message, bool) {
	if !f.e.Desk.Repeat || now.Before(f.repeatAt) || len(f.slots) == 0 {
		return osc.Message{}, false
	}
	answers := f.e.Desk.Echo != nil || f.e.Desk.Query != nil
	gap := 4 * time.Second / time.Duration(max(f.e.Desk.Rate, 1))
	if !answers {
		gap = max(10*time.Second/time.Duration(max(f.e.Desk.Rate, 1)), 5*time.Millisecond)
	}
	wait := time.Duration(math.MaxInt64)
	pick := func(due func(i int) time.Duration) (int, bool) {
		for n := range f.slots {
			i := (f.cursor + n) % len(f.slots)
			place := f.e.places[i]
			if _, left := f.inHand[place.Channel]; left && f.e.Desk.Query == nil {
				continue
			}
			if l := f.e.moving(i); l != nil && !l.fade.over(now) {
				continue // told by the fade
			}
			if _, suspect := f.suspects[place.Channel]; suspect {
				continue // not before it is judged
			}
			d := due(i)
			if d <= 0 {
				f.cursor = i + 1
				return i, true
			}
			wait = min(wait, d)
		}
		return 0, false
	}
	i, ok := pick(func(i int) time.Duration {
		s := &f.slots[i]
		if s.confirmed || s.hopeless || !s.known {
			return math.MaxInt64
		}
		last := s.sentAt
		if s.askedAt.After(last) {
			last = s.askedAt
		}
		if answers { // a confirmation counts only then
			if at := s.changedAt.Add(settle); now.Before(at) && now.Sub(s.changedAt) > 2*patience {
				return max(at.Sub(now), patience-now.Sub(last))
			}
		}
		return patience - now.Sub(last)
	})
	if !ok {
		if i, ok = pick(func(i int) time.Duration {
			if !f.slots[i].confirmed {
				return math.MaxInt64
			}
			return 0
		}); ok {
			gap = sweep
		}
	}
	if !ok {
		f.repeatAt = now.Add(min(wait, time.Second))
		return osc.Message{}, false
	}
	f.repeatAt = now.Add(gap)
	f.repeated++
	s := &f.slots[i]
	_, left := f.inHand[f.e.places[i].Channel]
	if f.e.Desk.Query != nil && (s.confirmed || left || s.sentAt.After(s.askedAt)) { // told and asked in turn
		s.askedAt = now
		return f.e.Desk.Ask(f.e.want[i].Address), true
	}
	m := f.want(i)
	s.sentAt = now
	return m, true
}

// hear takes what the desk says: it confirms, or it differs.
func (f *feed) hear(m osc.Message, now time.Time) {
	f.heard++
	f.heardAt = now
	i, ok := f.e.index[m.Address]
	if !ok || len(m.Args) != 1 {
		f.strange++
		return
	}
	tolerance := 0.0
	if f.e.Desk.Echo != nil {
		tolerance = f.e.Desk.Echo.Tolerance
	}
	s, channel := &f.slots[i], f.e.places[i].Channel
	if _, left := f.inHand[channel]; left || !s.known {
		return
	}
	if s.class == notQueued && desk.Same(m, osc.Message{Address: m.Address, Args: []any{s.sent}}, tolerance) && !nearer(m.Args[0], s.before, s.sent) {
		if now.Sub(s.changedAt) >= settle {
			s.confirmed = true
		}
		return
	}
	if s.class != notQueued || now.Sub(s.changedAt) < handAfter || !s.confirmed {
		s.confirmed = false // lost, or older news: it is told again in its turn
		return
	}
	what := fmt.Sprintf("%s: the desk has %s, the show %s", f.e.places[i].Param, text(m), text(f.want(i)))
	if f.e.Desk.Query == nil || now.Sub(s.askedAt) > handAfter {
		f.leave(channel, what) // nobody asked: somebody moved it
		return
	}
	s.confirmed = false
	if len(f.suspects) == 0 {
		f.decideAt = now.Add(probing)
		f.probe(now)
	}
	f.suspects[channel] = what
}

// probe asks for a value of every channel, to tell a hand on one from a desk that has restarted.
func (f *feed) probe(now time.Time) {
	for i, place := range f.e.places {
		if place.Param == cue.ParamDelay || place.Param == cue.ParamPan {
			f.slots[i].askedAt = now
			f.extras = append(f.extras, f.e.Desk.Ask(f.e.want[i].Address))
		}
	}
}

// decide judges suspicions: one channel or two are somebody's hands, more at once are a desk that has lost its state.
func (f *feed) decide(now time.Time) {
	if len(f.suspects) == 0 || now.Before(f.decideAt) {
		return
	}
	if len(f.suspects) >= manySuspects {
		f.e.problem(now, fmt.Sprintf("%s has lost its state, as after a restart: %s", f.to, f.e.again()))
		f.refill()
		return
	}
	for _, channel := range sortedKeys(f.suspects) {
		f.leave(channel, f.suspects[channel])
	}
	clear(f.suspects)
}

// leave leaves a channel to the hand that moved it.
func (f *feed) leave(channel int, what string) {
	f.inHand[channel] = what
	delete(f.suspects, channel)
	f.e.problem(f.e.now, fmt.Sprintf("%s is in hand at %s, and left alone until it is released: %s", f.e.who(channel), f.to, what))
}

// regain takes a channel back from the hand that moved it: what the desk holds there is not known.
func (f *feed) regain(channel int) {
	delete(f.inHand, channel)
	for i, place := range f.e.places {
		if place.Channel == channel {
			f.slots[i].known, f.slots[i].confirmed = false, false
		}
	}
}

// fail notes that the road is down; messages that were not sent are told again.
func (f *feed) fail(ms []osc.Message, err error, now time.Time) {
	if !f.trying || f.reason != err.Error() {
		f.e.problem(now, err.Error())
	}
	f.trying, f.failed, f.reason = true, now, err.Error()
	var lost []osc.Message
	for _, m := range ms {
		if i, ok := f.e.index[m.Address]; ok {
			f.slots[i].known, f.slots[i].confirmed = false, false
			f.mark(i)
		} else if f.e.raws[m.Address] {
			lost = append(lost, m)
		}
	}
	f.miss(lost, now)
}

// passed notes that a packet went out. A road that has held for a while is up again, and the desk is told everything,
// since nobody knows what it has missed.
func (f *feed) passed(now time.Time) {
	if f.trying && now.Sub(f.failed) >= steady {
		f.trying = false
		f.e.problem(now, fmt.Sprintf("%s is reached again: %s", f.to, f.e.again()))
		f.refill()
	}
}

// keepAlive sends what the desk must hear every so often.
func (f *feed) keepAlive(now time.Time) {
	for n, k := range f.e.Desk.Keepalives {
		if f.up && (f.keptAt[n].IsZero() || now.Sub(f.keptAt[n]) >= k.Every) {
			f.keptAt[n] = now
			if !slices.ContainsFunc(f.extras, func(m osc.Message) bool { return desk.Same(m, k.Message, 0) }) { // one waits while the road is down
				f.extras = append(f.extras, k.Message)
			}
		}
	}
}

// wake is when the feed next has something to do, and whether that is to tell the desk what it was not told.
func (f *feed) wake(now time.Time) (at time.Time, urgent bool) {
	at = now.Add(time.Hour)
	sooner := func(t time.Time) {
		if t.Before(at) {
			at = t
		}
	}
	if !f.up {
		return at, false
	}
	for n, k := range f.e.Desk.Keepalives {
		sooner(f.keptAt[n].Add(k.Every))
	}
	if len(f.suspects) > 0 {
		sooner(f.decideAt)
	}
	road := f.freeAt
	if f.trying && road.Before(f.failed.Add(retry)) {
		road = f.failed.Add(retry)
	}
	switch {
	case f.queued() || !f.lit:
		sooner(road)
		urgent = at.Equal(road) && !f.trying
	case f.e.Desk.Repeat && len(f.slots) > 0:
		if road.Before(f.repeatAt) {
			road = f.repeatAt
		}
		sooner(road)
	}
	return at, urgent
}

// settled reports whether the desk has been told everything, and has confirmed it where it can.
func (f *feed) settled() bool {
	if !f.up || !f.lit || f.queued() {
		return false
	}
	if f.e.Desk.Echo == nil && f.e.Desk.Query == nil {
		return true
	}
	return f.unconfirmed() == 0
}

func (f *feed) unconfirmed() (n int) {
	for i := range f.slots {
		if _, left := f.inHand[f.e.places[i].Channel]; !left && !f.slots[i].confirmed && !f.slots[i].hopeless {
			n++
		}
	}
	return n
}

// flush writes what was sent since the last time to the journal.
func (f *feed) flush(now time.Time) {
	if len(f.log) > 0 {
		f.e.record(Entry{At: now, Kind: "sent", Desk: f.to, Sent: f.log})
		f.log = nil
	}
}

func same(sent any, m osc.Message) bool { return len(m.Args) == 1 && sent == m.Args[0] }

// nearer reports whether an echo lies nearer to what the desk was told before than to what it was told last. The steps
// of a fade may be smaller than the tolerance: then it is the last one that was lost.
func nearer(heard, before, last any) bool {
	h, ok1 := desk.Number(heard)
	b, ok2 := desk.Number(before)
	l, ok3 := desk.Number(last)
	return ok1 && ok2 && ok3 && math.Abs(h-b) < math.Abs(h-l)
}

// text is a message's value.
func text(m osc.Message) string {
	if len(m.Args) != 1 {
		return "nothing"
	}
	return fmt.Sprint(m.Args[0])
}
