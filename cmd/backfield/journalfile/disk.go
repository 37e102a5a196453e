package journalfile

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"sync"
	"time"

	"backfield/osc/journal"
)

// mostWaiting is how many bytes of lines are kept in memory for a disk that is full. It is hours of a show.
const mostWaiting = 32 << 20

// writeWait is how long the run waits for a line to be written, so that a run that is killed has in its journal what it
// sent. A disk that takes longer is not waited for again before it has caught up.
const writeWait = 5 * time.Millisecond

// journalDisk is one file that the lines of a journal go to.
type journalDisk struct {
	file diskFile
	path string
	what string // "the journal"
	size int64  // when it was opened

	writing sync.Mutex // held while the file is written
	torn    bool       // the file ends in the middle of a line
	again   bool       // which is written again
	err     error      // of the last write or sync

	mu      sync.Mutex // guards the fields below, never held while the file is written
	waiting []newLine  // lines that are not written yet
	bytes   int        // in waiting
	lost    int        // lines that were dropped since the last failure
	busy    bool       // one is being written
	slow    bool       // a line took longer than writeWait, and not all are written yet

	woken chan struct{}
	stop  chan struct{}
	done  chan struct{}
}

// newLine is a line that is to be written. written is closed when it is.
type newLine struct {
	text    []byte
	written chan struct{}
}

// diskFile is an open file of a journal.
type diskFile interface {
	io.WriteCloser
	io.ReaderAt
	withHandle
	Sync() error
}

// withHandle is an open file as the system knows it.
type withHandle interface{ Fd() uintptr }

// openDisk opens a file whose end may be in the middle of a line.
func openDisk(path string, flags int, what string) (*journalDisk, error) {
	file, err := os.OpenFile(path, flags, 0o644)
	if err != nil {
		return nil, err
	}
	d := &journalDisk{
		file: file, path: path, what: what,
		woken: make(chan struct{}, 1), stop: make(chan struct{}), done: make(chan struct{}),
	}
	if d.size, err = file.Seek(0, io.SeekEnd); err == nil && d.size > 0 {
		last := make([]byte, 1)
		_, err = file.ReadAt(last, d.size-1)
		d.torn = last[0] != '\n'
	}
	if err != nil {
		file.Close()
		return nil, err
	}
	return d, nil
}

// add appends a line to those that are to be written.
func (d *journalDisk) add(text []byte) (line newLine) {
	line = newLine{text, make(chan struct{})}
	d.mu.Lock()
	defer d.mu.Unlock()
	d.waiting = append(d.waiting, line)
	d.bytes += len(text)
	for d.bytes > mostWaiting {
		d.bytes -= len(d.waiting[0].text)
		d.waiting = d.waiting[1:]
		d.lost++
	}
	return line
}

// wait waits until a line is written, unless the disk is slow.
func (d *journalDisk) wait(line newLine) {
	d.mu.Lock()
	slow := d.slow
	d.mu.Unlock()
	if slow {
		return
	}
	late := time.NewTimer(writeWait)
	defer late.Stop()
	select {
	case <-line.written:
	case <-late.C:
		d.mu.Lock()
		d.slow = len(d.waiting) > 0 || d.busy
		d.mu.Unlock()
	}
}

// flush writes the lines that wait. What fails is tried again at the next call.
func (d *journalDisk) flush() {
	d.writing.Lock()
	defer d.writing.Unlock()
	for {
		d.mu.Lock()
		if d.busy = len(d.waiting) > 0; !d.busy {
			d.slow = false
			d.mu.Unlock()
			return
		}
		line := d.waiting[0]
		d.waiting = d.waiting[1:]
		d.bytes -= len(line.text)
		d.mu.Unlock()
		if d.err = d.write(line.text); d.err != nil {
			d.mu.Lock()
			d.waiting = append([]newLine{line}, d.waiting...)
			d.bytes += len(line.text)
			d.busy = false
			d.mu.Unlock()
			return
		}
		close(line.written)
	}
}

// write writes a line. After one that was cut off it begins with a newline, so that the part costs only itself.
func (d *journalDisk) write(line []byte) error {
	if d.torn {
		end := "\n"
		if d.again {
			end = journal.AfterTorn
		}
		if _, err := d.file.Write([]byte(end)); err != nil {
			return err
		}
		d.torn, d.again = false, false
	}
	n, err := d.file.Write(line)
	d.torn = err != nil && n > 0
	if d.torn && n == len(line)-1 { // all but its newline, which the next line brings
		return nil
	}
	d.again = d.torn
	return err
}

func (d *journalDisk) wake() {
	select {
	case d.woken <- struct{}{}:
	default:
	}
}

// keep writes what waits, and has the file synced to disk once a second. It sends a text when the file cannot be written,
// and when it can be again.
func (d *journalDisk) keep(texts chan<- string) {
	defer close(d.done)
	syncs, synced := make(chan struct{}, 1), make(chan struct{})
	go d.syncOften(syncs, synced)
	tick := time.NewTicker(time.Second)
	defer tick.Stop()
	dirty, failed := false, false
	for {
		last := false
		select {
		case <-d.woken:
			dirty = true
			d.flush()
		case <-d.stop:
			last = true
			d.flush()
			close(syncs)
			<-synced
			d.sync()
		case <-tick.C:
			d.flush()
			if dirty {
				select {
				case syncs <- struct{}{}:
					dirty = false
				default: // the last one still takes its time
				}
			}
		}
		text := ""
		if text, failed = d.news(failed); text != "" {
			select {
			case texts <- text:
			default: // nobody reads them, as before the run has begun
			}
		}
		if last {
			return
		}
	}
}

// syncOften syncs the file each time that it is asked to. A disk may take seconds for that; lines are written meanwhile.
func (d *journalDisk) syncOften(syncs <-chan struct{}, synced chan<- struct{}) {
	defer close(synced)
	for range syncs {
		d.sync()
	}
}

func (d *journalDisk) sync() {
	d.writing.Lock()
	file := d.file
	d.writing.Unlock()
	err := file.Sync()
	d.writing.Lock()
	defer d.writing.Unlock()
	if d.err == nil {
		d.err = err
	}
}

// news is what the operator should know that is new, "" for nothing.
func (d *journalDisk) news(failed bool) (text string, failing bool) {
	d.writing.Lock()
	err := d.err
	d.writing.Unlock()
	d.mu.Lock()
	defer d.mu.Unlock()
	switch {
	case err != nil && !failed:
		if at := (*fs.PathError)(nil); errors.As(err, &at) {
			err = at.Err // the path is said already, and room for the text is scarce
		}
		// The last clause is short, so that the screen keeps it whatever it cuts.
		return fmt.Sprintf("cannot write %s %s (%v); the run goes on: its entries wait in memory",
			d.what, d.path, err), true
	case err == nil && failed && len(d.waiting) == 0:
		lost := d.lost
		d.lost = 0
		if lost > 0 {
			return fmt.Sprintf("%s %s is written again; %d entries are missing", d.what, d.path, lost), false
		}
		return fmt.Sprintf("%s %s is written again; nothing is missing", d.what, d.path), false
	}
	return "", failed
}
