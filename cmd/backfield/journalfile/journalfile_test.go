package journalfile

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"backfield/osc/journal"
)

// reported waits for the next report.
func reported(t *testing.T, texts <-chan string) string {
	t.Helper()
	select {
	case text := <-texts:
		return text
	case <-time.After(10 * time.Second):
		t.Fatal("nothing is reported")
	}
	return ""
}

func begin(t *testing.T, path string, o FileOptions) (*JournalWriter, <-chan string) {
	t.Helper()
	texts := make(chan string, 10)
	o.Report = func(text string) { texts <- text }
	j, err := New(path, o)
	if err != nil {
		t.Fatal(err)
	}
	return j, texts
}

func entry(text string) journal.Entry { return journal.Entry{Kind: "page", Text: text} }

// texts lists what a journal holds.
func texts(t *testing.T, path string) string {
	t.Helper()
	entries, skipped, err := Read(path)
	if err != nil || len(skipped) > 0 {
		t.Fatal(err, skipped)
	}
	var list []string
	for _, e := range entries {
		list = append(list, e.Text)
	}
	return strings.Join(list, " ")
}

// A disk that is full for a moment costs nothing: what it did not take is kept and written when there is room, and the
// operator hears of both.
func TestNoFalseCalm07FullDisk(t *testing.T) {
	path := filepath.Join(t.TempDir(), "j.jsonl")
	j, news := begin(t, path, FileOptions{})
	j.Write(entry("one"))
	d := j.disks[0]
	room := d.file
	full, err := os.OpenFile("/dev/full", os.O_WRONLY, 0)
	if err != nil {
		t.Skip("this system has no /dev/full")
	}
	defer full.Close()
	swap := func(to diskFile) {
		d.writing.Lock()
		defer d.writing.Unlock()
		d.file = to
	}
	swap(full)
	j.Write(entry("two"))
	j.Write(entry("three"))
	if text := reported(t, news); !strings.Contains(text, "cannot write the journal "+path+" (no space left on device)") ||
		!strings.Contains(text, "; the run goes on: its entries wait in memory") {
		t.Error(text)
	}
	// What a disk took of a line before it was full.
	part := entry("two").Line()[:20]
	room.Write(part)
	d.writing.Lock()
	d.torn, d.again = true, true
	d.writing.Unlock()
	swap(room)
	if text := reported(t, news); !strings.Contains(text, "is written again; nothing is missing") {
		t.Error(text)
	}
	j.Write(entry("four"))
	j.Close()
	entries, skipped, err := Read(path)
	if err != nil || len(skipped) != 0 || len(entries) != 4 {
		t.Fatalf("%d entries, %v, %v", len(entries), skipped, err)
	}
	for i, want := range []string{"one", "two", "three", "four"} {
		if entries[i].Text != want {
			t.Errorf("entry %d is %q", i, entries[i].Text)
		}
	}
}

// limited is a file that takes so many bytes more, and is full then.
type limited struct {
	*os.File
	room int
}

func (l *limited) Write(b []byte) (int, error) {
	n, err := l.File.Write(b[:min(len(b), l.room)])
	if l.room -= n; err == nil && n < len(b) {
		err = errors.New("no room")
	}
	return n, err
}

// Wherever a disk is full, each entry is there once when there is room again, and nothing is damaged.
func TestDiskIsFullInTheMiddleOfALine(t *testing.T) {
	want := []string{"one", "two", "three"}
	length := len(entry("two").Line())
	for room := range length + 2 {
		path := filepath.Join(t.TempDir(), "j.jsonl")
		d, err := openDisk(path, os.O_RDWR|os.O_APPEND|os.O_CREATE, "the journal")
		if err != nil {
			t.Fatal(err)
		}
		file := d.file.(*os.File)
		full := &limited{file, len(entry("one").Line()) + room}
		d.file = full
		for _, text := range want {
			d.add(entry(text).Line())
			d.flush()
		}
		for range 3 { // and full again, each time a byte further
			full.room = 3
			d.flush()
		}
		d.file = file
		d.flush()
		file.Close()
		entries, skipped, err := Read(path)
		if err != nil || len(skipped) > 0 || len(entries) != len(want) {
			text, _ := os.ReadFile(path)
			t.Fatalf("room for %d bytes: %d entries, %v, %v\n%s", room, len(entries), skipped, err, text)
		}
		for i, e := range entries {
			if e.Text != want[i] {
				t.Errorf("room for %d bytes: entry %d is %q", room, i, e.Text)
			}
		}
	}
}

// A journal that stays unwritable is reported once, and its memory is bounded.
func TestJournalThatCannotBeWritten(t *testing.T) {
	j, news := begin(t, t.TempDir()+"/j.jsonl", FileOptions{})
	d := j.disks[0]
	file := d.file
	defer file.Close()
	var err error
	d.writing.Lock()
	d.file, err = os.Open(os.DevNull) // which is not open for writing
	d.writing.Unlock()
	if err != nil {
		t.Fatal(err)
	}
	large := strings.Repeat("x", mostWaiting/8)
	for range 20 {
		j.Write(entry(large))
	}
	reported(t, news)
	d.mu.Lock()
	if d.bytes > mostWaiting || d.lost < 10 {
		t.Errorf("%d bytes wait, and %d lines were dropped", d.bytes, d.lost)
	}
	d.mu.Unlock()
	j.Close()
	select {
	case again := <-news:
		t.Errorf("reported again: %s", again)
	case <-time.After(50 * time.Millisecond):
	}
}

// While a run has a journal open, no other run opens it, except on demand. Reading it is always possible.
func TestNoFalseCalm07InUse(t *testing.T) {
	path := filepath.Join(t.TempDir(), "j.jsonl")
	j, _ := begin(t, path, FileOptions{})
	j.Write(entry("one"))
	if _, err := Continue(path, FileOptions{}); !errors.Is(err, ErrInUse) {
		t.Errorf("a journal in use: %v", err)
	}
	if got := texts(t, path); got != "one" || !inUse(path) {
		t.Errorf("it holds %q, in use %t", got, inUse(path))
	}
	other, err := Continue(path, FileOptions{InUse: true, Report: func(string) {}})
	if err != nil {
		t.Fatal(err)
	}
	other.Write(entry("two"))
	other.Close()
	j.Close()
	if inUse(path) {
		t.Error("it is in use after its end")
	}
	if again, err := Continue(path, FileOptions{Report: func(string) {}}); err != nil {
		t.Error(err)
	} else {
		again.Close()
	}
	if got := texts(t, path); got != "one two" {
		t.Errorf("it holds %q", got)
	}
}

// A run that was killed before its first line leaves an empty file. The same command starts it again; a journal with
// anything in it, even half a line, is left alone.
func TestNewTakesAnEmptyFile(t *testing.T) {
	for held, fits := range map[string]bool{"": true, "{": false} {
		path := filepath.Join(t.TempDir(), "j.jsonl")
		if err := os.WriteFile(path, []byte(held), 0o644); err != nil {
			t.Fatal(err)
		}
		j, err := New(path, FileOptions{Report: func(string) {}})
		if fits {
			if err != nil {
				t.Fatal(err)
			}
			if _, err := New(path, FileOptions{}); !errors.Is(err, ErrInUse) {
				t.Errorf("an empty journal that a run has open: %v", err)
			}
			j.Write(entry("one"))
			j.Close()
			if got := texts(t, path); got != "one" {
				t.Errorf("it holds %q", got)
			}
		} else if !errors.Is(err, os.ErrExist) {
			t.Errorf("a journal that holds %q: %v", held, err)
		}
	}
}

// The copy has what the journal has, also when it begins later; and a journal goes on after a line that was cut off.
func TestCopy(t *testing.T) {
	dir, other := t.TempDir(), t.TempDir()
	path := filepath.Join(dir, "j.jsonl")
	j, _ := begin(t, path, FileOptions{Copy: other})
	j.Write(entry("one"))
	j.Close()
	if got := texts(t, filepath.Join(other, "j.jsonl")); got != "one" {
		t.Errorf("the copy holds %q", got)
	}
	file, err := os.OpenFile(path, os.O_APPEND|os.O_WRONLY, 0)
	if err != nil {
		t.Fatal(err)
	}
	file.WriteString(`{"at":"2`)
	file.Close()
	third := t.TempDir()
	if j, err = Continue(path, FileOptions{Copy: third, Report: func(string) {}}); err != nil {
		t.Fatal(err)
	}
	j.Write(entry("two"))
	j.Close()
	for _, p := range []string{path, filepath.Join(third, "j.jsonl")} {
		entries, skipped, err := Read(p)
		if err != nil || len(entries) != 2 || entries[1].Text != "two" || len(skipped) != 1 {
			t.Errorf("%s: %d entries, %v, %v", p, len(entries), skipped, err)
		}
	}
	for dir, want := range map[string]string{filepath.Join(dir, "no"): "is not there", dir: "has the journal itself"} {
		if _, err := Continue(path, FileOptions{Copy: dir}); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("a copy in %s: %v", dir, err)
		}
	}
	if inUse(path) {
		t.Error("the journal is in use after it was refused")
	}
}

// What is no file is refused at once, and so is one that is longer than a journal.
func TestNoFalseCalm07NotAFile(t *testing.T) {
	dir := t.TempDir()
	huge := filepath.Join(dir, "huge.jsonl")
	if err := os.WriteFile(huge, nil, 0o644); err != nil {
		t.Fatal(err)
	}
	if err := os.Truncate(huge, 3*journal.MostBytes); err != nil {
		t.Fatal(err)
	}
	for path, want := range map[string]string{
		dir: "not a regular file", os.DevNull: "not a regular file", huge: "a journal has 64 MB at most",
		filepath.Join(dir, "none"): "is not there", pipe(t, dir): "not a regular file",
	} {
		if _, _, err := Read(path); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("reading %s: %v", path, err)
		}
		if _, err := Continue(path, FileOptions{}); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("continuing %s: %v", path, err)
		}
	}
}
