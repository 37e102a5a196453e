// Package feed brings one mixer to what a hold.Table says, over a network that loses packets: it sends what differs,
// in the order of urgency and at the mixer's pace; repeats what the mixer has not confirmed; hears what the mixer
// says; and judges whether somebody has moved something there, or whether it has restarted. A Feed is a pure machine:
// it is given instants and messages, opens no socket and reads no clock. What happens is reported by the functions in
// Reports.
package feed

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"backfield/cue"
	"backfield/osc"
	"backfield/osc/hold"
	"backfield/osc/mixer"
)

// How long things take on a network that loses packets. A datagram that is still under way after half of settle is lost
// for good.
const (
	echoDelay   = 300 * time.Millisecond // an echo later than this after the last change speaks of it
	retryEvery  = 200 * time.Millisecond // from one try to the next while the link is down
	steadyAfter = 600 * time.Millisecond // without a failure the link is up again
)

// Reports is whom a feed tells what happens at its mixer.
type Reports struct {
	Problem func(text string, now time.Time)
	Manual  func(channel int, what string, now time.Time) // somebody moved a channel: it is left alone from now on
	Sent    func(messages []string, now time.Time)        // for the journal; nil where there is none
}

// slot is what is known of one row at one mixer.
type rowState struct {
	Value
	unsendable bool         // it can never be sent
	queued     hold.Urgency // in which part of the queue it waits; notQueued for none
	askedAt    time.Time
}

const notQueued hold.Urgency = -1

// Feed is one mixer as a run knows it: what it was sent, what it has confirmed, and what it is still to be sent. Make
// one with New.
type Feed struct {
	table   *hold.TargetTable
	mixer   *mixer.Mixer
	to      string
	reports Reports

	link      linkState
	opened    bool         // everything has been sent closed, so that mics may open
	neverOpen map[int]bool // channels whose level can never be sent: they stay closed

	slots     []rowState // by row
	queue     urgencyQueue
	first     []Outgoing // sent before all else
	extras    []Outgoing // what cues send besides their channels; sent after what closes, before what moves or opens
	sentExtra bool       // there have been extras
	pace      pace
	scene     busy
	keptAt    []time.Time // when each keepalive was last sent
	rounds    rounds
	replies   replyWatch

	manual   manualChannels
	suspects suspects

	out []Outgoing // what Take gives, in memory that is used again
	log []Outgoing // for the journal, put into words once there is time
}

// link is the way to the mixer.
type linkState struct {
	up     bool // it is open
	trying bool // it has failed and is being tried
	failed time.Time
	passes bool   // something has gone out since it failed
	reason string // why it is not up
	used   bool   // something of the table has been sent
}

// New makes a feed for the mixer at an address, with its link closed and nothing sent.
func New(table *hold.TargetTable, to string, reports Reports) *Feed {
	return &Feed{
		table: table, mixer: table.Mixer, to: to, reports: reports, neverOpen: map[int]bool{},
		keptAt: make([]time.Time, len(table.Mixer.Keepalives)), pace: newPace(table.Mixer),
		manual: manualChannels{}, suspects: suspects{channels: map[int]string{}, strays: map[int]time.Time{}},
	}
}

// Open lets mics open at once: the mixer is taken to hold about what it should.
func (f *Feed) Open() { f.opened = true }

// Linked says that the link to the mixer is open. Everything is sent.
func (f *Feed) LinkUp(now time.Time) {
	if !f.link.up && f.link.reason != "" {
		again := ""
		if f.link.used {
			again = " again: " + f.resending()
		}
		f.reports.Problem(f.to+" is reached"+again, now)
	}
	f.link.up, f.link.trying, f.link.reason = true, false, ""
	f.replies.reset()
	f.resend()
}

// Cut says that the link to the mixer is closed, and why. It stays so until Linked.
func (f *Feed) LinkDown(err error, now time.Time) {
	if f.link.up || f.link.reason != err.Error() {
		f.reports.Problem(err.Error(), now)
	}
	f.link.up, f.link.reason = false, err.Error()
	f.missed(nil, now)
}

// resending is what a mixer gets that has missed something, in words.
func (f *Feed) resending() string {
	if f.sentExtra {
		return "everything is sent again, but for what cues have sent besides their channels"
	}
	return "everything is sent again"
}

// Passed says that what Take gave has gone out.
func (f *Feed) Sent(now time.Time) {
	f.link.passes = true
	f.regain(now)
	f.flush(now)
}

// Failed says that the link is down. The messages, if any, could not be sent: they are sent again.
func (f *Feed) SendFailed(list []Outgoing, err error, now time.Time) {
	if !f.link.trying || f.link.reason != err.Error() {
		f.reports.Problem(err.Error(), now)
	}
	f.link.trying, f.link.passes, f.link.failed, f.link.reason = true, false, now, err.Error()
	f.replies.reset()
	var lost []Outgoing
	again := false
	for _, m := range list {
		if i, ok := f.table.Find(m.Address); ok {
			f.slots[i].Forget()
			f.Mark(i)
		}
		again = again || m.kind == scene // what the scene would have brought is sent
		if m.kind == extra {
			lost = append(lost, m)
		}
	}
	if again || !f.waiting() { // something must try the link
		f.resend()
	}
	if !f.waiting() && f.mixer.Query != nil && f.table.Len() > 0 { // every channel is manual
		f.first = append(f.first, f.question(0))
	}
	f.missed(lost, now)
	f.flush(now)
}

// regain takes a link that has held for a while for up again, and sends everything, since nobody knows what the mixer
// has missed.
func (f *Feed) regain(now time.Time) {
	if f.link.trying && f.link.passes && now.Sub(f.link.failed) >= steadyAfter {
		f.link.trying = false
		f.reports.Problem(fmt.Sprintf("%s is reached again: %s", f.to, f.resending()), now)
		f.resend()
	}
}

// Hopeless says that a message can never be sent, and why. It is given up, since it would fail each time.
func (f *Feed) Unsendable(m osc.Message, err error, now time.Time) {
	i, ok := f.table.Find(m.Address)
	if ok && f.slots[i].unsendable {
		return
	}
	what := m.Address
	if ok {
		f.slots[i].unsendable = true
		f.slots[i].Forget()
		if place := f.table.Place(i); place.Param == cue.ParamLevel {
			f.neverOpen[place.Channel] = true
			what = fmt.Sprintf("%s (so channel %d stays closed)", m.Address, place.Channel)
			f.MarkAll()
		}
	}
	f.reports.Problem(fmt.Sprintf("%s is given up at %s: %v", what, f.to, err), now)
}

// SendOnce sends what a cue sends besides its channels. It is no state, so it is not repeated, and a mixer that is not
// reached misses it.
func (f *Feed) SendOnce(list []osc.Message, now time.Time) {
	for _, m := range list {
		f.extras = append(f.extras, other(extra, m))
	}
	f.sentExtra = true
	if !f.link.up || f.link.trying {
		f.missed(nil, now)
	}
}

// missed reports which extra messages this mixer has not got: those that are lost, and all that wait. They are not sent
// later, when nobody expects them.
func (f *Feed) missed(lost []Outgoing, now time.Time) {
	lost = append(lost, f.extras...)
	f.extras = nil
	if len(lost) == 0 {
		return
	}
	f.reports.Problem(fmt.Sprintf("%s was not reached and has NOT got: %s; it is not sent again: "+
		"do it by hand, or go to the cue again", f.to, strings.Join(words(lost), ", ")), now)
}

// flush reports what was sent since the last time, once nothing waits that is more urgent.
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

// Advance does what is due at an instant: it judges suspicions and silence, and sends what the mixer must hear every so
// often.
func (f *Feed) Advance(now time.Time) {
	f.regain(now)
	if f.scene.over(now) {
		f.resend()
	}
	f.checkReplies(now)
	f.decide(now)
	f.keepAlive(now)
}

// keepAlive sends what the mixer must hear every so often. One waits while the link is down, not many.
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

// Status is how a mixer is doing.
type Status struct {
	To          string
	Up          bool
	Reason      string // why it is not up
	Waiting     bool   // something has not been sent yet
	Confirms    bool   // it says what it holds
	Unconfirmed int    // rows that it has not confirmed; 0 for one that confirms nothing
	NoReply     bool   // it has answered nothing for too long
	HeardAt     time.Time
}

// Status says how the mixer is doing.
func (f *Feed) Status() Status {
	s := Status{
		To: f.to, Up: f.link.up && !f.link.trying, Reason: f.link.reason, Waiting: f.waiting(),
		Confirms: CanConfirm(f.mixer), NoReply: f.replies.overdue, HeardAt: f.replies.at,
	}
	if s.Confirms {
		s.Unconfirmed = f.unconfirmed()
	}
	return s
}

// Reached reports whether the mixer can be sent something.
func (f *Feed) Reached() bool { return f.link.up && !f.link.trying }

// Settled reports whether the mixer has been sent everything, and has confirmed it where it can.
func (f *Feed) Settled() bool {
	if !f.link.up || !f.opened || f.waiting() {
		return false
	}
	return !CanConfirm(f.mixer) || !f.replies.overdue && f.unconfirmed() == 0
}

func (f *Feed) unconfirmed() (n int) {
	for i := range f.slots {
		if s := &f.slots[i]; !s.confirmed && !s.unsendable && !f.manual.has(f.table.Place(i)) {
			n++
		}
	}
	return n
}
