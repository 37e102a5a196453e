package journalfile

import (
	"cmp"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"backfield/layout/source"
	"backfield/osc/journal"
)

// Candidate is a journal that could be the one to resume.
type Candidate struct {
	Path  string
	Title string
	Step  string    // the last cue; empty before the first
	Last  time.Time // of its last entry
	Ended bool      // the run ended in good order
	InUse bool      // a run is writing it
	Err   error     // it cannot be read; Last is then when the file changed
}

const (
	// sameNight is how long before the newest journal another one may have stopped and still be the one that is meant.
	sameNight = 12 * time.Hour
	// MostAhead is how far this computer's clock may be behind a journal's without a question.
	MostAhead = time.Minute
)

// Find returns the path of the journal of a show to resume: the newest one, by the times of its entries. If another one
// could be meant, the error lists them: a run of the same night that did not end, or a journal that cannot be read, or
// one with times that have yet to come.
func Find(score, title string, now time.Time) (string, error) {
	list, err := candidates(score, title, func(string) bool { return true })
	if err != nil {
		return "", err
	}
	if len(list) == 0 {
		return "", fmt.Errorf("there is no journal of this show in %s; name one: --resume=FILE", folder(score))
	}
	newest := list[0]
	if newest.Err == nil && newest.Last.Sub(now) <= MostAhead {
		list = slices.DeleteFunc(list, func(c Candidate) bool {
			return c != newest && (c.Ended || newest.Last.Sub(c.Last) > sameNight)
		})
	}
	if len(list) == 1 && newest.Err == nil {
		return newest.Path, nil
	}
	var b strings.Builder
	b.WriteString("--resume: more than one journal could be the one; name it:")
	for _, c := range list[:min(len(list), 9)] {
		fmt.Fprintf(&b, "\n  --resume=%s   %s", c.Path, c.Words(now))
	}
	return "", &Several{b.String()}
}

// Several is the error of Find when more than one journal could be meant. It lists them.
type Several struct{ text string }

func (s *Several) Error() string { return s.text }

// Words says how old a journal is, of which show, and where it ends.
func (c Candidate) Words(now time.Time) string {
	if c.Err != nil {
		return fmt.Sprintf("%s: cannot be read (%v)", age(now.Sub(c.Last)), c.Err)
	}
	step, how := "before the first cue", "not ended"
	if c.Step != "" {
		step = "cue " + c.Step
	}
	switch {
	case c.InUse:
		how = "still running"
	case c.Ended:
		how = "ended"
	}
	return fmt.Sprintf("%s: %q, %s, %s", age(now.Sub(c.Last)), c.Title, step, how)
}

// age is how long ago something was: "5 min ago".
func age(d time.Duration) string {
	if d < 0 {
		return lasting(-d) + " AHEAD of this computer's clock"
	}
	return lasting(d) + " ago"
}

func lasting(d time.Duration) string {
	switch {
	case d < time.Minute:
		return fmt.Sprintf("%.0f s", math.Floor(d.Seconds()))
	case d < time.Hour:
		return fmt.Sprintf("%.0f min", math.Floor(d.Minutes()))
	case d < 48*time.Hour:
		return fmt.Sprintf("%.0f h", math.Floor(d.Hours()))
	}
	return source.Count(math.Floor(d.Hours()/24), "day")
}

// In lists the journals in a folder, or in the journals of a show's folder, newest first. Those without an entry are left
// out.
func In(dir string) (list []Candidate, err error) {
	every := func(string) bool { return true }
	if list, err = journalsIn(dir, "", every); err != nil || len(list) > 0 {
		return list, err
	}
	return candidates(filepath.Join(dir, "show.toml"), "", every)
}

// candidates lists the journals of a show whose paths count, newest first. Journals without an entry are left out.
func candidates(score, title string, counts func(path string) bool) (list []Candidate, err error) {
	return journalsIn(folder(score), title, counts)
}

// journalsIn lists those in a folder. An empty title is that of any show.
func journalsIn(dir, title string, counts func(path string) bool) (list []Candidate, err error) {
	names, err := os.ReadDir(dir)
	if err != nil && !os.IsNotExist(err) {
		return nil, err
	}
	var seen []os.FileInfo
	for _, entry := range names {
		name := filepath.Join(dir, entry.Name())
		if filepath.Ext(name) != ".jsonl" {
			continue
		}
		info, err := os.Stat(name)
		if err != nil || !info.Mode().IsRegular() || info.Size() == 0 || !counts(name) {
			continue
		}
		if slices.ContainsFunc(seen, func(other os.FileInfo) bool { return os.SameFile(other, info) }) {
			continue // announced again after a crash
		}
		seen = append(seen, info)
		c, entries := Candidate{Path: name, Last: info.ModTime()}, []journal.Entry(nil)
		if entries, c.Err = ends(name, info.Size()); c.Err == nil {
			if len(entries) == 0 || TitleOfAnother(entries, title) != "" {
				continue
			}
			c = describe(name, entries)
		}
		list = append(list, c)
	}
	slices.SortFunc(list, func(a, b Candidate) int {
		return cmp.Or(b.Last.Compare(a.Last), strings.Compare(b.Path, a.Path))
	})
	return list, nil
}

// The parts of a journal that say what it is: its start, and the end with the last state.
const (
	headBytes = 64 << 10
	tailBytes = 4 << 20
)

// ends reads the start and the end of a journal.
func ends(path string, size int64) ([]journal.Entry, error) {
	if size > journal.MostBytes {
		return nil, regular(path)
	}
	file, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer file.Close()
	var part io.Reader = file
	if size > headBytes+tailBytes {
		part = io.MultiReader(
			io.NewSectionReader(file, 0, headBytes), strings.NewReader("\n"),
			io.NewSectionReader(file, size-tailBytes, tailBytes),
		)
	}
	entries, _, err := journal.Read(part)
	return entries, err
}

func describe(path string, entries []journal.Entry) Candidate {
	last := entries[len(entries)-1]
	c := Candidate{Path: path, Last: last.At, Ended: last.Kind == "end", InUse: inUse(path)}
	if start, ok := journal.LastStart(entries); ok {
		c.Title = start.Title
	}
	if state, ok := journal.Last(entries); ok {
		c.Step = state.Step
	}
	return c
}

// Live lists the journals of a show that other runs are writing now. It reads no others: a new run must not wait for
// those of a whole season.
func Live(score, title string) (paths []string) {
	list, err := candidates(score, title, inUse)
	if err != nil {
		return nil
	}
	for _, c := range list {
		paths = append(paths, c.Path)
	}
	return paths
}

// Age is how long ago an entry of a journal was, in words: "5 min ago".
func Age(entry journal.Entry, now time.Time) string { return age(now.Sub(entry.At)) }

// inUse reports whether a run has a journal open.
func inUse(path string) bool {
	file, err := os.Open(path)
	if err != nil {
		return false
	}
	defer file.Close()
	if err := lock(file); err != nil {
		return err == ErrInUse
	}
	unlock(file)
	return false
}
