package standby

import (
	"fmt"
	"time"
)

// Who sends: what a laptop does about the key, about silence and about a higher term.

// next is the term that this laptop takes when it begins to send.
func (l *Laptop) next() int {
	t := l.term + 1
	if odd := t%2 == 1; odd != l.o.First {
		t++
	}
	return t
}

// watchRival sees that the other laptop, which may have sent at the same time as this one, is silent.
func (l *Laptop) watchRival(beat PairLine) {
	switch {
	case !l.mine:
		l.unsure, l.rival = false, false
	case beat.Sending && beat.Term < l.term:
		l.unsure, l.rival = true, true
	case l.unsure && !beat.Sending:
		l.regained, l.fought = true, l.rival
		l.unsure, l.rival = false, false
	}
}

// Regained reports, once, that the other laptop is known to be silent after it may have sent to the mixers at the same
// time as this one: everything is to be sent again. fought reports that it did send: then channels that seem to have been
// moved at the mixers are not to be believed. A laptop that sends nothing for the moment is told when it sends again.
func (l *Laptop) Regained() (again, fought bool) {
	if l.mode != Sending {
		return false, false
	}
	again, l.regained = l.regained, false
	return again, l.fought
}

// goOn ends the check after a freeze, if the other says that it does not send.
func (l *Laptop) goOn(reply PairLine) {
	if l.mine && !reply.Sending && reply.Term <= l.term {
		l.mode, l.why = Sending, toDecide{}
	}
}

// outranked goes silent for a higher term.
func (l *Laptop) outranked(line PairLine, now time.Time) {
	was := l.mode
	l.silence(line)
	l.term, l.mine, l.mode, l.wish, l.askedAt, l.why = line.Term, false, Watching, 0, time.Time{}, toDecide{}
	l.promised = time.Time{}
	if line.Kind == TakeOver {
		l.promised = now
	}
	if was != Watching || l.o.First {
		l.have() // the journal goes on there
	}
}

// silence notes why this laptop is silenced by a line, if it sent and did not consent.
func (l *Laptop) silence(line PairLine) {
	switch {
	case !l.mine:
	case l.mode == Checking || l.mode == Listening || l.mode == Stopped && l.listening.purpose == afterFreeze:
		l.silenced = fmt.Sprintf("THIS LAPTOP FROZE for %.1f s: %s sends now", l.stall.Seconds(), l.otherName())
	case line.Kind != TakeOver:
		l.silenced = "THE LINK WAS CUT: " + l.otherName() + " took over and sends"
	}
}

// notice sees whether this laptop was stopped for a while: then what it knows is old.
func (l *Laptop) notice(now time.Time) {
	gap := max(now.Sub(l.lastAt), now.Round(0).Sub(l.lastAt.Round(0))) // asleep, only the wall's clock goes on
	if gap > 0 {
		l.lastAt = now
	}
	if gap <= frozen {
		return
	}
	l.heardAt, l.deaf = now, 0
	switch l.mode {
	case Sending, Pausing:
		if l.partner && !l.left {
			l.check(gap, now)
		}
	case Checking, Listening, Asking:
		if l.mine {
			l.check(gap, now)
			return
		}
		l.mode, l.askedAt = Watching, time.Time{}
		l.note("This laptop was stopped for a moment", "takes over", now)
	}
}

// check asks the other laptop who sends.
func (l *Laptop) check(gap time.Duration, now time.Time) {
	l.stall, l.ousted = gap, false
	if !l.linked {
		l.listen(afterFreeze, now)
		return
	}
	l.ask(now)
}

func (l *Laptop) ask(now time.Time) {
	l.mode, l.until, l.listening.purpose = Checking, now.Add(ackWait), afterFreeze
	l.question++
	l.push(PairLine{Kind: Ask, N: l.question})
}

// listen listens at the mixers, or gives up where they say nothing.
func (l *Laptop) listen(p purpose, now time.Time) {
	if l.o.Echo && l.o.Mixers > 0 {
		l.mode, l.until = Listening, now.Add(listenFor)
		l.listening = listening{purpose: p, heard: make([]bool, l.o.Mixers), probeAt: now,
			foreign: p == afterFreeze && l.ousted}
		return
	}
	l.listening.purpose = p
	l.undecided("may still send", now)
}

// Acknowledge notes that the operator knows that the other laptop is silent, until it is back.
func (l *Laptop) Acknowledge() { l.acked = true }

// unproven goes on where the other laptop has not answered.
func (l *Laptop) unproven(now time.Time) {
	p := byKey
	if l.mode == Checking {
		p = afterFreeze
	}
	l.listen(p, now)
}

// undecided leaves the decision to the operator: whether to take over, or to go on.
func (l *Laptop) undecided(why string, now time.Time) {
	switch l.listening.purpose {
	case byKey:
		l.mode, l.askedAt = Watching, now
		l.note("NOT TAKEN OVER: "+l.otherName()+" "+why+". Switch it off", "then takes over", now)
	case bySilence:
		l.mode, l.retryAt = Watching, now.Add(l.o.Automatic)
		l.note("No automatic takeover: "+l.otherName()+" "+why, "", now)
	case afterFreeze:
		l.mode, l.whyUntil = Stopped, time.Time{}
		l.why = toDecide{l.otherStart() + " " + why + ". Make sure that it does not", "then goes on here"}
	}
}

// toDecide is what the operator has to decide or know, and what the key that takes over does about it, "" for nothing. Each
// screen names the key as it is there.
type toDecide struct{ text, press string }

// note is what the operator should know for as long as a second press counts.
func (l *Laptop) note(text, press string, now time.Time) {
	l.why, l.whyUntil = toDecide{text, press}, now.Add(confirmTo)
}

// otherStart is otherName at the start of a sentence.
func (l *Laptop) otherStart() string { return "L" + l.otherName()[1:] }

func (l *Laptop) otherName() string {
	if l.o.First {
		return "laptop 2"
	}
	return "laptop 1"
}

// Press is the operator's key: it takes over, confirms that, or has a stopped laptop go on.
func (l *Laptop) Press(now time.Time) {
	l.Advance(now)
	switch l.mode {
	case Stopped:
		if l.insist && now.Sub(l.stoppedAt) < confirmFrom {
			return
		}
		if l.triedAt = now; l.insist {
			l.forcedAt = now
		}
		l.insist = false
		l.begin(l.next(), now)
	case Watching:
		since := now.Sub(l.askedAt)
		switch {
		case !l.hasLog && !l.o.First:
			l.note("Nothing of the run has come from "+l.otherName()+" yet: there is nothing to take over", "", now)
		case l.left:
			l.begin(l.next(), now)
		case !l.askedAt.IsZero() && since < confirmFrom:
		case !l.askedAt.IsZero() && since <= confirmTo && l.quietLink(now):
			l.begin(max(l.next(), l.wish), now)
		default:
			l.takeOver(now)
		}
	}
}

func (l *Laptop) takeOver(now time.Time) {
	l.wish, l.askedAt, l.why = l.next(), time.Time{}, toDecide{}
	if !l.linked {
		l.listen(byKey, now)
		return
	}
	l.askSilence(now)
}

func (l *Laptop) askSilence(now time.Time) {
	l.mode, l.until = Asking, now.Add(ackWait)
	l.push(PairLine{Kind: TakeOver, Term: l.wish})
}

// begin sends from now on.
func (l *Laptop) begin(term int, now time.Time) {
	l.mode, l.term, l.mine, l.wish = Sending, term, true, 0
	l.askedAt, l.why, l.promised, l.silenced = time.Time{}, toDecide{}, time.Time{}, ""
	l.unsure, l.rival, l.regained, l.acked = true, false, false, false
	clear(l.strays)
	l.beaconAt = now
	l.beat(now)
	l.sync()
}

// Advance does what is due.
func (l *Laptop) Advance(now time.Time) {
	l.notice(now)
	if l.mode == Watching && now.After(l.whyUntil) {
		l.why = toDecide{}
	}
	due := !now.Before(l.until)
	switch {
	case l.mode == Pausing && due:
		l.mode = Sending
	case (l.mode == Asking || l.mode == Checking) && due:
		l.unproven(now)
	case l.mode == Listening && l.listening.purpose == bySilence && !l.quietLink(now):
		l.mode, l.why = Watching, toDecide{}
	case l.mode == Listening && due:
		l.listened(now)
	case l.mode == Watching && l.automatic(now):
		l.wish = 0
		l.listen(bySilence, now)
	}
	if l.linked && !now.Before(l.beatAt) {
		l.beat(now)
	}
}

// automatic reports whether it is time to listen for an automatic takeover, which ends after that.
func (l *Laptop) automatic(now time.Time) bool {
	asking := !l.askedAt.IsZero() && now.Sub(l.askedAt) <= confirmTo
	if l.o.Automatic == 0 || !l.o.Echo || !l.hasLog || l.left || asking {
		return false
	}
	return now.Sub(l.heardAt) >= max(l.o.Automatic-listenFor, quiet) && !now.Before(l.retryAt)
}

// listened ends the listening.
func (l *Laptop) listened(now time.Time) {
	all := true
	for _, heard := range l.listening.heard {
		all = all && heard
	}
	switch {
	case l.listening.foreign:
		l.undecided("is sending, or somebody at the mixers is", now)
	case !all:
		l.undecided("may still send (not every mixer answers)", now)
	case l.listening.purpose == afterFreeze:
		l.mode, l.why = Sending, toDecide{}
	default:
		l.begin(max(l.next(), l.wish), now)
	}
}

// Sends reports whether this laptop may send to the mixers now.
func (l *Laptop) Sends(now time.Time) bool {
	l.notice(now)
	return l.mode == Sending
}
