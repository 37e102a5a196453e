package liverun

import (
	"fmt"
	"path/filepath"
	"strings"

	"backfield/cmd/backfield/journalfile"
	"backfield/osc/journal"
)

// alone is an error if another run of this show is going on, other than one that writes the journal own: a mixer would
// have two writers. A rehearsal has a mixer of its own, and a standby is meant to run beside the first laptop.
func (r *LiveRun) alone(own string) error {
	if r.o.Beside || r.o.Rehearsal || r.o.Pair.FirstAt != "" {
		return nil
	}
	if other := OtherRun(r.o.Score, r.show.Show.Title, own); other != "" {
		return wrongJournal("ANOTHER RUN OF THIS SHOW IS GOING ON, and two runs at one mixer fight: this one has not "+
			"started.\n%s\nTo have a second laptop ready instead: backfield help standby\n"+
			"If you know that the other run sends nothing, add --beside", other)
	}
	return nil
}

// OtherRun says which run of a show is going on that may send to its mixer, other than one that writes the journal own,
// and how to reach it; empty for none.
func OtherRun(score, title, own string) string {
	for _, path := range journalfile.Live(score, title) {
		if own != "" && journalfile.Same(path, own) {
			continue
		}
		if start, _, _ := writer(path); start.Rehearsal {
			continue
		}
		if real, err := filepath.EvalSymlinks(path); err == nil {
			path = real
		}
		return writerOf(path)
	}
	return ""
}

// writer is the last start in a journal, and where its run can be reached. ok is false if it cannot be read.
func writer(path string) (start journal.Entry, reach []string, ok bool) {
	entries, _, err := journalfile.Read(path)
	if err != nil {
		return start, nil, false
	}
	for _, e := range entries {
		switch {
		case e.Kind == "start":
			start, reach, ok = e, nil, true
		case e.Reach != nil:
			reach = e.Reach
		}
	}
	return start, reach, ok
}

// writerOf says which run writes a journal, where it can be reached, and how to take over from it.
func writerOf(path string) string {
	text := "It writes " + path
	start, reach, ok := writer(path)
	if !ok || start.PID == 0 {
		return text
	}
	text = fmt.Sprintf("It is process %d on %s, and writes %s.", start.PID, start.Host, path)
	if len(reach) > 0 {
		text += "\nReach it " + strings.Join(reach, ", or ") + "."
	}
	return text + fmt.Sprintf("\nTo take over from it: kill %d, then backfield run SHOW --resume=%s --yes", start.PID,
		path)
}
