package run

import (
	"fmt"
	"slices"
	"time"

	"backfield/osc"
	"backfield/osc/feed"
	"backfield/osc/journal"
)

// These methods take or report what happens at one mixer. Mixers are numbered as in Options.To.

// Take returns what may be sent to a mixer now. The list is valid until the next Take. Sent or SendFailed must be
// called with the result.
func (e *Engine) Take(mixer int, now time.Time) []feed.Outgoing { return e.feeds[mixer].Take(now) }

// LinkUp reports that the link to a mixer is open. Everything is sent there.
func (e *Engine) LinkUp(mixer int, now time.Time) { e.feeds[mixer].LinkUp(now) }

// LinkDown reports that the link to a mixer is closed, and why. It stays closed until LinkUp.
func (e *Engine) LinkDown(mixer int, err error, now time.Time) { e.feeds[mixer].LinkDown(err, now) }

// Sent reports that what Take returned has gone out.
func (e *Engine) Sent(mixer int, now time.Time) { e.feeds[mixer].Sent(now) }

// SendFailed reports that messages could not be sent, and why. They are sent again.
func (e *Engine) SendFailed(mixer int, list []feed.Outgoing, err error, now time.Time) {
	e.feeds[mixer].SendFailed(list, err, now)
}

// Unsendable reports that a message can never be sent, and why. It would fail each time, so it is not tried again.
func (e *Engine) Unsendable(mixer int, m osc.Message, err error, now time.Time) {
	e.feeds[mixer].Unsendable(m, err, now)
}

// Heard takes a message that a mixer sent.
func (e *Engine) Heard(mixer int, m osc.Message, now time.Time) { e.feeds[mixer].Heard(m, now) }

// reports passes what the feed of a mixer reports on to the journal and the operator.
func (e *Engine) reports(number int, to string) feed.Reports {
	calm := func(now time.Time) bool { return !e.mixerView(e.feeds[number], now).Alarm() }
	r := feed.Reports{
		Problem: e.ReportProblem, News: e.reportNews,
		Silent: func(text string, now time.Time) {
			e.report(journal.Entry{At: now, Kind: "problem", Text: text}, calm)
		},
		Manual: func(channel int, what string, now time.Time) {
			state := e.State() // a resumed run leaves the channel alone too
			end := "until its channel next opens"
			if e.setup.Mixer.ManualUntilRelease {
				end = "until you release it"
			}
			text := fmt.Sprintf("%s was moved at %s: MANUAL %s: %s", e.who(channel), to, end, what)
			// The channel's row says so for as long as it is so: the last problem keeps its place.
			e.record(journal.Entry{At: now, Kind: "problem", State: &state, Text: text})
		},
		Restart: func(text string, now time.Time) { e.reportChange(text, now, calm) }, // nothing is manual any more
		Outside: func(text string, now time.Time) { // unhush is to undo something else
			e.reportChange(text, now, func(time.Time) bool { return len(e.feeds[number].Outside().Open()) == 0 })
		},
	}
	if e.o.Record != nil {
		r.Sent = func(messages []string, now time.Time) {
			e.record(journal.Entry{At: now, Kind: "sent", Mixer: to, Sent: messages})
		}
	}
	return r
}

// Contested reports whether another program sends to one of the mixers.
func (e *Engine) Contested() bool {
	return slices.ContainsFunc(e.feeds, (*feed.Feed).Contested)
}
