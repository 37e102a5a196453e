package term

import (
	"bytes"
	"strings"
	"testing"
	"time"
)

// A bar is drawn only for long work, and in place. Without a terminal it is a line now and
// then.
func TestProgressBar(t *testing.T) {
	var out bytes.Buffer
	long := time.Now().Add(-time.Hour)
	for _, c := range []struct {
		drawn bool
		last  time.Time
		want  string
	}{
		{true, time.Now(), ""},
		{true, long, "\r\x1b[2Kcompiling [###############...............]  50 %\r\x1b[2K"},
		{false, time.Now(), ""},
		{false, long, "compiling: 50 %\n"},
	} {
		out.Reset()
		b := ProgressBar{w: &out, what: "compiling", drawn: c.drawn, last: c.last}
		b.Show(0.5)
		b.Show(0.51) // too soon after the first
		b.End()
		if out.String() != c.want {
			t.Errorf("drawn %v: %q, want %q", c.drawn, out.String(), c.want)
		}
	}
	if full := BarText(100); full != "["+strings.Repeat("#", barWidth)+"]" {
		t.Error(full)
	}
}
