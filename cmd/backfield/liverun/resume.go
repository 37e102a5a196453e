package liverun

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"backfield/cmd/backfield/journalfile"
	"backfield/cmd/backfield/term"
	"backfield/layout/source"
	"backfield/osc/journal"
	"backfield/osc/run"
)

const (
	// oldAfter is how old a journal may be and still be resumed without a question.
	oldAfter = 30 * time.Minute
	// standsAfter is how long after the last entry the show clock is taken to have gone on: a laptop is started again
	// within this time, and after it nobody knows whether the ensemble still plays.
	standsAfter = 2 * time.Minute
)

// stateAt is the state to resume from at an instant. stands says that the show clock ran and now stands where the journal
// ends.
func stateAt(entries []journal.Entry, now time.Time) (s journal.RunState, stands bool) {
	s, _ = journal.Last(entries)
	last := entries[len(entries)-1].At
	if stands = s.Clock.Running && now.Sub(last) > standsAfter; stands {
		s.Clock, s.Presses = s.Clock.Stopped(last, journal.StoppedByGap), nil
	}
	return s, stands
}

// confirm asks the operator about a journal that may not be the one that is meant. It returns when that was answered.
func (r *LiveRun) confirm(path string, entries []journal.Entry, v run.View, now time.Time) (time.Time, error) {
	doubts := r.doubts(entries, now)
	if len(doubts) == 0 {
		return now, nil
	}
	text := fmt.Sprintf("--resume %s: %s", path, strings.Join(doubts, "; "))
	if r.o.Confirm == nil {
		r.o.Confirm = func(string) (bool, error) { return false, term.ErrNoAnswer }
	}
	yes, err := r.o.Confirm(fmt.Sprintf("%s.\n%s\nResume it?", text, opensWords(v)))
	switch {
	case err != nil:
		return now, wrongJournal("%s. %s. To resume it all the same, add --yes", text, opensWords(v))
	case !yes:
		return now, wrongJournal("--resume %s: not resumed; nothing was sent", path)
	}
	return time.Now(), nil
}

// doubts lists why a journal may not be the one that is meant.
func (r *LiveRun) doubts(entries []journal.Entry, now time.Time) (list []string) {
	last := entries[len(entries)-1]
	if age := now.Sub(last.At); age > oldAfter || age < -journalfile.MostAhead {
		list = append(list, "its last entry was "+journalfile.Age(last, now))
	}
	if last.Kind == "end" {
		list = append(list, fmt.Sprintf("that run has %s, %s", last.Text, journalfile.Age(last, now)))
	}
	if slices.ContainsFunc(entries, func(e journal.Entry) bool { return e.Linked }) {
		list = append(list, otherMayRun)
	}
	start, ok := journal.LastStart(entries)
	if !ok || start.Show == "" { // an older version's, which says neither
		return list
	}
	switch {
	case start.Rehearsal && !r.o.Rehearsal:
		list = append(list, "it is the journal of a rehearsal")
	case !start.Rehearsal && r.o.Rehearsal:
		list = append(list, "it is not the journal of a rehearsal, and a rehearsal would go on with it")
	}
	if start.Show != r.showMark() {
		list = append(list, "the show or its mixer.toml has changed since")
	}
	return list
}

// otherMayRun is the doubt about a journal that only one of two laptops has written: what the other has done since is not
// in it, and nobody asks that one, since it calls an address and a key that are no longer.
const otherMayRun = "another laptop was connected to this run, and may run the show now. LOOK AT IT. If it sends, do " +
	"not resume here: the two would fight over the mics. To have this laptop stand by for it, wait for a break. Then " +
	"end the run there, start it there with --resume --standby-at 0.0.0.0:9200, and here with --standby and its address"

// opensWords says what comes back open. It may be the last that is read before it is heard.
func opensWords(v run.View) string {
	if len(v.Open) == 0 {
		return "It opens no mic"
	}
	return "TAKE THE MASTER DOWN FIRST: opens " + source.Count(float64(len(v.Open)), "mic")
}

// standingWords says where the show clock stands, and how it runs again.
func standingWords(v run.View, age string) string {
	return fmt.Sprintf("show clock stopped at count %d:%.0f, where it was %s: start (s s) runs it from there, "+
		"go (Space) from the next cue", v.Now.Movement, v.Now.WholeCount(), age)
}
