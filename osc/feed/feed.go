// Package feed makes one mixer hold what a hold.TargetTable says, over a network that loses packets. It sends what
// differs, in order of urgency and at the mixer's pace, and repeats what the mixer has not confirmed. From the mixer's
// replies it decides whether someone has moved something there, or whether the mixer has restarted. A Feed does no I/O:
// callers give it times and messages, it opens no socket and reads no clock. It reports events through Reports.
package feed

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"backfield/cue"
	"backfield/osc"
	"backfield/osc/hold"
	"backfield/osc/lag"
	"backfield/osc/mixer"
	"backfield/osc/outside"
	"backfield/osc/sent"
)

// Times for a network that loses packets.
const (
	retryEvery  = 200 * time.Millisecond // between tries while the link is down
	steadyAfter = 600 * time.Millisecond // this long without a failure, the link is up again
)

// Reports are the functions that a feed calls when something happens at its mixer.
type Reports struct {
	Problem func(text string, now time.Time)
	Silent  func(text string, now time.Time)              // nothing is sent to the mixer, or nothing heard from it
	News    func(text string, now time.Time)              // it can be reached again
	Manual  func(channel int, what string, now time.Time) // someone moved a parameter of a channel: it is now manual
	Restart func(text string, now time.Time)              // the mixer has restarted, or another program sends to it
	Outside func(text string, now time.Time)              // a channel outside the show is open under hush
	Sent    func(messages []string, now time.Time)        // for the journal; nil for none
}

// rowState is what is known about one row at one mixer.
type rowState struct {
	sent.Value
	unsendable bool         // no packet can hold it
	queued     hold.Urgency // the part of the queue where it waits, or notQueued
	askedAt    time.Time
	agreedAt   time.Time // when the mixer last said the value sent
	said       osc.Arg   // what the mixer last said that it holds; the zero Arg for unknown

	glides  bool      // it moves gradually, since its channel is open
	moving  bool      // its channel is on the way
	movedAt time.Time // when it last changed on the way
	bridge  osc.Arg   // what is sent on the way to the target; the zero Arg where that is the target
}

const notQueued hold.Urgency = -1

// Feed is one mixer as a run knows it: what it was sent, what it has confirmed, and what is still to be sent. Make one
// with New.
type Feed struct {
	table   *hold.TargetTable
	mixer   *mixer.Mixer
	to      string
	reports Reports

	link      linkState
	opened    bool         // everything was sent closed, so mics may open
	neverOpen map[int]bool // channels whose level cannot be sent: they stay closed

	slots     []rowState // by row
	queue     urgencyQueue
	first     []Outgoing // sent before everything else
	extras    []Outgoing // extra messages of cues; sent after what closes, before what moves or opens
	sentExtra bool       // at least one cue had extra messages
	pace      pace
	scene     busy
	keptAt    []time.Time // when each keepalive was last sent
	rounds    rounds
	replies   replyWatch
	lag       lag.ReplyTimer

	manual   manualRows
	doubts   doubts
	restarts restarts
	outside  *outside.Channels

	follower *hold.Follower
	now      time.Time // of the last Advance
	behind   bool      // an open channel is not yet where its path is
	gliding  int       // how many rows the last tick moved

	out []Outgoing // what Take returns; the memory is reused
	log []Outgoing // for the journal, written once nothing urgent waits
}

// linkState is the state of the link to the mixer.
type linkState struct {
	up     bool // open
	trying bool // a send failed, and the link is being tried again
	failed time.Time
	passes bool   // something was sent since it failed
	reason string // why it is down
	used   bool   // a value was sent over it
}

// New makes a feed for the mixer at an address. Its link is closed, and nothing is sent yet.
func New(table *hold.TargetTable, to string, reports Reports) *Feed {
	f := &Feed{
		table: table, mixer: table.Mixer, to: to, reports: reports, neverOpen: map[int]bool{},
		keptAt: make([]time.Time, len(table.Mixer.Keepalives)), pace: newPace(table.Mixer),
		manual:   manualRows{rows: map[int]bool{}, acked: map[int]bool{}, before: map[int]osc.Arg{}},
		follower: hold.NewFollower(table),
		doubts:   doubts{rows: map[int]*valueDoubt{}, strays: map[int]time.Time{}, crossed: map[int]time.Time{}},
	}
	inShow := func(channel int) bool { return len(table.ChannelRows(channel)) > 0 }
	f.outside = outside.New(f.mixer, inShow, func(text string, now time.Time) {
		reports.Outside(fmt.Sprintf("%s: %s", to, text), now)
	})
	return f
}

// Open lets mics open at once, for a mixer that is about right already.
func (f *Feed) Open() { f.opened = true }

// LinkUp reports that the link to the mixer is open. Everything is sent.
func (f *Feed) LinkUp(now time.Time) {
	if !f.link.up && f.link.reason != "" {
		text := "connected to " + f.to
		if f.link.used {
			text = fmt.Sprintf("%s is back: %s", f.to, f.resending())
		}
		f.reports.News(text, now)
	}
	f.link.up, f.link.trying, f.link.reason = true, false, ""
	f.replies.reset()
	f.linkBack(now)
}

// LinkDown reports that the link to the mixer is closed, and why. It stays closed until LinkUp.
func (f *Feed) LinkDown(err error, now time.Time) {
	if f.link.up || f.link.reason != err.Error() {
		f.reports.Silent(err.Error(), now)
	}
	f.link.up, f.link.failed, f.link.reason = false, now, err.Error()
	f.linkLost()
	f.missed(nil, now)
}

// resending says what a mixer gets after it has missed something.
func (f *Feed) resending() string {
	var except []string
	if len(f.manual.rows) > 0 {
		except = append(except, "what is manual")
	}
	if f.sentExtra {
		except = append(except, "the extra messages of cues")
	}
	if len(except) == 0 {
		return "resending everything"
	}
	return "resending everything except " + strings.Join(except, " and ")
}

// Sent reports that what Take returned has gone out.
func (f *Feed) Sent(now time.Time) {
	f.link.passes = true
	f.regain(now)
	f.flush(now)
}

// SendFailed reports that the link does not work. The messages, if any, could not be sent and are sent again.
func (f *Feed) SendFailed(list []Outgoing, err error, now time.Time) {
	if !f.link.trying || f.link.reason != err.Error() {
		f.reports.Silent(err.Error(), now)
	}
	f.link.trying, f.link.passes, f.link.failed, f.link.reason = true, false, now, err.Error()
	f.replies.reset()
	f.linkLost()
	var lost []Outgoing
	again := false
	for _, m := range list {
		if i, ok := f.table.Find(m.Address); ok {
			f.slots[i].Forget()
			f.Mark(i)
		}
		again = again || m.kind == scene // the scene's values are sent instead
		if m.kind == extra {
			lost = append(lost, m)
		}
	}
	if again || !f.waiting() { // something must be sent to try the link
		f.resend()
	}
	if !f.waiting() && f.mixer.Query != nil && f.table.Len() > 0 { // every channel is manual
		f.first = append(f.first, f.question(0))
	}
	f.missed(lost, now)
	f.flush(now)
}

// regain takes a link as up again once it has worked for a while. It sends everything, since nothing says what the
// mixer has missed.
func (f *Feed) regain(now time.Time) {
	if f.link.trying && f.link.passes && now.Sub(f.link.failed) >= steadyAfter {
		f.link.trying = false
		f.reports.News(fmt.Sprintf("%s is back: %s", f.to, f.resending()), now)
		f.linkBack(now)
	}
}

// Unsendable reports that a message can never be sent, and why. It would fail each time, so it is not tried again.
func (f *Feed) Unsendable(m osc.Message, err error, now time.Time) {
	i, ok := f.table.Find(m.Address)
	if ok && f.slots[i].unsendable {
		return
	}
	effect := ""
	if ok {
		f.slots[i].unsendable = true
		f.slots[i].Forget()
		if place := f.table.Place(i); place.Param == cue.ParamLevel {
			f.neverOpen[place.Channel] = true
			effect = fmt.Sprintf("; channel %d stays closed", place.Channel)
			f.MarkAll()
		}
	}
	f.reports.Problem(fmt.Sprintf("cannot send %s to %s: %v%s", m.Address, f.to, err, effect), now)
}

// SendOnce sends a cue's extra messages. They are not part of the mixer's state, so they are not repeated, and a mixer
// without a link misses them.
func (f *Feed) SendOnce(list []osc.Message, now time.Time) {
	for _, m := range list {
		f.extras = append(f.extras, other(extra, m))
	}
	f.sentExtra = true
	if !f.link.up || f.link.trying {
		f.missed(nil, now)
	}
}

// missed reports the extra messages that this mixer did not get: the lost ones and all that wait. They are not sent
// later, when they could surprise someone.
func (f *Feed) missed(lost []Outgoing, now time.Time) {
	lost = append(lost, f.extras...)
	f.extras = nil
	if len(lost) == 0 {
		return
	}
	f.reports.Problem(fmt.Sprintf("%s MISSED %s, which is not sent again: set it at the mixer, or jump to the cue",
		f.to, strings.Join(words(lost), ", ")), now)
}

// flush reports what was sent since the last time, once nothing urgent waits.
func (f *Feed) flush(now time.Time) {
	if len(f.log) == 0 || f.waiting() {
		return
	}
	f.reports.Sent(words(f.log), now)
	f.log = f.log[:0]
}

// note keeps a message for the journal.
func (f *Feed) note(m *Outgoing) {
	if f.reports.Sent != nil {
		f.log = append(f.log, *m)
	}
}

func words(list []Outgoing) []string {
	words := make([]string, len(list))
	for i, m := range list {
		words[i] = m.OSC().String()
	}
	return words
}

// Advance does what is due: it decides about moved channels and missing replies, and queues keepalives.
func (f *Feed) Advance(now time.Time) {
	f.now = now
	f.regain(now)
	if f.scene.over(now) {
		f.resend()
	}
	f.checkReplies(now)
	f.decide(now)
	if f.restarts.news && now.Sub(f.restarts.at) >= newsTime && f.Settled() {
		f.restarts.news = false
	}
	f.keepAlive(now)
}

// keepAlive queues each keepalive when it is due. At most one of each waits.
func (f *Feed) keepAlive(now time.Time) {
	if !f.link.up {
		return
	}
	for n, k := range f.mixer.Keepalives {
		if !f.keptAt[n].IsZero() && now.Sub(f.keptAt[n]) < k.Every {
			continue
		}
		f.keptAt[n] = now
		same := func(m Outgoing) bool { return m.kind == keepalive && m.OSC().Same(k.Message, 0) }
		if !slices.ContainsFunc(f.first, same) {
			f.first = append(f.first, other(keepalive, k.Message))
		}
	}
}

// Status is the state of a mixer.
type Status struct {
	To          string
	Up          bool
	Reason      string // why it is down
	Waiting     bool   // something is not sent yet
	Confirms    bool   // it can confirm what it holds
	Unconfirmed int    // rows that it has not confirmed; 0 for one that cannot
	NoReply     bool   // it has not replied for too long
	HeardAt     time.Time
	Restarted   bool          // it has restarted just now
	Overwritten bool          // many of its values have changed at once just now, and it cannot be asked
	Slow        time.Duration // how long it takes to reply, if that is long; else 0
	Contested   bool          // another program sends to it: nothing is sent again until Resend
	Unknown     int           // channels outside the show of which nothing is known
	NotClosed   []int         // channels that the show or hush has closed, which the mixer has not confirmed
}

// Status returns the state of the mixer.
func (f *Feed) Status() Status {
	s := Status{
		To: f.to, Up: f.link.up && !f.link.trying, Reason: f.link.reason, Waiting: f.waiting(),
		Confirms: f.mixer.CanConfirm(), NoReply: f.replies.overdue, HeardAt: f.replies.at,
		Restarted:   f.restarts.news && f.mixer.Query != nil,
		Overwritten: f.restarts.news && f.mixer.Query == nil, Contested: f.restarts.contested,
		Slow: f.lag.Slow(), Unknown: f.outside.Unknown(), NotClosed: f.notClosed(),
	}
	if s.Confirms {
		s.Unconfirmed = f.unconfirmed()
	}
	return s
}

// Outside is the mixer's channels that the show does not use.
func (f *Feed) Outside() *outside.Channels { return f.outside }

// To is the mixer's name for messages.
func (f *Feed) To() string { return f.to }

// Reached reports whether the link works.
func (f *Feed) Reached() bool { return f.link.up && !f.link.trying }

// Settled reports whether everything was sent, and confirmed if the mixer can confirm.
func (f *Feed) Settled() bool {
	if !f.link.up || !f.opened || f.waiting() {
		return false
	}
	return !f.mixer.CanConfirm() || !f.replies.overdue && f.unconfirmed() == 0
}

func (f *Feed) unconfirmed() (n int) {
	for i := range f.slots {
		if s := &f.slots[i]; !s.Confirmed && !s.unsendable && !f.glidesNow(i, glideKnown, f.now) && !f.isLeft(i) {
			n++
		}
	}
	return n + len(f.outside.Unconfirmed())
}
