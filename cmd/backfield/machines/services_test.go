package machines

import (
	"strings"
	"testing"
)

func TestHarmless(t *testing.T) {
	for in, want := range map[string]string{"plain é 日": "plain é 日", "a\x1b]0;x\x07b\n": `a\u001b]0;x\u0007b\u000a`,
		"\u202E\u200B\u2028": `\u202e\u200b\u2028`, strings.Repeat("x", 100): strings.Repeat("x", 80) + "…"} {
		if got := harmless(in); got != want {
			t.Errorf("%q: %q, want %q", in, got, want)
		}
	}
}
