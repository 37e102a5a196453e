package watch

import (
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
)

// loop is the one goroutine that decides: events and the poll in, a signal out.
type loop struct {
	*Watcher
	surroundings

	files  []string
	stamps map[string]stamp
	wanted map[string]bool // the files, as events name them
	roads  map[string]bool // the directories that lead to them, there or still to come
	failed map[string]bool // directories whose watch was refused: the poll alone sees to them
}

// run goes on until Close. Between the first event and the signal the quiet timer runs; each further event
// starts it again.
func (l *loop) run(release func()) {
	defer close(l.ended)
	defer close(l.errors)
	defer close(l.changes)
	defer release()

	poll := l.start(l.poll)
	quiet := timer{Stop: func() bool { return true }} // its C is nil: never due
	defer func() { poll.Stop(); quiet.Stop() }()
	again := func() {
		quiet.Stop()
		quiet = l.start(l.quiet)
	}
	for {
		select {
		case <-l.done:
			return
		case r := <-l.sets:
			l.set(r.files)
			close(r.taken)
		case e := <-l.events:
			switch {
			case e.err != nil: // events may have been lost with it
				l.report(fmt.Errorf("file notification: %w", e.err))
				if l.differs() {
					again()
				}
			case l.wanted[fold(e.path)]:
				l.follow() // a link may point elsewhere now
				again()
			case l.roads[fold(e.path)]:
				l.follow()
				if l.differs() {
					again()
				}
			}
		case <-poll.C:
			l.follow()
			if l.differs() {
				again()
			}
			poll = l.start(l.poll)
		case <-quiet.C:
			quiet.C = nil
			l.follow()
			l.differs() // what is signalled now is not to be found again by the poll
			select {
			case l.changes <- struct{}{}:
			default:
			}
		}
	}
}

// set takes a new set of files. One that stays in the set keeps the state it was last seen in.
func (l *loop) set(files []string) {
	before := l.stamps
	l.files, l.stamps = files, make(map[string]stamp, len(files))
	l.failed = map[string]bool{}
	for _, f := range files {
		if s, known := before[f]; known {
			l.stamps[f] = s
		} else {
			l.stamps[f] = stampOf(f)
		}
	}
	l.follow()
}

// differs looks at every file and reports whether any is not as it was last seen.
func (l *loop) differs() bool {
	differs := false
	for _, f := range l.files {
		if s := stampOf(f); s != l.stamps[f] {
			l.stamps[f], differs = s, true
		}
	}
	return differs
}

// follow watches the directories that matter now. While one is being added the next may come into being
// unseen, so it looks again until there is nothing to add.
func (l *loop) follow() {
	for l.step() {
	}
}

// step watches of each file the real directory, of a linked file also that of its target, and of a
// directory that is not there yet the nearest one above it. It reports whether any was added.
func (l *loop) step() (added bool) {
	l.wanted, l.roads = map[string]bool{}, map[string]bool{}
	directories := map[string]bool{}
	want := func(file string) {
		directory, name := filepath.Dir(file), filepath.Base(file)
		for paths := l.wanted; ; paths = l.roads {
			if real, err := filepath.EvalSymlinks(directory); err == nil {
				directories[real], l.roads[fold(real)] = true, true
				paths[fold(filepath.Join(real, name))] = true
				return
			}
			above := filepath.Dir(directory)
			if above == directory {
				return
			}
			directory, name = above, filepath.Base(directory)
		}
	}
	for _, f := range l.files {
		want(f)
		if target, err := filepath.EvalSymlinks(f); err == nil {
			want(target)
		}
	}

	watched := l.notify.WatchList()
	for _, d := range watched {
		if !directories[d] {
			l.notify.Remove(d) // an error means that it is gone, which is what is wanted
		}
	}
	for _, d := range slices.Sorted(maps.Keys(directories)) {
		if slices.Contains(watched, d) || l.failed[d] {
			continue
		}
		switch err := l.notify.Add(d); {
		case err == nil:
			added = true
		case !os.IsNotExist(err): // gone meanwhile: the next look finds what is above it
			l.failed[d] = true
			l.report(fmt.Errorf("%s is not watched, so changes in it are seen within %v: %w", d, l.poll, err))
		}
	}
	return added
}
