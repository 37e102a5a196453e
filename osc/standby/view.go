package standby

import (
	"fmt"
	"strings"
	"time"
)

// LaptopView is what a screen shows of the two laptops at one instant.
type LaptopView struct {
	Mode      Mode    `json:"mode"`
	Term      int     `json:"term"`
	Partner   bool    `json:"partner"` // another laptop has been admitted
	Linked    bool    `json:"linked"`
	HeardAgoS float64 `json:"heard_ago_s"` // since a line last came; -1 for never
	Entries   int     `json:"entries"`     // of the journal
	Missing   int     `json:"missing"`     // entries that the other has written and this laptop has not got
	Headline  string  `json:"headline"`
	Press     string  `json:"press"` // what the key does about it, such as "takes over"; or empty
	Gone      bool    `json:"gone"`  // the headline is the first thing to read: the other is gone, or neither sends
	Ask       string  `json:"ask"`   // what the operator has to decide or know; empty for nothing
	AskPress  string  `json:"ask_press"`
	Alone     bool    `json:"alone"`   // it sends, the other is silent, and the operator has not acknowledged that
	Yielded   bool    `json:"yielded"` // the other took over without being asked to, and is well: nothing to do here
}

// View looks at the laptop.
func (l *Laptop) View(now time.Time) LaptopView {
	v := LaptopView{
		Mode: l.mode, Term: l.term, Partner: l.partner, Linked: l.linked, HeardAgoS: -1, Entries: l.log.n(),
		Ask: l.why.text, AskPress: l.why.press,
	}
	if l.partner {
		v.HeardAgoS = now.Sub(l.heardAt).Seconds()
	}
	if !l.mine {
		v.Missing = max(l.other.N-l.log.n(), 0)
	}
	if !l.promised.IsZero() && now.Sub(l.promised) > time.Second {
		v.Ask, v.AskPress = l.otherStart()+" asked to take over, and has not begun", "goes on here"
	}
	v.Headline, v.Gone = l.headline(v, now)
	if l.why == (toDecide{}) && v.Gone && l.mode == Watching { // else the question says what the key does now
		v.Headline += ". This is " + map[bool]string{true: "laptop 1", false: "laptop 2"}[l.o.First]
		v.Press = "takes over"
	}
	lost := l.partner && !l.left && l.quietLink(now)
	v.Alone = lost && !l.acked && l.mode.MaySend()
	v.Yielded = !v.Gone && l.mode == Watching && l.silenced != ""
	return v
}

// headline says first how this laptop stands, and gone reports whether the operator must look at once.
func (l *Laptop) headline(v LaptopView, now time.Time) (text string, gone bool) {
	other := l.otherName()
	switch l.mode {
	case Asking:
		return "TAKING OVER: waiting for " + other + " to go silent", false
	case Listening:
		return "LISTENING at the mixers, whether " + other + " sends", false
	case Checking:
		return fmt.Sprintf("CHECKING who sends: this laptop was stopped for %.1f s", l.stall.Seconds()), true
	case Stopped:
		if l.listening.purpose == afterFreeze {
			return fmt.Sprintf("THIS LAPTOP SENDS NOTHING: it was stopped for %.1f s", l.stall.Seconds()), true
		}
		return "THIS LAPTOP SENDS NOTHING: another program sends to the mixers", true
	case Watching:
		return l.watching(v, now)
	}
	switch {
	case !l.partner:
		return "", false
	case l.left:
		return "NO STANDBY: " + other + " has quit", false
	case l.quietLink(now) && l.term > 1: // it took over
		return fmt.Sprintf("THIS LAPTOP SENDS NOW: %s is silent for %.0f s", other, v.HeardAgoS), false
	case l.quietLink(now):
		return fmt.Sprintf("NO STANDBY: %s is silent for %.0f s. This laptop sends", other, v.HeardAgoS), false
	}
	return "This laptop sends; " + other + " stands by", false
}

// watching is the headline of a laptop that follows the other.
func (l *Laptop) watching(v LaptopView, now time.Time) (text string, gone bool) {
	const silent = "This laptop sends nothing"
	other := strings.ToUpper(l.otherName())
	switch {
	case !l.partner:
		return "STANDBY, not connected to " + l.otherName() + ". " + silent, false
	case l.left:
		return other + " HAS QUIT", true
	case l.quietLink(now):
		return fmt.Sprintf("%s IS GONE for %.0f s", other, v.HeardAgoS), true
	case l.silenced != "":
		return l.silenced + ". Nothing to do here", false
	}
	return fmt.Sprintf("STANDBY: this laptop sends nothing. %s alive, %.1f s ago", l.otherStart(), v.HeardAgoS), false
}
