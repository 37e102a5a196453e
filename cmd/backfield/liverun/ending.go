package liverun

import (
	"context"
	"fmt"
	"os"
	"strings"
	"time"

	"backfield/osc/journal"
	"backfield/osc/run"
)

// lastSend is how long the end of a run waits for the mixers.
const lastSend = 2 * time.Second

// Do carries out a command of the operator. It notes that the operator has ended the run.
func (r *LiveRun) Do(c run.Command) (said string, err error) {
	said, err = r.Driver.Do(c)
	if err == nil && c.Verb == run.Quit {
		r.quit.Store(true)
	}
	return said, err
}

// View returns the state of the run; ok is false after its end.
func (r *LiveRun) View() (v run.View, ok bool) { return r.Driver.View() }

// Abandoned reports whether nobody has ended the run, but the terminal that it was operated from is gone.
func (r *LiveRun) Abandoned(s *Signals) bool {
	return !r.quit.Load() && s.End.Err() == nil && s.TerminalGone()
}

// GoOn continues the run without a screen, until a context ends or the run does. The journal and the page say where the
// run can be reached.
func (r *LiveRun) GoOn(ctx context.Context) {
	r.Driver.ReportProblem("the terminal is gone (closed, or its connection lost): the run goes on without a screen. " +
		r.whereToReach())
	for ctx.Err() == nil {
		if _, ok := r.Driver.View(); !ok {
			return
		}
		select {
		case <-ctx.Done():
		case <-time.After(100 * time.Millisecond):
		}
	}
}

// whereToReach says how to operate a run that has no screen.
func (r *LiveRun) whereToReach() string {
	text := ""
	if len(r.reach) > 0 {
		text = "Reach it " + strings.Join(r.reach, ", or ") + ". "
	}
	return text + fmt.Sprintf("To have a screen again, end it with \"kill %d\", then type: "+
		"backfield run SHOW --resume=%s --yes", os.Getpid(), r.JournalPath())
}

// Finish sends the end values of all fades, so that no level stays partway, and reports each mixer that may not have
// received them.
func (r *LiveRun) Finish() {
	if !r.sends() {
		return // the mixers are the other laptop's
	}
	for _, d := range r.Driver.Finish(lastSend) {
		r.notices.Say(fmt.Sprintf("a fade was under way at the end: levels MAY BE PARTWAY at %s: check the mixer (%s)",
			d.To, d))
	}
}

// CloseMics closes every worn mic, and reports each mixer that may not have received that within two seconds.
func (r *LiveRun) CloseMics() {
	if !r.sends() {
		return // the mixers are the other laptop's
	}
	for _, d := range r.Driver.Close(lastSend) {
		r.notices.Say(fmt.Sprintf("--close-on-exit: mics MAY STILL BE OPEN at %s: check the mixer (%s)", d.To, d))
	}
}

// End ends the run; by is the signal that did it, "" for none. It returns what the operator has changed in it, a line
// for each kind.
func (r *LiveRun) End(by string) []string {
	if r.pair != nil {
		r.pair.Quit()
	}
	r.halt()
	text := "ended"
	if by != "" {
		text += " by " + by
	}
	r.journal.Write(journal.Entry{At: time.Now(), Kind: "end", Text: text})
	v := r.Driver.FinalView()
	var list []string
	for _, x := range []struct {
		what string
		list []string
	}{{"nudged in this run", v.Nudges}, {"still held", v.Holds}, {"swapped", v.Swaps}} {
		if len(x.list) > 0 {
			list = append(list, fmt.Sprintf("%s: %s", x.what, strings.Join(x.list, ", ")))
		}
	}
	return list
}
