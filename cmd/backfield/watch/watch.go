// Package watch turns file events into one signal: something changed. It watches the directories of the
// files that a show reads, because a watch on a file dies with the first save by rename, and it says neither
// what changed nor reads any of it. It is the only room that imports a file notification library.
package watch

import (
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"time"

	"github.com/fsnotify/fsnotify"
)

const (
	// quietFor is how long events must have been quiet before a signal: on a plain overwrite the first event
	// mostly sees an unfinished file, and a program that saves again and again is to be read once.
	quietFor = 150 * time.Millisecond
	// pollEvery is how often sizes and times are looked at, for file systems without notifications.
	pollEvery = 2 * time.Second
)

// Watcher watches a set of files. Its methods may be called from any goroutine.
type Watcher struct {
	changes chan struct{}
	errors  chan error
	sets    chan fileSet
	done    chan struct{} // closed to end the loop
	ended   chan struct{} // closed by the loop when it has
}

// fileSet is a new set of files; taken closes once they are watched.
type fileSet struct {
	files []string
	taken chan struct{}
}

// event is one thing that happened to a path, or an error of the notification itself.
type event struct {
	path string
	err  error
}

// notifier is the part of the library that decides which directories are watched. Only existing ones can be added; one
// that is deleted leaves the list on its own.
type notifier interface {
	Add(directory string) error
	Remove(directory string) error
	WatchList() []string
}

// timer is a started timer: C gets one value when it is due.
type timer struct {
	C    <-chan time.Time
	Stop func() bool
}

// surroundings is everything outside the loop, so that a test can replace it.
type surroundings struct {
	events <-chan event
	notify notifier
	start  func(time.Duration) timer
	quiet  time.Duration
	poll   time.Duration
}

// New watches the files until Close. A file need not exist yet, nor its directory. The error is that of a
// working directory that cannot be found. Without notifications from the system the slow poll goes on alone, and
// Errors reports it.
func New(files []string) (*Watcher, error) { return timed(files, quietFor, pollEvery) }

func timed(files []string, quiet, poll time.Duration) (*Watcher, error) {
	files, err := absolute(files)
	if err != nil {
		return nil, err
	}
	outside := surroundings{start: realTimer, quiet: quiet, poll: poll, notify: noNotifier{}}
	library, err := fsnotify.NewWatcher()
	if err != nil {
		w := start(files, outside, func() {})
		w.report(fmt.Errorf("no file notification, so changes are seen within %v: %w", poll, err))
		return w, nil
	}
	events, stop := make(chan event), make(chan struct{})
	outside.events, outside.notify = events, library
	go forwardEvents(library, events, stop)
	return start(files, outside, func() { close(stop); library.Close() }), nil
}

// Changes gets a value when files have changed and have been quiet since. It holds one: changes while
// nobody listens are one change. Close closes it.
func (w *Watcher) Changes() <-chan struct{} { return w.changes }

// Errors gets what went wrong with the notifications. That costs only speed, since the poll goes on. It holds the first
// error that nobody has taken yet, and Close closes it.
func (w *Watcher) Errors() <-chan error { return w.errors }

// SetFiles changes the set of files; they are watched when it returns. A file that was not in the set before
// is compared with what it is now, so a change between its reading and this call goes unseen.
func (w *Watcher) SetFiles(files []string) error {
	files, err := absolute(files)
	if err != nil {
		return err
	}
	r := fileSet{files, make(chan struct{})}
	select {
	case w.sets <- r:
		<-r.taken
	case <-w.ended:
	}
	return nil
}

// Close ends the watch and returns when nothing of it runs any more. It may be called once.
func (w *Watcher) Close() {
	close(w.done)
	<-w.ended
}

// absolute returns the paths in one form, so that they can be compared.
func absolute(files []string) ([]string, error) {
	list := make([]string, len(files))
	for i, f := range files {
		abs, err := filepath.Abs(f)
		if err != nil {
			return nil, fmt.Errorf("cannot find the folder of %s: %w", f, err)
		}
		list[i] = abs
	}
	slices.Sort(list)
	return slices.Compact(list), nil
}

// fold is a path in the form that is compared. If a file system ignores case, an event has the name as it is on the
// disk, and a show has it as its designer wrote it.
func fold(path string) string {
	if caseless[runtime.GOOS] {
		return strings.ToLower(path)
	}
	return path
}

var caseless = map[string]bool{"windows": true, "darwin": true}

// start starts the loop, and returns once the first directories are watched.
func start(files []string, outside surroundings, close func()) *Watcher {
	w := &Watcher{make(chan struct{}, 1), make(chan error, 1), make(chan fileSet), make(chan struct{}),
		make(chan struct{})}
	l := &loop{Watcher: w, surroundings: outside}
	l.set(files)
	go l.run(close)
	return w
}

func (w *Watcher) report(err error) {
	select {
	case w.errors <- err:
	default:
	}
}

// forwardEvents passes the library's events on and never makes it wait. Some systems take no Add while an event waits
// to be read, and the loop that reads is the one that adds.
func forwardEvents(library *fsnotify.Watcher, to chan<- event, stop <-chan struct{}) {
	var queue []event
	for {
		var out chan<- event
		var first event
		if len(queue) > 0 {
			out, first = to, queue[0]
		}
		select {
		case e, ok := <-library.Events:
			if !ok {
				return
			}
			if e.Op != fsnotify.Chmod { // permissions do not change a show
				queue = append(queue, event{path: filepath.Clean(e.Name)})
			}
		case err, ok := <-library.Errors:
			if !ok {
				return
			}
			queue = append(queue, event{err: err})
		case out <- first:
			queue = queue[1:]
		case <-stop:
			return
		}
	}
}

func realTimer(d time.Duration) timer {
	t := time.NewTimer(d)
	return timer{t.C, t.Stop}
}

// noNotifier never notifies. For it no directory exists.
type noNotifier struct{}

func (noNotifier) Add(string) error    { return fs.ErrNotExist }
func (noNotifier) Remove(string) error { return nil }
func (noNotifier) WatchList() []string { return nil }

// stamp tells apart two states of a file without reading it.
type stamp struct {
	there bool
	size  int64
	time  time.Time
}

func stampOf(file string) stamp {
	info, err := os.Stat(file)
	if err != nil {
		return stamp{}
	}
	return stamp{true, info.Size(), info.ModTime()}
}
