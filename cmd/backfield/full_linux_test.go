package main

import (
	"context"
	"os"
	"strings"
	"testing"
	"time"

	"backfield/cmd/backfield/verb"
)

// An output that cannot be written to ends every verb with 3, whatever it would have ended with.
func TestFullDisk(t *testing.T) {
	t.Parallel()
	dir := copied(t, "../../examples/mill")
	broken := copied(t, "../../examples/mill")
	if err := os.WriteFile(broken+"/show.toml", []byte("title = Mill\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	// A watch ends with it too. Without that this test would not end, so the context ends it.
	ctx, stop := context.WithTimeout(context.Background(), time.Minute)
	defer stop()
	for _, args := range [][]string{{"watch", dir}, {"check", "--watch", dir}, {"check", "--watch", "--json", dir},
		{"check", broken}, {"check", "--color", "always", broken}, {"suggest", dir},
		{"import", dir + "/drill.xlsx", "--guess", "--yes"}, {"version"}, {"help", "drill"}, {"schema", "score"}} {
		full, err := os.OpenFile("/dev/full", os.O_WRONLY, 0)
		if err != nil {
			t.Skip(err)
		}
		var talk strings.Builder
		if code := execute(ctx, args, full, &talk); code != verb.ExitWorld ||
			!strings.Contains(talk.String(), "no space left") {
			t.Errorf("%v: %d\n%s", args, code, talk.String())
		}
		full.Close()
	}
}
