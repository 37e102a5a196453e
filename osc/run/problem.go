package run

import (
	"slices"
	"time"

	"backfield/osc/journal"
)

// shownProblem is something that the operator must see until it is answered.
type shownProblem struct {
	text     string
	at       time.Time
	answered func(now time.Time) bool // nil for one that stays until there are mostProblems newer ones
}

const (
	mostProblems = 4                // that are kept
	newsShown    = 10 * time.Second // how long good news is shown
)

// over reports whether a problem need not be shown any more.
func (p shownProblem) over(now time.Time) bool { return p.answered != nil && p.answered(now) }

// report shows a problem until it is answered, and records it in the journal.
func (e *Engine) report(entry journal.Entry, answered func(now time.Time) bool) {
	e.problems = slices.DeleteFunc(e.problems, func(p shownProblem) bool {
		return p.over(entry.At) || p.text == entry.Text
	})
	e.problems = append(e.problems, shownProblem{entry.Text, entry.At, answered})
	e.problems = e.problems[max(len(e.problems)-mostProblems, 0):]
	e.record(entry)
}

// lastProblem is the latest problem that is not answered, and how long ago it was reported, in seconds.
func (e *Engine) lastProblem(now time.Time) (text string, agoS float64) {
	for _, p := range slices.Backward(e.problems) {
		if !p.over(now) {
			return p.text, now.Sub(p.at).Seconds()
		}
	}
	return "", 0
}

// ReportProblem shows a problem to the operator and records it in the journal.
func (e *Engine) ReportProblem(text string, now time.Time) {
	e.report(journal.Entry{At: now, Kind: "problem", Text: text}, nil)
}

// reportNews shows the operator for a while that something is well again, and records it in the journal.
func (e *Engine) reportNews(text string, now time.Time) {
	old := func(later time.Time) bool { return later.Sub(now) >= newsShown }
	e.report(journal.Entry{At: now, Kind: "problem", Text: text}, old)
}

// reportChange reports what has changed the state that a run resumes from, until that is answered.
func (e *Engine) reportChange(text string, now time.Time, answered func(now time.Time) bool) {
	state := e.State()
	e.report(journal.Entry{At: now, Kind: "problem", State: &state, Text: text}, answered)
}

// ReportNotice shows the operator what others did who have no say in the run, and records it in the journal. It takes the
// place of the last notice, never of a problem.
func (e *Engine) ReportNotice(text string, now time.Time) {
	e.notice, e.noticeAt = text, now
	e.record(journal.Entry{At: now, Kind: "problem", Text: text})
}
