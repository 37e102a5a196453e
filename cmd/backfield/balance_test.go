package main

import (
	"strings"
	"testing"

	"backfield/cmd/backfield/verb"
)

// balance.md shows what balance prints of the demo.
func TestHelpQuotesBalance(t *testing.T) {
	t.Parallel()
	for _, args := range [][]string{{"balance", harbor}, {"balance", harbor, "10"}} {
		code, out, talk := said(t, args...)
		if code != verb.ExitFine {
			t.Fatalf("%v: %d\n%s%s", args, code, out, talk)
		}
		lines := []string{strings.TrimSuffix(out, "\n")}
		if len(args) == 2 {
			lines = linesLike(out, "(cue|10|11|22|28)  .*")
		}
		quoted(t, "balance", lines...)
	}
}
