package feed

import (
	"maps"
	"slices"
	"time"

	"backfield/cue"
	"backfield/osc"
)

const (
	probeTime     = 400 * time.Millisecond // how long a decision waits for more values
	askEvery      = 200 * time.Millisecond // from one question about a row in doubt to the next
	doubtLasts    = 10 * time.Second       // without an answer in that time, the row is sent again
	agreeing      = 2                      // this many answers with the same other value make a row manual
	restartStrays = 3                      // this many values differ at once: nobody moves so many by hand
	recent        = 3 * time.Second        // values that changed within this time changed at once
)

// valueDoubt is a row that the mixer had confirmed, and of which it then said another value.
type valueDoubt struct {
	said    osc.Arg   // the other value
	answers int       // how often in a row the mixer has answered with it
	counted time.Time // when the last question that was answered was asked
	since   time.Time
}

// doubts are the rows in doubt, before it is decided whether someone moved them or the mixer has restarted.
type doubts struct {
	rows     map[int]*valueDoubt
	strays   map[int]time.Time // when a row was last heard with a value that is neither the one sent nor the one before
	crossed  map[int]time.Time // when a row in doubt was last heard with the value sent again, without being asked
	decideAt time.Time
	probedAt time.Time // when every channel was last asked
}

// clear drops all doubts.
func (d *doubts) clear() {
	clear(d.rows)
	clear(d.strays)
	clear(d.crossed)
}

// doubt takes another value than the mixer confirmed before. A mixer that can be asked is asked: one wrong message
// moves nothing. Of any other mixer a value that nobody asked for is believed, unless many come at once.
func (f *Feed) doubt(i int, now time.Time) {
	s := &f.slots[i]
	s.Confirmed = false
	d := &valueDoubt{said: s.said, counted: s.askedAt, since: now}
	if len(f.doubts.rows) == 0 {
		f.doubts.decideAt = now.Add(probeTime)
	}
	if f.mixer.Query == nil {
		f.doubts.rows[i], f.doubts.strays[i] = d, now
		return
	}
	channel := f.table.Place(i).Channel
	inDoubt := func(row int) bool { return f.doubts.rows[row] != nil }
	if !slices.ContainsFunc(f.table.ChannelRows(channel), inDoubt) {
		f.probe(channel, now)
	}
	f.doubts.rows[i], f.doubts.strays[i] = d, now
}

// confirm ends the doubt about a row: the mixer has said the value sent. One that cannot be asked says so only when it is
// sent that value, which this run does not do while it doubts: another value and this run's crossed on their way.
func (f *Feed) confirm(i int, now time.Time) {
	if f.doubts.rows[i] != nil && f.mixer.Query == nil {
		f.doubts.crossed[i] = now
	}
	delete(f.doubts.rows, i)
}

// answer takes another value of a row that is in doubt already. One answer to each question counts.
func (f *Feed) answer(i int, now time.Time) {
	s, d := &f.slots[i], f.doubts.rows[i]
	f.doubts.strays[i] = now
	if !s.said.Same(d.said, f.mixer.EchoTolerance(0)) {
		d.said, d.answers = s.said, 0
	}
	if s.askedAt.After(d.counted) {
		d.answers++
		d.counted = s.askedAt
	}
}

// probe asks for all values of a channel. Now and then it also asks for some of every other channel, to see whether only
// this channel was moved or the mixer has restarted.
func (f *Feed) probe(channel int, now time.Time) {
	all := now.Sub(f.doubts.probedAt) >= recent
	if all {
		f.doubts.probedAt = now
	}
	for i := range f.slots {
		place := f.table.Place(i)
		if place.Channel == channel || all && (place.Param == cue.ParamDelay || place.Param == cue.ParamPan) {
			f.ask(i, now)
		}
	}
}

// ask puts a question about a row before everything else.
func (f *Feed) ask(i int, now time.Time) {
	f.slots[i].askedAt = now
	f.lag.Drop(i)
	f.first = append(f.first, f.question(i))
}

// decide makes rows manual whose other value the mixer has answered twice, or finds that the mixer has restarted. One or
// two values were moved by hand. So were any number of mutes and levels, since a group at the mixer can move them. More
// values at once, with one among them that no group can move, are a restart. So are many values that go back and forth.
func (f *Feed) decide(now time.Time) {
	if f.goBackAndForth(now) {
		f.restart(now)
		return
	}
	if len(f.doubts.rows) == 0 || now.Before(f.doubts.decideAt) {
		return
	}
	if f.hasRestarted(now) {
		f.restart(now)
		return
	}
	f.doubts.decideAt = now.Add(askEvery)
	for _, i := range slices.Sorted(maps.Keys(f.doubts.rows)) {
		switch d := f.doubts.rows[i]; {
		case f.mixer.Query == nil:
			f.leave(i, now)
		case d.answers >= agreeing:
			f.leave(i, now)
		case now.Sub(d.since) >= doubtLasts && d.answers == 0:
			delete(f.doubts.rows, i)
		case f.slots[i].askedAt.Equal(d.counted) || now.Sub(f.slots[i].askedAt) >= askEvery:
			f.ask(i, now)
		}
	}
	if len(f.doubts.rows) == 0 {
		maps.DeleteFunc(f.doubts.strays, func(_ int, at time.Time) bool {
			return f.mixer.Query != nil || now.Sub(at) > recent
		})
	}
}

// unhear takes what the mixer has said as old.
func (f *Feed) unhear() {
	for i := range f.slots {
		f.slots[i].said = osc.Arg{}
	}
}
