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
	settle     = 300 * time.Millisecond // an echo later than this after the last change speaks of it
	handAfter  = time.Second            // a value that differs later than this was not ours
	patience   = 60 * time.Millisecond  // an address is not repeated sooner
	sweep      = 40 * time.Millisecond  // from one confirmed address to the next
	probing    = 400 * time.Millisecond // how long a suspicion waits for others
	manyStrays = 3                      // values that differ at once: nobody has so many hands
	recent     = 3 * time.Second        // what has strayed within this time did so at once
	retry      = 200 * time.Millisecond // from one try to the next while the road is down
	steady     = 600 * time.Millisecond // without a failure it is up again
	speechless = 2 * time.Second        // a desk that answers has this long for it
)

// grain is what goes together where the desk takes messages faster than a computer can be woken for each: as many as
// fit into that time, which are then paid for before the next may go. At 5,000 messages a second and less it is one.
const grain = 200 * time.Microsecond

// Told is a message on its way to a desk: the value of an address of the run, or one of its own kind.
type Told struct {
	At      int // of the address among those of the run, -1 for a message of its own kind
	Address string
	Arg     osc.Arg   // the argument of one with an At
	Args    []osc.Arg // the arguments of one without
}

// Message is the message as such.
func (t Told) Message() osc.Message {
	if t.At < 0 {
		return osc.Message{Address: t.Address, Args: t.Args}
	}
	return osc.Message{Address: t.Address, Args: []osc.Arg{t.Arg}}
}

func extra(m osc.Message) Told { return Told{At: -1, Address: m.Address, Args: m.Args} }

// slot is what is known of one address at one desk.
type slot struct {
	sent      osc.Arg
	known     bool // whether sent is what the desk was last told
	confirmed bool
	class     int8    // of its place in the queue
	before    osc.Arg // what it was told before sent, the zero Arg for nothing
	sentAt    time.Time
	changedAt time.Time // when it was last told something else than before
	hopeless  bool      // it can never be sent
	askedAt   time.Time
}

// feed is one desk as the run knows it: what it was told, what it has confirmed, and what it is still to be told.
type feed struct {
	e      *Engine
	to     string
	up     bool // the road is open
	failed time.Time
	trying bool // the road has failed and is being tried
	passes bool // and something has gone out since
	reason string
	lit    bool         // it has been sent everything closed, so that mics may open
	mute   map[int]bool // channels whose level it can never be told: they stay closed

	slots  []slot
	queue  [classes]fifo
	extras []osc.Message // sent before all else
	raw    []osc.Message // what cues send besides, once; sent after what closes, before what moves or opens
	pause  time.Duration // after the extras: the desk is busy with them
	freeAt time.Time     // when the next message may go
	busy   time.Time     // until when the desk is busy with a scene
	anewAt time.Time     // when it is to be told all again, since it was told something while it was busy; zero for never

	repeats  round     // of what is not confirmed
	sweeps   round     // of what is
	repeatAt time.Time // neither before
	sweepAt  time.Time // no look before
	swept    bool      // the last was a look

	keptAt   []time.Time // when each keepalive was last sent
	inHand   map[int]string
	suspects map[int]string    // channels of which a confirmed value has moved
	strays   map[int]time.Time // when an address was last heard to hold neither what it was told nor what it held before
	decideAt time.Time

	told, repeated, heard, strange int
	heardAt                        time.Time
	owedAt                         time.Time // of the first message that the desk has answered nothing to; zero for none
	silent                         bool      // for too long
	out                            []Told    // what take gives, in room that is used again
	log                            []Told    // of the journal, in words once there is time
}

// fifo is the indices of addresses that wait, in order. Its room is used again.
type fifo struct {
	list []int
	head int
}

func (q *fifo) empty() bool { return q.head == len(q.list) }

func (q *fifo) push(i int) {
	if q.head > 0 && len(q.list) == cap(q.list) {
		q.list, q.head = q.list[:copy(q.list, q.list[q.head:])], 0
	}
	q.list = append(q.list, i)
}

func (q *fifo) pop() (i int) {
	i = q.list[q.head]
	q.head++
	if q.empty() {
		q.clear()
	}
	return i
}

func (q *fifo) clear() { q.list, q.head = q.list[:0], 0 }

func newFeed(e *Engine, to string) *feed {
	return &feed{e: e, to: to, mute: map[int]bool{}, inHand: map[int]string{}, suspects: map[int]string{}, strays: map[int]time.Time{}, keptAt: make([]time.Time, len(e.Desk.Keepalives))}
}

// grow makes room for addresses that have come up.
func (f *feed) grow() {
	for len(f.slots) < len(f.e.want) {
		f.slots = append(f.slots, slot{class: notQueued})
	}
}

// want is what the desk is to hold at an address. Until it has been darkened, every channel is closed.
func (f *feed) want(i int) osc.Arg {
	if (!f.lit || len(f.mute) > 0 && f.mute[f.e.places[i].Channel]) && f.e.dark[i] != (osc.Arg{}) {
		return f.e.dark[i]
	}
	return f.e.want[i]
}

// mark puts an address into the queue, if the desk is to be told something else than it was.
func (f *feed) mark(i int) {
	s := &f.slots[i]
	place := f.e.places[i]
	if _, left := f.inHand[place.Channel]; left || s.hopeless || s.known && s.sent == f.want(i) {
		return
	}
	class := f.class(i)
	if class != s.class { // less urgent, too: a mute that waits to close must not open first of all once a cue opens it
		f.queue[class].push(i)
		s.class = class
	}
}

func (f *feed) class(i int) int8 {
	place := f.e.places[i]
	open := f.lit && f.e.open[place.Channel]
	if place.Param != cue.ParamMute && place.Param != cue.ParamLevel {
		if l := f.e.moving(i); l != nil && l.fade.length > 0 && open { // heard on its way: no sooner than the levels
			return fading
		}
		return moving
	}
	if !open {
		if place.Param == cue.ParamMute {
			return closing
		}
		return silencing
	}
	blind := false // the desk's level is not known: it is set before the mute is taken off
	if l := f.e.levels[place.Channel]; l != nil {
		blind = !f.slots[l.index].known
	}
	if blind == (place.Param == cue.ParamLevel) {
		return opening
	}
	return fading
}

// markAll marks all addresses, parameter by parameter like desk.Messages.
func (f *feed) markAll() {
	for _, i := range f.e.order {
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
	f.trust()
	f.markAll()
}

// clear empties the queue.
func (f *feed) clear() {
	for c := range f.queue {
		f.queue[c].clear()
	}
	for i := range f.slots {
		f.slots[i].class = notQueued
	}
}

// queued reports whether something is waiting that the desk was not told.
func (f *feed) queued() bool {
	if len(f.extras) > 0 || len(f.raw) > 0 {
		return true
	}
	for c := range f.queue {
		q := &f.queue[c]
		for !q.empty() && !f.live(q.list[q.head], int8(c)) {
			q.pop()
		}
		if !q.empty() {
			return true
		}
	}
	return false
}

// live drops places in the queue that have become pointless or have moved to another class.
func (f *feed) live(i int, class int8) bool {
	s := &f.slots[i]
	if s.class != class {
		return false
	}
	if s.hopeless || s.known && s.sent == f.want(i) {
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
		for q := &f.queue[c]; !q.empty(); {
			if i = q.pop(); f.live(i, int8(c)) {
				f.slots[i].class = notQueued
				return i, true
			}
		}
	}
	return 0, false
}

// take returns the messages that may go now, and remembers them as told. They are valid until it is called again.
func (f *feed) take(now time.Time) []Told {
	if !f.up || f.freeAt.After(now) || f.trying && now.Sub(f.failed) < retry {
		return nil
	}
	gap, together := f.pace()
	if now.Sub(f.freeAt) >= gap*time.Duration(together) {
		f.freeAt = now
	}
	f.out = f.out[:0]
	size := 16
	for {
		t, ok := f.next(now)
		if !ok && len(f.out) == 0 {
			t, ok = f.repeat(now)
		}
		if !ok {
			break
		}
		f.out = append(f.out, t)
		if len(f.extras) == 0 && f.pause > 0 {
			f.freeAt, f.pause = f.freeAt.Add(f.pause), 0
			f.busy = f.freeAt
			break
		}
		size += len(t.Address) + 32
		full := !f.e.Desk.Bundle || size > f.e.Desk.MaxPacket-80
		if full && len(f.out) >= together {
			break
		}
		if full {
			size = 16 // the next bundle
		}
	}
	f.freeAt = f.freeAt.Add(gap * time.Duration(len(f.out)))
	if !f.lit && len(f.out) > 0 && !f.queued() || !f.lit && len(f.out) == 0 {
		f.lit = true
		f.markAll()
	}
	return f.out
}

// pace is the time that the desk has for a message, and how many of them go together.
func (f *feed) pace() (gap time.Duration, together int) {
	gap = time.Second / time.Duration(max(f.e.Desk.Rate, 1))
	if gap == 0 {
		return 0, math.MaxInt32
	}
	return gap, max(1, int(grain/gap))
}

// next is the next message that the desk was not told: what must go first, then what differs.
func (f *feed) next(now time.Time) (Told, bool) {
	if len(f.extras) > 0 {
		t := extra(f.extras[0])
		f.extras = f.extras[1:]
		f.note(t)
		return t, true
	}
	before := classes
	if len(f.raw) > 0 {
		before = moving
	}
	if i, ok := f.pop(before); ok {
		t := f.tell(i, now)
		if !f.e.fades(i, now) {
			f.note(t)
		}
		return t, true
	}
	if len(f.raw) > 0 {
		t := extra(f.raw[0])
		f.raw = f.raw[1:]
		f.note(t)
		return t, true
	}
	return Told{}, false
}

// miss tells of what cues send besides and this desk has not got: those that are lost, and all that wait. They are not
// sent later, when nobody expects them.
func (f *feed) miss(lost []osc.Message, now time.Time) {
	lost = append(lost, f.raw...)
	if f.raw = nil; len(lost) > 0 {
		f.e.problem(now, fmt.Sprintf("%s was not reached and has NOT got: %s; it is not sent again: do it by hand, or go to the cue again", f.to, besidesWords(lost)))
	}
}

// note keeps a message for the journal.
func (f *feed) note(t Told) {
	if f.e.o.Record != nil {
		f.log = append(f.log, t)
	}
}

// tell remembers that the desk is told what is wanted at an address.
func (f *feed) tell(i int, now time.Time) Told {
	s, arg := &f.slots[i], f.want(i)
	if !s.known || s.sent != arg {
		s.before, s.changedAt, s.confirmed = osc.Arg{}, now, false
		if s.known {
			s.before = s.sent
		}
	}
	s.sent, s.known, s.sentAt = arg, true, now
	f.told++
	f.owed(now)
	return Told{At: i, Address: f.e.addresses[i], Arg: arg}
}

// round is where one round of the addresses stands.
type round struct{ cursor int }

// next is the next address that is due by now, or else how long the first one has still to wait.
func (r *round) next(n int, due func(i int) time.Duration) (i int, ok bool, wait time.Duration) {
	wait = never
	for k := range n {
		i := (r.cursor + k) % n
		d := due(i)
		if d <= 0 {
			r.cursor = i + 1
			return i, true, 0
		}
		wait = min(wait, d)
	}
	return 0, false, wait
}

// never is when an address is due that is none of a round's.
const never = time.Duration(math.MaxInt64)

// repeat goes round the addresses: those that the desk has not confirmed are told again, or asked for; those that
// it has confirmed are looked at again, slowly, since a desk may restart or a hand may move. The second has its share of
// the time however much the first has to do: some desks never confirm some of what they are told.
func (f *feed) repeat(now time.Time) (Told, bool) {
	if !f.e.Desk.Repeat || now.Before(f.repeatAt) || len(f.slots) == 0 {
		return Told{}, false
	}
	gap := 4 * time.Second / time.Duration(max(f.e.Desk.Rate, 1))
	if !f.answers() {
		gap = max(10*time.Second/time.Duration(max(f.e.Desk.Rate, 1)), 5*time.Millisecond)
	}
	first, second := f.toLookAt, f.toTell
	if f.swept { // in turn, where both have something to do
		first, second = second, first
	}
	i, ok, wait := first(now)
	if !ok {
		var other time.Duration
		i, ok, other = second(now)
		wait = min(wait, other)
	}
	if !ok {
		f.repeatAt = now.Add(wait)
		return Told{}, false
	}
	if f.swept = f.slots[i].confirmed; f.swept {
		gap = min(gap, sweep)
		f.sweepAt = now.Add(sweep)
		if len(f.suspects) > 0 {
			f.sweepAt = now.Add(gap)
		}
	}
	f.repeatAt = now.Add(gap)
	f.repeated++
	f.owed(now)
	s := &f.slots[i]
	if f.e.Desk.Query != nil && (s.confirmed || s.sentAt.After(s.askedAt)) { // told and asked in turn
		s.askedAt = now
		return extra(f.e.Desk.Ask(f.e.addresses[i])), true
	}
	s.sentAt = now
	return Told{At: i, Address: f.e.addresses[i], Arg: f.want(i)}, true
}

// toLookAt is the next address of those that the desk has confirmed, or else how long none is due.
func (f *feed) toLookAt(now time.Time) (i int, ok bool, wait time.Duration) {
	if d := f.sweepAt.Sub(now); d > 0 {
		return 0, false, d
	}
	if i, ok, _ = f.sweeps.next(len(f.slots), func(i int) time.Duration {
		if f.apart(i, now) || !f.slots[i].confirmed {
			return never
		}
		return 0
	}); !ok { // nothing to look at yet
		f.sweepAt = now.Add(sweep)
		return 0, false, sweep
	}
	return i, true, 0
}

// toTell is the next address of those that it has not, or else how long none is due.
func (f *feed) toTell(now time.Time) (i int, ok bool, wait time.Duration) {
	return f.repeats.next(len(f.slots), func(i int) time.Duration { return f.due(i, now) })
}

// apart reports whether an address is none to be repeated: somebody has his hand there, or it is not judged yet whether
// he has, or a fade tells it.
func (f *feed) apart(i int, now time.Time) bool {
	channel := f.e.places[i].Channel
	if _, left := f.inHand[channel]; left {
		return true
	}
	_, suspect := f.suspects[channel]
	return suspect || f.e.fades(i, now)
}

// due is how long it is until an address that the desk has not confirmed is repeated.
func (f *feed) due(i int, now time.Time) time.Duration {
	s := &f.slots[i]
	if f.apart(i, now) || s.confirmed || s.hopeless || !s.known {
		return never
	}
	last := s.sentAt
	if s.askedAt.After(last) {
		last = s.askedAt
	}
	if f.answers() { // a confirmation counts only then
		if at := s.changedAt.Add(settle); now.Before(at) && now.Sub(s.changedAt) > 2*patience {
			return max(at.Sub(now), patience-now.Sub(last))
		}
	}
	return patience - now.Sub(last)
}

// hear takes what the desk says: it confirms, or it differs.
func (f *feed) hear(m osc.Message, now time.Time) {
	f.heard++
	f.heardAt, f.owedAt = now, time.Time{}
	if f.silent {
		f.silent = false
		f.e.problem(now, f.to+" answers again")
	}
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
	if s.class == notQueued && desk.Same(m, osc.Message{Address: m.Address, Args: []osc.Arg{s.sent}}, tolerance) && !nearer(m.Args[0], s.before, s.sent) {
		if now.Sub(s.changedAt) >= settle {
			s.confirmed = true
		}
		return
	}
	if s.class != notQueued || now.Sub(s.changedAt) < handAfter || !s.confirmed {
		s.confirmed = false // lost, or older news: it is told again in its turn
		if s.before != (osc.Arg{}) && !f.e.fadable(i) && !desk.Same(m, osc.Message{Address: m.Address, Args: []osc.Arg{s.before}}, tolerance) {
			f.strays[i] = now
		}
		return
	}
	what := fmt.Sprintf("%s: the desk has %s, the show %s", f.e.places[i].Param, m.Args[0], f.want(i))
	if f.e.Desk.Query == nil || now.Sub(s.askedAt) > handAfter {
		f.leave(channel, what) // nobody asked: somebody moved it
		return
	}
	s.confirmed = false
	first := len(f.suspects) == 0
	if first {
		f.decideAt = now.Add(probing)
	}
	if _, suspect := f.suspects[channel]; !suspect {
		f.probe(channel, first, now)
	}
	f.suspects[channel], f.strays[i] = what, now
}

// answers reports whether this desk tells what it holds.
func (f *feed) answers() bool { return f.e.Desk.Echo != nil || f.e.Desk.Query != nil }

// owed notes that the desk was told or asked something that it answers. Where nothing is repeated, one that is lost would
// never be answered.
func (f *feed) owed(now time.Time) {
	if f.owedAt.IsZero() && f.answers() && f.e.Desk.Repeat {
		f.owedAt = now
	}
}

// silence is how long the desk may leave what it is told unanswered: of some messages, one gets through any road.
func (f *feed) silence() time.Duration {
	gap, _ := f.pace()
	return max(speechless, 16*gap) // the repeats take four
}

// listen tells of a desk that says nothing: over UDP nothing else tells that it is off, or that the cable is out.
func (f *feed) listen(now time.Time) {
	if f.up && !f.trying && !f.silent && !f.owedAt.IsZero() && now.Sub(f.owedAt) >= f.silence() {
		f.silent = true
		f.e.problem(now, fmt.Sprintf("%s answers nothing: is it on, and the cable in?", f.to))
	}
}

// probe asks for all values of a channel and, at first, for some of every other, to tell a hand on one from a desk that has
// restarted.
func (f *feed) probe(channel int, all bool, now time.Time) {
	for i, place := range f.e.places {
		if place.Channel == channel || all && (place.Param == cue.ParamDelay || place.Param == cue.ParamPan) {
			f.slots[i].askedAt = now
			f.extras = append(f.extras, f.e.Desk.Ask(f.e.addresses[i]))
		}
	}
}

// interrupt has what waits told now, though the desk be busy with a scene, and all of it again when it no longer is: what it
// is told meanwhile it may not hear.
func (f *feed) interrupt(now time.Time) {
	if f.pause > 0 { // the recall has not even been sent: it would open what is to be closed
		f.refill()
	}
	if f.busy.After(now) {
		f.freeAt, f.anewAt = now, f.busy
	}
}

// anew tells a desk all again that was told something while it was busy.
func (f *feed) anew(now time.Time) {
	if !f.anewAt.IsZero() && !now.Before(f.anewAt) {
		f.anewAt = time.Time{}
		f.refill()
	}
}

// decide judges suspicions: a value or two are somebody's hands, and so are any number of mutes and levels, which a group
// may hold. More at once, of those that nobody moves by hand together, are a desk that has lost its state.
func (f *feed) decide(now time.Time) {
	if len(f.suspects) == 0 || now.Before(f.decideAt) {
		return
	}
	values, telling := 0, !slices.ContainsFunc(f.e.places, tells)
	for i, at := range f.strays {
		if now.Sub(at) <= recent {
			values++
			telling = telling || tells(f.e.places[i])
		}
	}
	if values >= manyStrays && telling {
		f.e.problem(now, fmt.Sprintf("%s has lost its state, as after a restart: %s", f.to, f.e.again()))
		f.refill()
		return
	}
	for _, channel := range sortedKeys(f.suspects) {
		f.leave(channel, f.suspects[channel])
	}
	f.trust()
}

// tells reports whether what stands at a place is no mute and no level.
func tells(place desk.Place) bool {
	return place.Param != cue.ParamMute && place.Param != cue.ParamLevel
}

// trust ends all suspicions.
func (f *feed) trust() {
	clear(f.suspects)
	clear(f.strays)
}

// leave leaves a channel to the hand that moved it.
func (f *feed) leave(channel int, what string) {
	f.inHand[channel] = what
	delete(f.suspects, channel)
	state := f.e.State() // a run that is resumed leaves it alone, too
	f.e.tell(Entry{At: f.e.now, Kind: "problem", State: &state, Text: fmt.Sprintf("%s is in hand at %s, and left alone until it is released: %s", f.e.who(channel), f.to, what)})
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
func (f *feed) fail(ts []Told, err error, now time.Time) {
	if !f.trying || f.reason != err.Error() {
		f.e.problem(now, err.Error())
	}
	f.trying, f.passes, f.failed, f.reason = true, false, now, err.Error()
	f.owedAt, f.silent = time.Time{}, false
	var lost []osc.Message
	scene := false
	for _, t := range ts {
		if i, ok := f.e.index[t.Address]; ok {
			f.slots[i].known, f.slots[i].confirmed = false, false
			f.mark(i)
		} else if f.e.raws[t.Address] {
			lost = append(lost, t.Message())
		} else if f.e.isRecall(t.Message()) {
			scene = true
		}
	}
	if scene || !f.queued() { // what a scene would have brought is sent; and something must try the road
		f.refill()
	}
	if !f.queued() && f.e.Desk.Query != nil && len(f.e.addresses) > 0 { // every channel is in somebody's hand
		f.extras = append(f.extras, f.e.Desk.Ask(f.e.addresses[0]))
	}
	f.miss(lost, now)
	f.flush(now)
}

// passed notes that a packet went out.
func (f *feed) passed(now time.Time) {
	f.passes = true
	f.recover(now)
	f.flush(now)
}

// recover has a road that has held for a while be up again, and the desk told everything, since nobody knows what it has
// missed.
func (f *feed) recover(now time.Time) {
	if f.trying && f.passes && now.Sub(f.failed) >= steady {
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

// idly is how late something may be done that does not matter to a millisecond.
const idly = 5 * time.Millisecond

// wake is when the feed next has something to do, and how late that may be done: what the desk was not told, soon enough
// that the pace is kept.
func (f *feed) wake(now time.Time) (at time.Time, within time.Duration) {
	at, within = now.Add(time.Hour), idly
	sooner := func(t time.Time) {
		if t.Before(at) {
			at = t
		}
	}
	if !f.up {
		return at, within
	}
	for n, k := range f.e.Desk.Keepalives {
		sooner(f.keptAt[n].Add(k.Every))
	}
	if len(f.suspects) > 0 {
		sooner(f.decideAt)
	}
	if !f.anewAt.IsZero() {
		sooner(f.anewAt)
	}
	if !f.trying && !f.silent && !f.owedAt.IsZero() {
		sooner(f.owedAt.Add(f.silence()))
	}
	if f.trying && f.passes {
		sooner(f.failed.Add(steady))
	}
	road := f.freeAt
	if f.trying && road.Before(f.failed.Add(retry)) {
		road = f.failed.Add(retry)
	}
	switch {
	case f.queued() || !f.lit:
		sooner(road)
		if at.Equal(road) && !f.trying {
			gap, together := f.pace()
			within = gap * time.Duration(together) / 2
		}
	case f.e.Desk.Repeat && len(f.slots) > 0:
		if road.Before(f.repeatAt) {
			road = f.repeatAt
		}
		sooner(road)
	}
	return at, within
}

// settled reports whether the desk has been told everything, and has confirmed it where it can.
func (f *feed) settled() bool {
	if !f.up || !f.lit || f.queued() {
		return false
	}
	return !f.answers() || !f.silent && f.unconfirmed() == 0
}

func (f *feed) unconfirmed() (n int) {
	for i := range f.slots {
		if _, left := f.inHand[f.e.places[i].Channel]; !left && !f.slots[i].confirmed && !f.slots[i].hopeless {
			n++
		}
	}
	return n
}

// flush writes what was sent since the last time to the journal, once nothing waits that is more urgent.
func (f *feed) flush(now time.Time) {
	if len(f.log) == 0 || f.queued() {
		return
	}
	sent := make([]string, len(f.log))
	for i, t := range f.log {
		sent[i] = t.Message().String()
	}
	f.log = f.log[:0]
	f.e.record(Entry{At: now, Kind: "sent", Desk: f.to, Sent: sent})
}

// nearer reports whether an echo lies nearer to what the desk was told before than to what it was told last. The steps
// of a fade may be smaller than the tolerance: then it is the last one that was lost.
func nearer(heard, before, last osc.Arg) bool {
	h, ok1 := heard.Number()
	b, ok2 := before.Number()
	l, ok3 := last.Number()
	return ok1 && ok2 && ok3 && math.Abs(h-b) < math.Abs(h-l)
}
