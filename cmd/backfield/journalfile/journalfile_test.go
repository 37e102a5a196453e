package journalfile

import (
	"os"
	"strings"
	"testing"
	"time"

	"backfield/osc/journal"
)

// A journal that cannot be written is reported once, whatever locks are held at the time.
func TestJournalThatCannotBeWritten(t *testing.T) {
	reported := make(chan string, 10)
	j, err := Open(t.TempDir()+"/j.jsonl", 0, func(text string) { reported <- text })
	if err != nil {
		t.Fatal(err)
	}
	file := j.file
	if j.file, err = os.Open(os.DevNull); err != nil { // which is not open for writing
		t.Fatal(err)
	}
	defer file.Close()
	for range 3 {
		j.Write(journal.Entry{Kind: "end"})
	}
	j.Close()
	if text := <-reported; !strings.Contains(text, "cannot write the journal") ||
		!strings.Contains(text, "the run goes on without") {
		t.Error(text)
	}
	select {
	case again := <-reported:
		t.Errorf("reported again: %s", again)
	case <-time.After(50 * time.Millisecond):
	}
}
