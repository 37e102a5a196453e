package source

import (
	"fmt"
	"strings"
	"testing"
)

func TestPosition(t *testing.T) {
	cases := []struct {
		name, text   string
		at           int
		line, column int
	}{
		{"start", "abc", 0, 1, 1},
		{"within", "abc\ndef", 5, 2, 2},
		{"on the line end", "abc\ndef", 3, 1, 4},
		{"after a tab", "\t\tx", 2, 1, 3},
		{"after runes of two and three bytes", "ë→x", 5, 1, 3},
		{"after a rune of four bytes", "𝄞x", 4, 1, 2},
		{"line two after CRLF", "ab\r\ncd", 5, 2, 2},
		{"end of file", "ab\ncd", 5, 2, 3},
		{"end after a line end", "ab\n", 3, 2, 1},
		{"past the end", "ab", 99, 1, 3},
		{"empty file", "", 0, 1, 1},
		{"blank lines", "\n\n\nx", 3, 4, 1},
	}
	for _, c := range cases {
		f := &File{Name: "a.toml", Text: c.text}
		line, column := Span{f, c.at, c.at}.Position()
		if line != c.line || column != c.column {
			t.Errorf("%s: %d:%d, want %d:%d", c.name, line, column, c.line, c.column)
		}
		if got, want := (Span{f, c.at, c.at}).Where(), fmt.Sprintf("a.toml:%d:%d", c.line, c.column); got != want {
			t.Errorf("%s: %q, want %q", c.name, got, want)
		}
	}
	if line, column := (Span{}).Position(); line != 0 || column != 0 || (Span{}).Where() != "" {
		t.Errorf("no place is %d:%d", line, column)
	}
}

func TestOffset(t *testing.T) {
	f := &File{Text: "ab\r\nëx\n"}
	for _, c := range []struct{ line, column, want int }{{1, 1, 0}, {1, 3, 2}, {2, 1, 4}, {2, 3, 6}, {3, 1, 8},
		{2, 99, 8}, {0, 1, 8}, {9, 1, 8}} {
		if got := f.Offset(c.line, c.column); got != c.want {
			t.Errorf("%d:%d is byte %d, want %d", c.line, c.column, got, c.want)
		}
	}
}

func TestWithin(t *testing.T) {
	f := &File{Text: "0123456789"}
	s := Span{f, 3, 7}
	if got := s.Within(1, 3); got != (Span{f, 4, 6}) {
		t.Errorf("%+v", got)
	}
	if got := s.Within(2, 99); got != (Span{f, 5, 7}) {
		t.Errorf("cut: %+v", got)
	}
	if got := (Span{}).Within(1, 2); got != (Span{}) {
		t.Errorf("of no place: %+v", got)
	}
}

func TestPrint(t *testing.T) {
	long := strings.Repeat("x", 300)
	cases := []struct {
		name, text, mark string
		want             string
	}{
		{"word", "a = 1\nopne = 2\n", "opne", "s.toml:2:1: error: what; do [code]\n    2 | opne = 2\n      | ^~~~\n"},
		{"after tabs", "\tat\t= 3", "3", "s.toml:1:7: error: what; do [code]\n    1 | \tat\t= 3\n      | \t  \t  ^\n"},
		{"after runes", "näme = \"ü→\" # x", "\"ü→\"",
			"s.toml:1:8: error: what; do [code]\n    1 | näme = \"ü→\" # x\n      |        ^~~~\n"},
		{"CRLF", "a = 1\r\nb = 2\r\n", "2", "s.toml:2:5: error: what; do [code]\n    2 | b = 2\n      |     ^\n"},
		{"over two lines", "a = [\n1]", "[\n1]", "s.toml:1:5: error: what; do [code]\n    1 | a = [\n      |     ^\n"},
		{"control characters", "a = \x1b[2J\u0085 b", "b",
			"s.toml:1:11: error: what; do [code]\n    1 | a = \\u001b[2J\\u0085 b\n      |                     ^\n"},
		{"long before", long + "bad", "bad",
			"s.toml:1:301: error: what; do [code]\n    1 | …" + long[:70] + "bad\n      |  " + strings.Repeat(" ", 70) +
				"^~~\n"},
		{"long after", "bad" + long, "bad",
			"s.toml:1:1: error: what; do [code]\n    1 | bad" + long[:35] + "…\n      | ^~~\n"},
		{"long itself", long, long,
			"s.toml:1:1: error: what; do [code]\n    1 | " + long[:70] + "…\n      | ^" + strings.Repeat("~", 70) +
				"\n"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			f := &File{Name: "s.toml", Text: c.text}
			at := strings.Index(c.text, c.mark)
			var b strings.Builder
			Print(&b, []Problem{{Error, "code", Span{f, at, at + len(c.mark)}, "what", "do", nil}})
			if b.String() != c.want {
				t.Errorf("got\n%s\nwant\n%s", b.String(), c.want)
			}
		})
	}
}

func TestPrintNotesAndEdges(t *testing.T) {
	f := &File{Name: "s.toml", Text: "a = 1\nb = 2"}
	empty := &File{Name: "e.csv"}
	var b strings.Builder
	Print(&b, []Problem{
		{Warning, "twice", Span{f, 6, 7}, "given twice", "",
			[]Note{{Span{f, 0, 1}, "first here"}, {Span{}, "and nowhere"}}},
		{Error, "end", Span{f, 11, 11}, "ends too soon", "go on", nil},
		{Error, "empty-file", empty.Whole(), "empty", "", nil},
		{Error, "no-file", Span{}, "show.toml is missing", "", nil},
	})
	want := `s.toml:2:1: warning: given twice [twice]
    2 | b = 2
      | ^
  note: s.toml:1:1: first here
  note: and nowhere
s.toml:2:6: error: ends too soon; go on [end]
    2 | b = 2
      |      ^
e.csv:1:1: error: empty [empty-file]
error: show.toml is missing [no-file]
`
	if b.String() != want {
		t.Errorf("got\n%s\nwant\n%s", b.String(), want)
	}
}

func TestOpen(t *testing.T) {
	const limit = 64
	good := []struct{ name, raw, text string }{
		{"plain", "a = 1\n", "a = 1\n"},
		{"byte order mark", "\xEF\xBB\xBFa = 1", "a = 1"},
		{"only the mark", "\xEF\xBB\xBF", ""},
		{"empty", "", ""},
		{"as long as may be", strings.Repeat("x", limit), strings.Repeat("x", limit)},
		{"a replacement character that was written", "\uFFFD", "\uFFFD"},
	}
	for _, c := range good {
		if f, err := Open("f", []byte(c.raw), limit); err != nil || f.Text != c.text || f.Name != "f" {
			t.Errorf("%s: %+v, %v", c.name, f, err)
		}
	}
	bad := []struct{ name, raw, want string }{
		{"UTF-16 little-endian", "\xFF\xFEa\x00", "UTF-16"},
		{"UTF-16 big-endian", "\xFE\xFF\x00a", "UTF-16"},
		{"NUL", "ab\x00", "a NUL byte at offset 2"},
		{"Latin-1", "a\nb\nZo\xEB\n", "line 3 has the byte 0xEB"},
		{"cut rune", "\xE2\x86", "line 1 has the byte 0xE2"},
		{"surrogate", "\xED\xA0\x80", "line 1 has the byte 0xED"},
		{"bad after a written replacement character", "\uFFFD\n\xFF", "line 2 has the byte 0xFF"},
		{"too large", strings.Repeat("x", limit+1), "65 bytes long, over the limit of 64"},
	}
	for _, c := range bad {
		if f, err := Open("f", []byte(c.raw), limit); err == nil || f != nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", c.name, err, c.want)
		}
	}
}

func TestProblemsOrder(t *testing.T) {
	first, second := &File{Name: "z.toml", Text: "0123456789", Order: 1}, &File{Name: "a.toml", Text: "0123456789",
		Order: 2}
	var p Problems
	p.Error("b", Span{second, 0, 1}, "in the second file", "")
	p.Warn("w", Span{first, 5, 6}, "a warning", "")
	p.Error("b", Span{first, 5, 6}, "an error at the same place", "")
	p.Error("a", Span{first, 5, 6}, "z of another code", "")
	p.Error("c", Span{first, 2, 3}, "before them", "", Note{Span{}, "why"})
	p.Error("d", Span{}, "nowhere", "")
	p.Error("c", Span{first, 2, 3}, "before them", "")
	if p.Errors() != 6 {
		t.Errorf("%d errors, want 6: a warning is none", p.Errors())
	}
	var got []string
	for _, x := range p.All() {
		got = append(got, x.What)
	}
	want := "nowhere/before them/z of another code/an error at the same place/a warning/in the second file"
	if strings.Join(got, "/") != want {
		t.Errorf("got %s", strings.Join(got, "/"))
	}
	if again := p.All(); len(again) != 6 || len(again[1].Notes) != 1 {
		t.Errorf("a second listing differs: %+v", again)
	}
}

func TestNearest(t *testing.T) {
	names := []string{"Tpt 1", "Tpt 3", "Mello 1", "feature", "support", "x", "at"}
	cases := []struct{ word, want string }{
		{"Tpt 3", "Tpt 3"}, {"tpt 3", "Tpt 3"}, {"Tpt3", "Tpt 3"}, {"Tpt 2", "Tpt 1"}, {"featrue", "feature"},
		{"Featuer", "feature"},
		{"suport", "support"}, {"Melo 1", "Mello 1"}, {"ta", ""}, {"att", "at"}, {"X", "x"}, {"y", ""},
		{"trombone", ""}, {"", ""},
		{"feature of the whole", ""},
	}
	for _, c := range cases {
		if got := Nearest(c.word, names); got != c.want {
			t.Errorf("nearest to %q is %q, want %q", c.word, got, c.want)
		}
	}
	if got := DidYouMean("Tpt3", names, "no"); got != `did you mean "Tpt 3"?` {
		t.Error(got)
	}
	if got := DidYouMean("trombone", names, "see the roster"); got != "see the roster" {
		t.Error(got)
	}
	if got := DidYouMean("Tpt", nil, "nobody is there"); got != "nobody is there" {
		t.Error(got)
	}
}

func TestOneOf(t *testing.T) {
	if got := OneOf([]string{"a", "b c"}); got != `one of "a", "b c"` {
		t.Error(got)
	}
	if got := OneOf(strings.Split(strings.Repeat("x ", 13)+"x", " ")); got != "one of "+strings.Repeat(`"x", `, 12)+
		"... (14 in all)" {
		t.Error(got)
	}
}

func TestCount(t *testing.T) {
	for _, c := range []struct {
		n    float64
		want string
	}{{0, "0 counts"}, {1, "1 count"}, {2, "2 counts"}, {0.5, "0.5 counts"}, {-1, "-1 counts"},
		{2e6, "2000000 counts"}} {
		if got := Count(c.n, "count"); got != c.want {
			t.Errorf("%g: %q, want %q", c.n, got, c.want)
		}
	}
}

// What is said of a closed place afterwards counts, and is not listed; what was said before stays.
func TestClose(t *testing.T) {
	f := &File{Name: "s.toml", Text: "a = nan"}
	at := Span{f, 4, 7}
	var p Problems
	p.Error("not-finite", at, "no number", "")
	p.Close(at)
	p.Error("out-of-range", at, "0 is too small", "")
	p.Warn("odd", at, "0 is odd", "")
	p.Error("wide", Span{f, 0, 7}, "about the whole line", "")
	if all := p.All(); len(all) != 2 || all[0].Code != "wide" || all[1].Code != "not-finite" {
		t.Errorf("%+v", all)
	}
	if p.Errors() != 3 {
		t.Errorf("%d errors, want 3", p.Errors())
	}
}
