package main

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

// journalFile is the file that a run writes down what happens in, a line at a time, each with one write: whatever
// ends the program, all lines but the last are whole. It is brought to the disk once a second in the background, so
// that a slow disk delays no cue.
type journalFile struct {
	file   *os.File
	path   string
	tell   func(text string) // of trouble; it is called once, from a goroutine of its own
	failed atomic.Bool
	dirty  atomic.Bool
	stop   chan struct{}
	done   chan struct{}
}

// journalFolder holds the journals of a show, beside it.
func journalFolder(score string) string { return filepath.Join(filepath.Dir(score), "journals") }

// newestJournal is the last that was begun.
func newestJournal(score string) (string, error) {
	names, err := filepath.Glob(filepath.Join(journalFolder(score), "*.jsonl"))
	if err != nil || len(names) == 0 {
		return "", fmt.Errorf("no journal is in %s; name one: --resume=FILE", journalFolder(score))
	}
	return slices.Max(names), nil // their names are times
}

// titleOfAnother is the title of a journal that is of another show than the one of this title; empty where it is not, or
// where one of them has none.
func titleOfAnother(entries []journal.Entry, title string) string {
	for _, e := range entries {
		if e.Kind == "start" && e.Title != "" && title != "" && e.Title != title {
			return e.Title
		}
	}
	return ""
}

// openJournal begins a journal, or goes on with one whose first bytes are whole.
func openJournal(path string, whole int64, tell func(text string)) (*journalFile, error) {
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
	j := &journalFile{file: file, path: path, tell: tell, stop: make(chan struct{}), done: make(chan struct{})}
	go j.keep()
	return j, nil
}

// keep brings what was written to the disk.
func (j *journalFile) keep() {
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

// write appends an entry. A journal that cannot be written is told once; the run goes on.
func (j *journalFile) write(e journal.Entry) {
	if _, err := j.file.Write(e.Line()); err != nil && !j.failed.Swap(true) {
		go j.tell(fmt.Sprintf("the journal %s cannot be written (%v): the run goes on without", j.path, err)) // who writes may hold what tell needs
	}
	j.dirty.Store(true)
}

func (j *journalFile) close() {
	close(j.stop)
	<-j.done
	j.file.Close()
}

// readJournal reads a journal file.
func readJournal(path string) (entries []journal.Entry, whole int64, err error) {
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

// journalName is a new journal's path. Times sort.
func journalName(score string, now time.Time) string {
	return filepath.Join(journalFolder(score), strings.ReplaceAll(now.Format("20060102-150405.000"), ".", "-")+".jsonl")
}
