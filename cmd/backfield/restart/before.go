package restart

import (
	"fmt"
	"slices"
	"strconv"
	"time"

	"backfield/cmd/backfield/journalfile"
	"backfield/osc/journal"
	"backfield/osc/run"
)

// sameNight is how long ago the last run may have stopped and still be what the break has interrupted.
const sameNight = 12 * time.Hour

// Before is what the run before the break has left.
type Before struct {
	Step    string        // the cue that it stopped in; empty for none
	Carried []run.Command // swaps and nudges: a dead pack stays dead
	Words   string        // about it, for the operator
}

// ReadBefore finds the run that the break has interrupted, in the newest journal of the show. A rehearsal is none of a
// show's runs, and the other way around.
func ReadBefore(score, title string, rehearsal bool, now time.Time) (b Before) {
	path, err := journalfile.Find(score, title, now)
	if err != nil {
		b.Words = "No run of tonight is known, so no swap or nudge is carried over: type them again."
		return b
	}
	entries, _, err := journalfile.Read(path)
	if err != nil || len(entries) == 0 {
		b.Words = fmt.Sprintf("%s cannot be read, so no swap or nudge is carried over: type them again.", path)
		return b
	}
	last := entries[len(entries)-1]
	if now.Sub(last.At) > sameNight {
		b.Words = fmt.Sprintf("The last run was %s, so nothing of it is carried over.", journalfile.Age(last, now))
		return b
	}
	if start, ok := journal.LastStart(entries); ok && start.Rehearsal != rehearsal {
		b.Words = map[bool]string{
			true:  "The last run was no rehearsal, so nothing of it is carried over.",
			false: "The last run was a rehearsal, so nothing of it is carried over.",
		}[rehearsal]
		return b
	}
	state, _ := journal.Last(entries)
	b.Step = state.Step
	at := "before the first cue"
	if b.Step != "" {
		at = "in cue " + b.Step
	}
	b.Words = fmt.Sprintf("The last run stopped %s, %s (%s).", at, journalfile.Age(last, now), path)
	for _, s := range state.Swaps {
		b.Carried = append(b.Carried, run.Command{Verb: run.Swap, Name: strconv.Itoa(s.Channel), Channel: s.Spare})
	}
	for _, n := range state.Nudges {
		i := slices.IndexFunc(b.Carried, func(c run.Command) bool { return c.Verb == run.Nudge && c.Name == n.Name })
		if i < 0 {
			b.Carried = append(b.Carried, run.Command{Verb: run.Nudge, Name: n.Name, DB: n.DB})
			continue
		}
		b.Carried[i].DB += n.DB
	}
	b.Carried = slices.DeleteFunc(b.Carried, func(c run.Command) bool { return c.Verb == run.Nudge && c.DB == 0 })
	return b
}
