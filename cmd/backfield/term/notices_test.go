package term

import (
	"io"
	"strings"
	"testing"
	"time"
)

// A terminal that reads nothing holds up neither notices nor the end.
func TestNoticesDoNotWait(t *testing.T) {
	r, w := io.Pipe() // which nobody reads
	defer r.Close()
	m := NewNotices(w)
	began := time.Now()
	for range 1000 {
		m.Say("a problem")
	}
	if took := time.Since(began); took > 500*time.Millisecond {
		t.Errorf("it held its caller for %v", took)
	}
	m.Close()
	if took := time.Since(began); took > 5*time.Second {
		t.Errorf("its end took %v", took)
	}
	var b strings.Builder
	m = NewNotices(&b)
	m.Say("one")
	m.Say("two")
	m.Close()
	if b.String() != "backfield: one\nbackfield: two\n" {
		t.Errorf("%q", b.String())
	}
}
