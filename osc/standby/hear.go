package standby

import "time"

// What the mixers show of the other laptop, where the link does not.

// Heard says that a mixer has said something; foreign is the address of a value that another program sent, or that was
// moved at the mixer, empty for none. own says that it may be an echo of this laptop's own that came late or twice: that
// stops no laptop that sends, but one that listens before it sends takes it as the other's. One that asks after a freeze
// hears what came meanwhile: values that are not its own are the other's, which has taken over.
func (l *Laptop) Heard(mixer int, foreign string, own bool, now time.Time) {
	l.notice(now)
	switch l.mode {
	case Listening:
		if mixer < len(l.listening.heard) {
			l.listening.heard[mixer] = true
		}
		l.listening.foreign = l.listening.foreign || foreign != ""
	case Checking:
		l.ousted = l.ousted || foreign != "" && !own
	case Sending, Pausing:
		if foreign != "" && !own && l.alone(now) {
			l.stray(foreign, now)
		}
	}
}

// alone reports whether the other laptop may be sending without this one reading of it on the link.
func (l *Laptop) alone(now time.Time) bool { return l.partner && !l.left && l.quietLink(now) }

// passesOver reports whether this laptop goes on although it hears another program, since the operator insisted. That
// lasts until the other has been silent for a while, or can be asked.
func (l *Laptop) passesOver(now time.Time) bool {
	if l.forcedAt.IsZero() || now.Sub(l.forcedAt) > confirmTo {
		return false
	}
	l.forcedAt = now
	return true
}

// stray judges a value of another program. One may have been moved at the mixer; several at once are another laptop.
func (l *Laptop) stray(address string, now time.Time) {
	if l.passesOver(now) {
		return
	}
	for a, at := range l.strays {
		if now.Sub(at) > strayFor {
			delete(l.strays, a)
		}
	}
	_, known := l.strays[address]
	l.strays[address] = now
	switch {
	case len(l.strays) >= manyStray:
		l.stop(now)
	case !known:
		l.mode, l.until = Pausing, now.Add(pauseFor)
	}
}

// OtherWriter says that a mixer is being sent to by another program, as its feed has found.
func (l *Laptop) OtherWriter(now time.Time) {
	l.notice(now)
	if l.mode.MaySend() && l.alone(now) && !l.passesOver(now) {
		l.stop(now)
	}
}

func (l *Laptop) stop(now time.Time) {
	l.mode, l.listening.purpose, l.whyUntil, l.stoppedAt = Stopped, byKey, time.Time{}, now
	if l.insist = !l.triedAt.IsZero() && now.Sub(l.triedAt) <= triedFor; l.insist {
		l.why = toDecide{
			"After the takeover, another program was heard still sending. Stop " + l.otherName() + " first",
			"takes over all the same",
		}
		return
	}
	l.why = toDecide{"Is it " + l.otherName() + "? Only one laptop may go on", "goes on here"}
}

// Probe reports whether each mixer is to be sent or asked one value now, so that it says something to this laptop. silent
// is the mixers that have said nothing yet.
func (l *Laptop) Probe(now time.Time) (silent []int) {
	if l.mode != Listening || now.Before(l.listening.probeAt) {
		return nil
	}
	l.listening.probeAt = now.Add(beaconEvery)
	for i, heard := range l.listening.heard {
		if !heard {
			silent = append(silent, i)
		}
	}
	return silent
}

// Beacon reports whether this laptop is to send each mixer a value again now, so that the other hears it.
func (l *Laptop) Beacon(now time.Time) bool {
	if l.mode != Sending || !l.o.Echo || now.Before(l.beaconAt) || !l.alone(now) {
		return false
	}
	l.beaconAt = now.Add(beaconEvery)
	return true
}

// GivenUp reports whether this laptop does not send, and will not go on with what it was sending: what it does next begins
// from State.
func (l *Laptop) GivenUp() bool {
	return l.mode == Watching || l.mode == Stopped || l.mode == Asking || l.mode == Listening && !l.mine
}
