package visible

import (
	"bytes"
	"encoding/json"
	"testing"
	"unicode/utf8"
)

func TestText(t *testing.T) {
	t.Parallel()
	for in, want := range map[string]string{
		"Étude für 東京":        "Étude für 東京",
		"\x1b[2JTpt 3":        `\u001b[2JTpt 3`,
		"a\tb\r\nc\x7f":       `a\u0009b\u000d\u000ac\u007f`,
		"\u009b31m":           `\u009b31m`, // CSI in one character
		"\u202egnp.exe":       `\u202egnp.exe`,
		"\u2066x\u2069":       `\u2066x\u2069`,
		"\u2028":              `\u2028`,
		"\U000e0041":          `\udb40\udc41`,
		"\xff\u0080":          `\xff\u0080`,
		"\ufffd":              "\ufffd",
		"family \u200d joint": "family \u200d joint",
	} {
		if got := Text(in); got != want {
			t.Errorf("%q: %q, want %q", in, got, want)
		}
	}
	if got, want := Line("a\tb\r\n"), "a\tb\\u000d\n"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
}

// A text may reach the writer in any pieces.
func TestWriter(t *testing.T) {
	t.Parallel()
	const in, want = "東\u202e\x1b京\xe6\n\xe6\x9d", "東\\u202e\\u001b京\\xe6\n\\xe6\\x9d"
	for cut := range len(in) {
		var b bytes.Buffer
		w := NewWriter(&b)
		for _, piece := range []string{in[:cut], in[cut:]} {
			if n, err := w.Write([]byte(piece)); n != len(piece) || err != nil {
				t.Fatalf("%d, %v", n, err)
			}
		}
		if w.Flush(); b.String() != want {
			t.Errorf("cut at %d: %q", cut, b.String())
		}
		if Raw(w) != &b || Raw(&b) != &b {
			t.Error("Raw is not the output")
		}
	}
}

// Nothing hidden is left, and JSON means the same as before.
func FuzzText(f *testing.F) {
	f.Add("Tpt 3\x1b]0;x\a\u202e\U000e0001")
	f.Fuzz(func(t *testing.T, s string) {
		for _, r := range Text(s) {
			if hidden(r) {
				t.Fatalf("%q keeps %q", s, r)
			}
		}
		before, err := json.Marshal(s)
		if err != nil || !utf8.ValidString(s) {
			return
		}
		var after string
		if err := json.Unmarshal([]byte(Line(string(before))), &after); err != nil || after != s {
			t.Fatalf("%q became %q: %v", s, after, err)
		}
	})
}

func TestStrange(t *testing.T) {
	for s, want := range map[string]string{
		"Tpt 1": "", "José": "", "Ünal 2": "", "म\u200dय": "",
		"Tpt\u200b 1": "a zero-width space (U+200B)",
		"Tpt\u200d1":  "a zero-width joiner (U+200D)",
		"Tpt\u00a01":  "a no-break space (U+00A0)",
		"\u202eTpt 1": "a mark that turns the direction of writing (U+202E)",
		"Tpt\u00ad1":  "a soft hyphen (U+00AD)",
		"Tpt\x1b1":    "a control character (U+001B)",
	} {
		if got := Strange(s); got != want {
			t.Errorf("%q: %q, want %q", s, got, want)
		}
	}
}
