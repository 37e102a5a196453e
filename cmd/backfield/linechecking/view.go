package linechecking

import (
	"fmt"
	"strings"
	"time"

	"backfield/osc/feed"
	"backfield/osc/linecheck"
	"backfield/osc/run"
)

// CheckScreen is a line check at one instant, in the words that every screen shows.
type CheckScreen struct {
	linecheck.CheckView
	Title   string   `json:"title"`
	State   string   `json:"state"`   // whether the channel is open, such as "OPEN at -20.0 dB, alone"
	Alarm   string   `json:"alarm"`   // what to look at first; empty for nothing
	Outside string   `json:"outside"` // channels that are open and not in the show; empty for none
	Players []string `json:"players"` // whom a wrong player may be
}

// View returns the check as it is now.
func (x *Session) View() CheckScreen {
	x.mu.Lock()
	defer x.mu.Unlock()
	s := CheckScreen{CheckView: x.check.View(x.now()), Title: x.show.Show.Title, Players: x.check.Players()}
	s.State, s.Alarm, s.Outside = x.stateWords(s.CheckView), x.wrong, outsideWords(x.seen)
	if s.Alarm == "" && x.now().Sub(x.began) > patience { // connecting takes a moment
		s.Alarm = s.Problem
	}
	return s
}

// patience is how long a mixer may take before anybody is told that it is waited for.
const patience = time.Second

// stateWords says whether the channel at hand is open.
func (x *Session) stateWords(v linecheck.CheckView) string {
	confirms := len(x.seen.Mixers) > 0
	for _, d := range x.seen.Mixers {
		confirms = confirms && d.Confirms
	}
	sure := ""
	if !confirms {
		sure = " (sent; the mixer cannot confirm)"
	}
	switch v.Phase {
	case linecheck.Open:
		return fmt.Sprintf("OPEN at %s, alone%s", x.levelWords(v.Pack.Channel), sure)
	case linecheck.Opening:
		return "opening: the mixer has not confirmed it yet"
	case linecheck.Held:
		return "CLOSED, every mic; open goes on" + sure
	case linecheck.Done:
		return "every mic is closed" + sure
	}
	return "closing: the mixer has not confirmed it yet"
}

// levelWords is the level of a channel as the mixer has it, or as it was sent.
func (x *Session) levelWords(channel int) string {
	dB := levelOf(x.show.Mixer, channel, x.o.LevelDB)
	for _, r := range x.seen.Rows {
		if r.Channel == channel && r.LevelKnown {
			dB = float64(r.LevelDB)
		}
	}
	return fmt.Sprintf("%.1f dB", dB+0)
}

// outsideWords names the channels that are open at a mixer and that the show does not use: one may be what is heard.
func outsideWords(v run.View) string {
	var list []string
	for _, r := range v.Bench {
		if r.Sign == feed.ChannelOutside {
			list = append(list, fmt.Sprint(r.Channel))
		}
	}
	if list == nil {
		return ""
	}
	return fmt.Sprintf("OPEN AT THE MIXER, not in the show: channel %s. You may hear that one",
		strings.Join(list, ", "))
}
