package standby

import (
	"fmt"
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
	Ask       string  `json:"ask"` // what the operator has to decide or know; empty for nothing
}

// View looks at the laptop.
func (l *Laptop) View(now time.Time) LaptopView {
	v := LaptopView{
		Mode: l.mode, Term: l.term, Partner: l.partner, Linked: l.linked, HeardAgoS: -1, Entries: l.log.n(), Ask: l.why,
	}
	if l.partner {
		v.HeardAgoS = now.Sub(l.heardAt).Seconds()
	}
	if !l.mine {
		v.Missing = max(l.other.N-l.log.n(), 0)
	}
	if !l.promised.IsZero() && now.Sub(l.promised) > time.Second {
		v.Ask = l.otherStart() + " asked to take over, and has not begun. Press to go on here"
	}
	v.Headline = l.headline(v, now)
	return v
}

func (l *Laptop) headline(v LaptopView, now time.Time) string {
	other, start := l.otherName(), l.otherStart()
	switch l.mode {
	case Asking:
		return "TAKING OVER: waiting for " + other + " to go silent"
	case Listening:
		return "LISTENING at the mixers, whether " + other + " sends"
	case Checking:
		return "CHECKING with " + other + " who sends: this laptop was stopped for a moment"
	case Stopped:
		return "STOPPED: this laptop sends nothing. The operator decides"
	case Watching:
		head := "STANDBY: this laptop sends nothing. "
		switch calm := l.partner && !l.left && !l.quietLink(now); {
		case calm && l.silenced != "":
			return "STANDBY: " + l.silenced
		case !l.partner:
			return head + "Not connected to " + other
		case l.left:
			return head + start + " has quit"
		case !l.linked:
			return head + fmt.Sprintf("NO LINK to %s for %.0f s", other, v.HeardAgoS)
		case l.quietLink(now):
			return head + fmt.Sprintf("%s SILENT for %.1f s", start, v.HeardAgoS)
		}
		return head + fmt.Sprintf("%s alive, %.1f s ago", start, v.HeardAgoS)
	}
	switch {
	case !l.partner:
		return ""
	case l.left:
		return start + " has quit: no standby"
	case l.quietLink(now):
		return fmt.Sprintf("This laptop sends; NO LINK to %s for %.0f s", other, v.HeardAgoS)
	}
	return "This laptop sends; " + other + " stands by"
}
