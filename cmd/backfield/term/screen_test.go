package term

import (
	"fmt"
	"strings"
	"testing"
	"time"
)

// shown follows the control sequences that a screen uses, and returns the lines that stand there in the end.
func shown(t *testing.T, text string) []string {
	var lines []string
	row, saved := 0, 0
	for text != "" {
		var n int
		switch {
		case strings.HasPrefix(text, saveCursor):
			saved, text = row, text[len(saveCursor):]
		case strings.HasPrefix(text, restoreCursor):
			row, text = saved, text[len(restoreCursor):]
		case strings.HasPrefix(text, clearBelow):
			lines, text = lines[:row], text[len(clearBelow):]
		case strings.HasPrefix(text, ClearLine):
			line, rest, _ := strings.Cut(text[len(ClearLine):], "\n")
			for len(lines) <= row {
				lines = append(lines, "")
			}
			lines[row], text = line, rest
			row++
		default:
			if _, err := fmt.Sscanf(text, goUp, &n); err != nil && n == 0 || n > row {
				t.Fatalf("what is a terminal to do with %q, %d up from row %d", text, n, row)
			}
			row, text = row-n, text[strings.IndexByte(text, '\r')+1:]
		}
	}
	return lines
}

// The picture stands in one place, whatever number of lines it has, and a picture that was moved is left alone.
func TestScreenDrawsInPlace(t *testing.T) {
	var b strings.Builder
	s := Screen{out: &b}
	for _, rows := range []string{"a", "b", "c\nd\ne", "f\ng\nh", "i\nj", "k\nl\nm\nn"} {
		s.Draw(time.Time{}, strings.Split(rows, "\n"))
		if got := strings.Join(shown(t, b.String()), "\n"); got != rows {
			t.Errorf("%q stands there as %q", rows, got)
		}
	}
	s.rows = 0 // something was typed
	s.Draw(time.Time{}, []string{"o"})
	if got := strings.Join(shown(t, b.String()), "\n"); got != "k\nl\nm\nn\no" {
		t.Errorf("after a command there stands %q", got)
	}
}
