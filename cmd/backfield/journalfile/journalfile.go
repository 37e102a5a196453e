// Package journalfile keeps the journal of a run in a file, which is new or continues after a crash. Its entries are
// those of osc/journal.
package journalfile

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync/atomic"
	"time"

	"backfield/osc/journal"
)

// Writer writes a run's journal file, a line at a time, each with one write: however the program ends, all lines but
// the last are complete. The file is synced to disk once a second in the background, so that a slow disk delays no cue.
type Writer struct {
	file   *os.File
	path   string
	report func(text string) // called once with a problem, from its own goroutine
	failed atomic.Bool
	dirty  atomic.Bool
	stop   chan struct{}
	done   chan struct{}
}

// folder is the folder of a show's journals, next to its score.
func folder(score string) string { return filepath.Join(filepath.Dir(score), "journals") }

// Newest is the path of the newest journal of a score.
func Newest(score string) (string, error) {
	names, err := filepath.Glob(filepath.Join(folder(score), "*.jsonl"))
	if err != nil || len(names) == 0 {
		return "", fmt.Errorf("there is no journal in %s; name one: --resume=FILE", folder(score))
	}
	return slices.Max(names), nil // their names are times
}

// TitleOfAnother is a journal's title if it is not the given title of a show. It is empty if they are the same, or if
// one of them is empty.
func TitleOfAnother(entries []journal.Entry, title string) string {
	for _, e := range entries {
		if e.Kind == "start" && e.Title != "" && title != "" && e.Title != title {
			return e.Title
		}
	}
	return ""
}

// Open starts a journal, or continues one after its first whole bytes. With 0 the file must not exist (os.ErrExist).
// report is called once if the file cannot be written, from its own goroutine.
func Open(path string, whole int64, report func(text string)) (*Writer, error) {
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		return nil, err
	}
	flags := os.O_WRONLY | os.O_APPEND | os.O_CREATE
	if whole == 0 {
		flags |= os.O_EXCL
	}
	file, err := os.OpenFile(path, flags, 0o644)
	if err != nil {
		return nil, err
	}
	if whole > 0 {
		if err := file.Truncate(whole); err != nil {
			file.Close()
			return nil, err
		}
	}
	j := &Writer{file: file, path: path, report: report, stop: make(chan struct{}), done: make(chan struct{})}
	go j.keep()
	return j, nil
}

// keep syncs the file to disk once a second.
func (j *Writer) keep() {
	defer close(j.done)
	tick := time.NewTicker(time.Second)
	defer tick.Stop()
	for {
		select {
		case <-j.stop:
			j.file.Sync()
			return
		case <-tick.C:
			if j.dirty.Swap(false) {
				j.file.Sync()
			}
		}
	}
}

// Path is the path of the file.
func (j *Writer) Path() string { return j.path }

// Write appends an entry. If that fails, it is reported once, and the run goes on.
func (j *Writer) Write(e journal.Entry) {
	if _, err := j.file.Write(e.Line()); err != nil && !j.failed.Swap(true) {
		// In the background, since the caller may hold a lock that report needs.
		go j.report(fmt.Sprintf("cannot write the journal %s (%v): the run goes on without it", j.path, err))
	}
	j.dirty.Store(true)
}

// Close syncs the file to disk and closes it.
func (j *Writer) Close() {
	close(j.stop)
	<-j.done
	j.file.Close()
}

// Read reads a journal file; whole is the length of its complete lines in bytes. The error names the file.
func Read(path string) (entries []journal.Entry, whole int64, err error) {
	file, err := os.Open(path)
	if err != nil {
		if os.IsNotExist(err) {
			return nil, 0, fmt.Errorf("%s is not there; check the name and the folder", path)
		}
		return nil, 0, err
	}
	defer file.Close()
	entries, whole, err = journal.Read(file)
	if err != nil {
		return nil, 0, fmt.Errorf("%s: %w", path, err)
	}
	return entries, whole, nil
}

// NewPath is the path of a new journal of a score. Its name is the time, so names sort.
func NewPath(score string, now time.Time) string {
	return filepath.Join(folder(score), strings.ReplaceAll(now.Format("20060102-150405.000"), ".", "-")+".jsonl")
}
