package watch

import (
	"errors"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"backfield/osc/waiting"
)

func TestMain(m *testing.M) { os.Exit(waiting.Run(m)) }

// wait is how long a test waits for what must come; it is never waited out in a good run.
const wait = 10 * time.Second

// directory is a fake of the notification: it keeps the list, and can refuse.
type directory struct {
	sync.Mutex
	list   []string
	refuse error
}

func (d *directory) Add(name string) error {
	d.Lock()
	defer d.Unlock()
	if d.refuse != nil {
		return d.refuse
	}
	d.list = append(d.list, name)
	return nil
}

func (d *directory) Remove(name string) error {
	d.Lock()
	defer d.Unlock()
	d.list = slices.DeleteFunc(d.list, func(s string) bool { return s == name })
	return nil
}

func (d *directory) WatchList() []string {
	d.Lock()
	defer d.Unlock()
	return slices.Clone(d.list)
}

// started is a timer that the loop asked for and the test fires.
type started struct {
	d    time.Duration
	fire chan time.Time
}

// stage is a loop whose surroundings are all made up, except the files that stamps are taken of.
type stage struct {
	*Watcher
	t      *testing.T
	dir    string
	events chan event
	timers chan started
	stops  chan struct{}
	notify *directory
}

func newStage(t *testing.T, names ...string) *stage {
	t.Helper()
	dir, err := filepath.EvalSymlinks(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	s := &stage{t: t, dir: dir, events: make(chan event), timers: make(chan started, 100),
		stops: make(chan struct{}, 100), notify: &directory{}}
	var files []string
	for _, n := range names {
		files = append(files, filepath.Join(dir, n))
	}
	outside := surroundings{events: s.events, notify: s.notify, quiet: quietFor, poll: pollEvery,
		start: func(d time.Duration) timer {
			x := started{d, make(chan time.Time, 1)}
			s.timers <- x
			return timer{x.fire, func() bool { s.stops <- struct{}{}; return true }}
		}}
	released := make(chan struct{})
	s.Watcher = start(files, outside, func() { close(released) })
	t.Cleanup(func() {
		s.Close()
		<-released
	})
	return s
}

func (s *stage) write(name, text string) {
	s.t.Helper()
	if err := os.WriteFile(filepath.Join(s.dir, name), []byte(text), 0o644); err != nil {
		s.t.Fatal(err)
	}
}

func (s *stage) event(name string) { s.events <- event{path: filepath.Join(s.dir, name)} }

// timer takes the next timer that was started and checks how long it is to run.
func (s *stage) timer(d time.Duration) started {
	s.t.Helper()
	select {
	case x := <-s.timers:
		if x.d != d {
			s.t.Fatalf("a timer of %v, want %v", x.d, d)
		}
		return x
	case <-time.After(wait):
		s.t.Fatal("no timer was started")
	}
	panic("unreachable")
}

// idle makes sure that all sent so far is handled: a loop that takes a set has come round.
func (s *stage) idle(names ...string) {
	s.t.Helper()
	var files []string
	for _, n := range names {
		files = append(files, filepath.Join(s.dir, n))
	}
	if err := s.SetFiles(files); err != nil {
		s.t.Fatal(err)
	}
}

func (s *stage) signalled() {
	s.t.Helper()
	select {
	case <-s.Changes():
	case <-time.After(wait):
		s.t.Fatal("no signal")
	}
}

func (s *stage) silent() {
	s.t.Helper()
	select {
	case <-s.Changes():
		s.t.Fatal("a signal")
	default:
	}
}

func (s *stage) noTimer() {
	s.t.Helper()
	select {
	case x := <-s.timers:
		s.t.Fatalf("a timer of %v was started", x.d)
	default:
	}
}

func TestBurstIsOneSignal(t *testing.T) {
	s := newStage(t, "show.toml")
	s.timer(pollEvery)
	var last started
	for range 20 {
		s.event("show.toml")
		last = s.timer(quietFor)
	}
	s.idle("show.toml")
	s.silent()
	if n := len(s.stops); n != 19 {
		t.Errorf("%d timers were stopped, want each but the last", n)
	}
	last.fire <- time.Time{}
	s.signalled()
	s.idle("show.toml")
	s.silent()
}

func TestUnrelatedIsNothing(t *testing.T) {
	s := newStage(t, "show.toml")
	s.timer(pollEvery)
	for _, name := range []string{"show.toml~", ".show.toml.swp", "4913", "sub/show.toml", "other.toml",
		".#show.toml"} {
		s.event(name)
	}
	s.idle("show.toml")
	s.noTimer()
	s.silent()
}

// TestOneSlot: signals that nobody takes are one, and the loop does not wait for a taker.
func TestOneSlot(t *testing.T) {
	s := newStage(t, "a.csv")
	s.timer(pollEvery)
	for range 3 {
		s.event("a.csv")
		s.timer(quietFor).fire <- time.Time{}
		for deadline := time.Now().Add(wait); len(s.changes) == 0; {
			if time.Now().After(deadline) {
				t.Fatal("no signal")
			}
			runtime.Gosched()
		}
		s.idle("a.csv")
	}
	s.signalled()
	s.silent()
}

// TestPoll finds what no event reported, once, and not again what an event did report.
func TestPoll(t *testing.T) {
	s := newStage(t, "show.toml")
	poll := s.timer(pollEvery)
	s.write("show.toml", "one")
	poll.fire <- time.Time{}
	quiet := s.timer(quietFor)
	poll = s.timer(pollEvery)
	quiet.fire <- time.Time{}
	s.signalled()

	poll.fire <- time.Time{}
	poll = s.timer(pollEvery) // and no quiet timer: nothing differs
	s.silent()

	s.write("show.toml", "three")
	s.event("show.toml")
	s.timer(quietFor).fire <- time.Time{}
	s.signalled()
	poll.fire <- time.Time{}
	poll = s.timer(pollEvery)

	if err := os.Remove(filepath.Join(s.dir, "show.toml")); err != nil {
		t.Fatal(err)
	}
	poll.fire <- time.Time{}
	s.timer(quietFor).fire <- time.Time{}
	s.signalled()
}

func TestLostEvents(t *testing.T) {
	s := newStage(t, "show.toml")
	s.timer(pollEvery)
	s.events <- event{err: errors.New("queue overflow")}
	s.idle("show.toml")
	s.noTimer()
	if err := <-s.Errors(); !strings.Contains(err.Error(), "queue overflow") {
		t.Errorf("error %v", err)
	}
	s.write("show.toml", "new")
	s.events <- event{err: errors.New("queue overflow")}
	s.timer(quietFor).fire <- time.Time{}
	s.signalled()
}

func TestSetFiles(t *testing.T) {
	s := newStage(t, "show.toml")
	s.timer(pollEvery)
	s.event("rig.toml")
	s.idle("show.toml", "rig.toml")
	s.noTimer()
	s.event("rig.toml")
	s.timer(quietFor)
	s.idle("rig.toml")
	s.event("show.toml")
	s.idle("rig.toml")
	s.noTimer()
}

// TestSetKeepsStamps: a change between a load's reading and its SetFiles is still seen.
func TestSetKeepsStamps(t *testing.T) {
	s := newStage(t, "show.toml")
	poll := s.timer(pollEvery)
	s.write("show.toml", "new")
	s.idle("show.toml", "rig.toml")
	poll.fire <- time.Time{}
	s.timer(quietFor)
}

func TestDirectories(t *testing.T) {
	s := newStage(t, "show.toml", "venues/home.toml")
	s.timer(pollEvery)
	if got := s.notify.WatchList(); !slices.Equal(got, []string{s.dir}) {
		t.Errorf("watched: %v", got)
	}
	if err := os.MkdirAll(filepath.Join(s.dir, "venues"), 0o755); err != nil {
		t.Fatal(err)
	}
	s.event("venues")
	s.idle("show.toml", "venues/home.toml")
	s.noTimer() // an empty directory changes no file
	venues := filepath.Join(s.dir, "venues")
	if got := s.notify.WatchList(); !slices.Equal(got, []string{s.dir, venues}) {
		t.Errorf("watched: %v", got)
	}
	s.event("venues/home.toml")
	s.timer(quietFor)
	s.idle("venues/home.toml")
	if got := s.notify.WatchList(); !slices.Equal(got, []string{venues}) {
		t.Errorf("watched: %v", got)
	}
	if err := os.Remove(venues); err != nil {
		t.Fatal(err)
	}
	s.notify.Remove(venues) // the library does so by itself
	s.event("venues")
	s.idle("venues/home.toml")
	if got := s.notify.WatchList(); !slices.Equal(got, []string{s.dir}) {
		t.Errorf("watched: %v", got)
	}
}

func TestRefused(t *testing.T) {
	s := newStage(t)
	poll := s.timer(pollEvery)
	s.notify.Lock()
	s.notify.refuse = errors.New("no space left")
	s.notify.Unlock()
	s.idle("show.toml")
	if err := <-s.Errors(); !strings.Contains(err.Error(), "no space left") {
		t.Errorf("error %v", err)
	}
	s.write("show.toml", "new")
	poll.fire <- time.Time{}
	s.timer(quietFor).fire <- time.Time{}
	s.signalled()
	select {
	case err := <-s.Errors():
		t.Errorf("said twice: %v", err)
	default:
	}
}

func TestClose(t *testing.T) {
	before := runtime.NumGoroutine()
	for range 20 {
		w, err := New([]string{filepath.Join(t.TempDir(), "show.toml")})
		if err != nil {
			t.Fatal(err)
		}
		w.Close()
		if _, open := <-w.Changes(); open {
			t.Error("a signal after Close")
		}
		if _, open := <-w.Errors(); open {
			t.Error("an error after Close")
		}
		if err := w.SetFiles(nil); err != nil {
			t.Error(err)
		}
	}
	deadline := time.Now().Add(wait)
	for runtime.NumGoroutine() > before {
		if time.Now().After(deadline) {
			stacks := make([]byte, 1<<16)
			t.Fatalf("%d goroutines, %d before\n%s", runtime.NumGoroutine(), before,
				stacks[:runtime.Stack(stacks, true)])
		}
		time.Sleep(time.Millisecond)
	}
}

// realQuiet is long enough for a busy machine to finish a burst of writes in.
const realQuiet = 100 * time.Millisecond

// real is a watch of real files. The poll is out of reach, so that every change seen was reported by the system.
func real(t *testing.T, files ...string) *Watcher {
	t.Helper()
	w, err := timed(files, realQuiet, time.Hour)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(w.Close)
	return w
}

func put(t *testing.T, file, text string) {
	t.Helper()
	if err := os.WriteFile(file, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
}

func must(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// signals counts signals until there has been none for a while that is long beside the quiet time.
func signals(w *Watcher) int {
	n := 0
	for {
		select {
		case <-w.Changes():
			n++
		case <-time.After(4 * realQuiet):
			return n
		}
	}
}

func TestRealFiles(t *testing.T) {
	t.Parallel()
	cases := []struct {
		name string
		do   func(t *testing.T, dir, file string)
		want int
	}{
		{"overwrite", func(t *testing.T, dir, file string) { put(t, file, "two") }, 1},
		{"save by rename", func(t *testing.T, dir, file string) {
			put(t, filepath.Join(dir, ".show.toml.tmp"), "two")
			must(t, os.Rename(filepath.Join(dir, ".show.toml.tmp"), file))
		}, 1},
		{"backup, then new file", func(t *testing.T, dir, file string) {
			must(t, os.Rename(file, file+"~"))
			put(t, file, "two")
		}, 1},
		{"delete and recreate", func(t *testing.T, dir, file string) {
			must(t, os.Remove(file))
			put(t, file, "two")
		}, 1},
		{"delete", func(t *testing.T, dir, file string) { must(t, os.Remove(file)) }, 1},
		{"burst", func(t *testing.T, dir, file string) {
			for i := range 200 {
				put(t, file, strings.Repeat("x", i))
			}
		}, 1},
		{"unrelated", func(t *testing.T, dir, file string) {
			put(t, filepath.Join(dir, "notes.txt"), "x")
			must(t, os.Remove(filepath.Join(dir, "notes.txt")))
		}, 0},
		{"rights only", func(t *testing.T, dir, file string) { must(t, os.Chmod(file, 0o600)) }, 0},
		{"directory away and back", func(t *testing.T, dir, file string) {
			must(t, os.Rename(dir, dir+" old"))
			must(t, os.Mkdir(dir, 0o755))
			put(t, file, "two")
		}, 1},
		{"directory deleted and recreated", func(t *testing.T, dir, file string) {
			must(t, os.RemoveAll(dir))
			must(t, os.MkdirAll(dir, 0o755))
			put(t, file, "two")
		}, 1},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			var dir, file string
			var w *Watcher
			for try := 1; ; try++ { // a machine that is busy may stretch a burst over the quiet that ends it
				dir = filepath.Join(t.TempDir(), "show")
				must(t, os.Mkdir(dir, 0o755))
				file = filepath.Join(dir, "show.toml")
				put(t, file, "one")
				w = real(t, file)
				c.do(t, dir, file)
				got := signals(w)
				if got == c.want {
					break
				}
				if try == 3 {
					t.Errorf("%d signals, want %d", got, c.want)
					break
				}
			}
			if c.want > 0 { // and the watch still lives
				must(t, os.MkdirAll(dir, 0o755))
				put(t, file, "three!")
				if got := signals(w); got != 1 {
					t.Errorf("%d signals afterwards, want 1", got)
				}
			}
		})
	}
}

// TestRealDirectoryToCome: a file whose directories are made later.
func TestRealDirectoryToCome(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	file := filepath.Join(dir, "a", "b", "home.toml")
	w := real(t, file)
	must(t, os.MkdirAll(filepath.Dir(file), 0o755))
	put(t, file, "one")
	if signals(w) == 0 {
		t.Error("no signal")
	}
	put(t, file, "two!")
	if got := signals(w); got != 1 {
		t.Errorf("%d signals, want 1", got)
	}
}

// TestRealLinks: a save through a linked directory and through a linked file.
func TestRealLinks(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	there := filepath.Join(dir, "there")
	must(t, os.Mkdir(there, 0o755))
	put(t, filepath.Join(there, "show.toml"), "one")
	put(t, filepath.Join(there, "rig.toml"), "one")
	if err := os.Symlink(there, filepath.Join(dir, "here")); err != nil {
		t.Skip("no links on this system:", err)
	}
	must(t, os.Symlink(filepath.Join(there, "rig.toml"), filepath.Join(dir, "rig.toml")))
	w := real(t, filepath.Join(dir, "here", "show.toml"), filepath.Join(dir, "rig.toml"))
	for _, name := range []string{"show.toml", "rig.toml"} {
		put(t, filepath.Join(there, name), "changed")
		if got := signals(w); got != 1 {
			t.Errorf("%s: %d signals, want 1", name, got)
		}
	}
}

// TestRelative: names relative to the working directory are the same files.
func TestRelative(t *testing.T) {
	dir := t.TempDir()
	t.Chdir(dir)
	put(t, "show.toml", "one")
	w := real(t, "./x/../show.toml")
	put(t, filepath.Join(dir, "show.toml"), "two")
	if got := signals(w); got != 1 {
		t.Errorf("%d signals, want 1", got)
	}
}
