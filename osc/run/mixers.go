package run

import (
	"fmt"
	"time"

	"backfield/osc"
	"backfield/osc/feed"
	"backfield/osc/journal"
)

// What happens at the mixers, numbered as in Options.To.

// Take returns what may be sent to a mixer now. It is valid until the next Take. Passed or Failed must be called with
// what became of it.
func (e *Engine) Take(mixer int, now time.Time) []feed.Outgoing { return e.feeds[mixer].Take(now) }

// Linked says that the link to a mixer is open. Everything is sent there.
func (e *Engine) LinkUp(mixer int, now time.Time) { e.feeds[mixer].LinkUp(now) }

// Cut says that the link to a mixer is closed, and why. It stays so until Linked.
func (e *Engine) LinkDown(mixer int, err error, now time.Time) { e.feeds[mixer].LinkDown(err, now) }

// Passed says that what Take gave has gone out.
func (e *Engine) Sent(mixer int, now time.Time) { e.feeds[mixer].Sent(now) }

// Failed says that messages could not be sent, and why; they are sent again.
func (e *Engine) SendFailed(mixer int, list []feed.Outgoing, err error, now time.Time) {
	e.feeds[mixer].SendFailed(list, err, now)
}

// Hopeless says that a message can never be sent, and why. It is given up, since it would fail each time.
func (e *Engine) Unsendable(mixer int, m osc.Message, err error, now time.Time) {
	e.feeds[mixer].Unsendable(m, err, now)
}

// Heard takes a message from a mixer.
func (e *Engine) Heard(mixer int, m osc.Message, now time.Time) { e.feeds[mixer].Heard(m, now) }

// reports is what the feed of a mixer reports to: the journal and the operator.
func (e *Engine) reports(to string) feed.Reports {
	r := feed.Reports{
		Problem: e.ReportProblem,
		Manual: func(channel int, what string, now time.Time) {
			state := e.State() // a run that is resumed leaves it alone, too
			text := fmt.Sprintf(
				"%s is in hand at %s, and left alone until it is released: %s", e.who(channel), to, what,
			)
			e.report(journal.Entry{At: now, Kind: "problem", State: &state, Text: text})
		},
	}
	if e.o.Record != nil {
		r.Sent = func(messages []string, now time.Time) {
			e.record(journal.Entry{At: now, Kind: "sent", Mixer: to, Sent: messages})
		}
	}
	return r
}
