package standby

import (
	"encoding/json"
	"time"
)

// A laptop that stands by hears no mixer. What the screen shows of the mixers is what the laptop that sends has heard.

const (
	screenEvery = 250 * time.Millisecond
	screenFor   = time.Second // how long what was heard may be shown; after that nothing is known
)

// mixersHeard is what the mixers have said to the laptop that sends.
type mixersHeard struct {
	at     time.Time       // when it is next to be sent
	seen   json.RawMessage // of the other laptop
	seenAt time.Time
}

// ScreenDue reports whether this laptop is to tell the other what the mixers have said, with Show.
func (l *Laptop) ScreenDue(now time.Time) bool {
	return l.linked && l.mine && l.mode == Sending && !now.Before(l.screen.at)
}

// Show sends the other laptop what the mixers have said to this one.
func (l *Laptop) Show(text json.RawMessage, now time.Time) {
	l.screen.at = now.Add(screenEvery)
	l.push(PairLine{Kind: Screen, Screen: text})
}

// Shown is what the mixers have said to the other laptop, if it is the one that sends. ok is false if that is not known,
// or too old to be shown.
func (l *Laptop) Shown(now time.Time) (text json.RawMessage, ok bool) {
	return l.screen.seen, l.screen.seen != nil && !l.mine && now.Sub(l.screen.seenAt) <= screenFor
}
