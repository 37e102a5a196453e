// Package journalfile keeps the journal of a run in a file, which is new or continues after a crash, with a copy in
// another folder if asked; and it finds the journal to resume. Its entries are those of osc/journal.
package journalfile

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"backfield/osc/journal"
)

// JournalWriter writes a run's journal file, a line at a time, each with one write: however the program ends, all lines but
// the last are complete. While the file is open, no other run can open it.
type JournalWriter struct {
	path   string
	disks  []*journalDisk // the journal, and its copy if there is one
	texts  chan string
	closed chan struct{}
}

// FileOptions are how a journal is opened.
type FileOptions struct {
	Copy  string // a folder for a second copy, which must be there; empty for none
	InUse bool   // continue a journal that another run has open
	// Report is called when the file or its copy cannot be written, or can be again, from a goroutine of its own.
	Report func(text string)
}

// ErrInUse is the error of a journal that another run has open.
var ErrInUse = errors.New("another run is writing it")

// folder is the folder of a show's journals, next to its score.
func folder(score string) string { return filepath.Join(filepath.Dir(score), "journals") }

// NewPath is the path of a new journal of a score, which is not there yet. Its name is the time in UTC, or the next
// millisecond that is not taken, so names sort.
func NewPath(score string, now time.Time) string {
	for ; ; now = now.Add(time.Millisecond) {
		name := strings.ReplaceAll(now.UTC().Format("20060102-150405.000"), ".", "-")
		path := filepath.Join(folder(score), name+"Z.jsonl")
		if _, err := os.Lstat(path); err != nil {
			return path
		}
	}
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

// New starts a journal. The file must not exist yet (os.ErrExist), or be empty: a run that was killed before its first line
// leaves it so, and whoever starts that run again must not have to think of another name.
func New(path string, o FileOptions) (*JournalWriter, error) {
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		return nil, err
	}
	flags := os.O_RDWR | os.O_APPEND | os.O_CREATE | os.O_EXCL
	if info, err := os.Lstat(path); err == nil && info.Mode().IsRegular() && info.Size() == 0 {
		flags &^= os.O_EXCL
	}
	return open(path, flags, o)
}

// Continue continues a journal at its end, which may be in the middle of a line. Nothing is written before the first
// Write. The error is ErrInUse if another run has the journal open.
func Continue(path string, o FileOptions) (*JournalWriter, error) {
	if err := regular(path); err != nil {
		return nil, err
	}
	return open(path, os.O_RDWR|os.O_APPEND, o)
}

func open(path string, flags int, o FileOptions) (*JournalWriter, error) {
	first, err := openDisk(path, flags, "the journal")
	if err != nil {
		return nil, err
	}
	// A network drive may have no locks. That must not keep a run from starting.
	if err := lock(first.file); errors.Is(err, ErrInUse) && !o.InUse {
		first.file.Close()
		return nil, err
	}
	j := &JournalWriter{path: path, disks: []*journalDisk{first}, texts: make(chan string, 16),
		closed: make(chan struct{})}
	if o.Copy != "" {
		second, err := openCopy(first, o.Copy)
		if err != nil {
			first.file.Close()
			return nil, err
		}
		j.disks = append(j.disks, second)
	}
	for _, d := range j.disks {
		go d.keep(j.texts)
	}
	go j.pass(o.Report)
	return j, nil
}

// openCopy opens the copy of a journal in a folder. A copy that is new begins with what the journal has.
func openCopy(of *journalDisk, dir string) (*journalDisk, error) {
	info, err := os.Stat(dir)
	if err != nil || !info.IsDir() {
		return nil, fmt.Errorf("the folder %s for the journal's copy is not there; is its disk plugged in?", dir)
	}
	if own, err := os.Stat(filepath.Dir(of.path)); err == nil && os.SameFile(own, info) {
		return nil, fmt.Errorf("the folder %s has the journal itself; name a folder on another disk for its copy", dir)
	}
	path := filepath.Join(dir, filepath.Base(of.path))
	if info, err := os.Stat(path); err == nil && !info.Mode().IsRegular() {
		return nil, notAFile(path)
	}
	d, err := openDisk(path, os.O_RDWR|os.O_APPEND|os.O_CREATE, "the journal's copy")
	if err != nil {
		return nil, err
	}
	if d.size > 0 {
		return d, nil
	}
	if _, err := io.Copy(d.file, io.NewSectionReader(of.file, 0, of.size)); err != nil {
		d.file.Close()
		return nil, fmt.Errorf("cannot copy the journal to %s: %w", path, err)
	}
	d.torn = of.torn
	return d, nil
}

// pass gives the texts of the disks to report, which may wait for a lock that whoever writes holds.
func (j *JournalWriter) pass(report func(text string)) {
	for {
		select {
		case text := <-j.texts:
			report(text)
		case <-j.closed:
			return
		}
	}
}

// Path is the path of the file.
func (j *JournalWriter) Path() string { return j.path }

// Write appends an entry. What a full disk does not take is kept in memory until there is room, and reported; the run
// goes on. It is written in the background, and waited for only if the journal's disk is quick, so that a slow disk delays
// no cue.
func (j *JournalWriter) Write(e journal.Entry) {
	text := e.Line()
	var own newLine
	for i, d := range j.disks {
		line := d.add(text)
		if d.wake(); i == 0 {
			own = line
		}
	}
	j.disks[0].wait(own)
}

// Close writes what is left, syncs the files to disk and closes them.
func (j *JournalWriter) Close() {
	for _, d := range j.disks {
		close(d.stop)
	}
	for _, d := range j.disks {
		<-d.done
		d.file.Close()
	}
	close(j.closed)
}

// Read reads a journal file, and lists what it had to skip. The error names the file.
func Read(path string) (entries []journal.Entry, skipped []journal.Skipped, err error) {
	if err := regular(path); err != nil {
		return nil, nil, err
	}
	file, err := os.Open(path)
	if err != nil {
		return nil, nil, err
	}
	defer file.Close()
	entries, skipped, err = journal.Read(file)
	if err != nil {
		return nil, nil, fmt.Errorf("%s: %w", path, err)
	}
	return entries, skipped, nil
}

// regular returns why a path cannot be a journal: a pipe would be waited for, and a device has no end.
func regular(path string) error {
	info, err := os.Stat(path)
	switch {
	case os.IsNotExist(err):
		return fmt.Errorf("%s is not there; check the name and the folder", path)
	case err != nil:
		return err
	case !info.Mode().IsRegular():
		return notAFile(path)
	case info.Size() > journal.MostBytes:
		return fmt.Errorf("%s has %d MB, and a journal has %d MB at most; name a run's journal", path, info.Size()>>20,
			journal.MostBytes>>20)
	}
	return nil
}

func notAFile(path string) error {
	return fmt.Errorf("%s is not a regular file (a folder, a pipe or a device); name a run's journal", path)
}
