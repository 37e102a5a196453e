package term

import (
	"context"
	"slices"
	"strings"
	"testing"
)

// Of a line that is too long to have been typed only the start is sent. What comes after it is read.
func TestReadLines(t *testing.T) {
	long := strings.Repeat("x", 200_000)
	lines := make(chan string, 10)
	ReadLines(context.Background(), strings.NewReader("go\r\n\n"+long+"\nback\nquit"), lines)
	close(lines)
	var got []string
	for line := range lines {
		got = append(got, line)
	}
	if want := []string{"go", "", long[:80] + "...", "back", "quit"}; !slices.Equal(got, want) {
		t.Errorf("%q", got)
	}
}
