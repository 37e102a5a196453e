// Package journalfile keeps the journal of a run in a file: a new one, or one that goes on after a crash. What its entries
// say is in osc/journal.
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

// File is the file that a run writes down what happens in, a line at a time, each with one write: whatever
// ends the program, all lines but the last are whole. It is brought to the disk once a second in the background, so
// that a slow disk delays no cue.
type Writer struct {
	file   *os.File
	path   string
	report func(text string) // is given a problem once, from a goroutine of its own
	failed atomic.Bool
	dirty  atomic.Bool
	stop   chan struct{}
	done   chan struct{}
}

// folder holds the journals of a show, next to its score.
func folder(score string) string { return filepath.Join(filepath.Dir(score), "journals") }

// Newest is the path of the journal of a score that was begun last.
func Newest(score string) (string, error) {
	names, err := filepath.Glob(filepath.Join(folder(score), "*.jsonl"))
	if err != nil || len(names) == 0 {
		return "", fmt.Errorf("no journal is in %s; name one: --resume=FILE", folder(score))
	}
	return slices.Max(names), nil // their names are times
}

// TitleOfAnother is the title of a journal that is of another show than the one of this title; empty where it is not, or
// where one of them has none.
func TitleOfAnother(entries []journal.Entry, title string) string {
	for _, e := range entries {
		if e.Kind == "start" && e.Title != "" && title != "" && e.Title != title {
			return e.Title
		}
	}
	return ""
}

// Open begins a journal, or goes on with one whose first bytes are whole: 0 for a new one, which must not be there yet
// (os.ErrExist). report is given a problem of writing it, once, from a goroutine of its own.
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

// keep brings what was written to the disk.
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

// Path is where the file is.
func (j *Writer) Path() string { return j.path }

// Write appends an entry. A journal that cannot be written is reported once; the run goes on.
func (j *Writer) Write(e journal.Entry) {
	if _, err := j.file.Write(e.Line()); err != nil && !j.failed.Swap(true) {
		// In the background: who writes may hold what the report needs.
		go j.report(fmt.Sprintf("the journal %s cannot be written (%v): the run goes on without", j.path, err))
	}
	j.dirty.Store(true)
}

// Close brings what was written to the disk and closes the file.
func (j *Writer) Close() {
	close(j.stop)
	<-j.done
	j.file.Close()
}

// Read reads a journal file; whole is how many of its bytes are whole lines. The error names the file.
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

// NewPath is the path of a new journal of a score. Names are times, so they sort.
func NewPath(score string, now time.Time) string {
	return filepath.Join(folder(score), strings.ReplaceAll(now.Format("20060102-150405.000"), ".", "-")+".jsonl")
}
