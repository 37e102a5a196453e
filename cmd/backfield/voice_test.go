package main

import (
	"bytes"
	"regexp"
	"strings"
	"testing"
	"time"

	"backfield/layout/source"
)

// A bar is drawn only for work that takes long, and written over; where nobody can be drawn for it is a line now and then.
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
		b := progressBar{w: &out, what: "compiling", drawn: c.drawn, last: c.last}
		b.show(0.5)
		b.show(0.51) // too soon after the first
		b.end()
		if out.String() != c.want {
			t.Errorf("drawn %v: %q, want %q", c.drawn, out.String(), c.want)
		}
	}
	if full := barOf(100); full != "["+strings.Repeat("#", barWidth)+"]" {
		t.Error(full)
	}
}

// The regular expressions of editors.md find in the output what they say.
func TestEditorsExpressions(t *testing.T) {
	rows := regexp.MustCompile("(?m)^\\| ([a-z ]+) \\| `(\\^.*\\$)`").FindAllStringSubmatch(helpPage(t, "editors"), -1)
	find := map[string]*regexp.Regexp{}
	for _, r := range rows {
		find[r[1]] = regexp.MustCompile(strings.ReplaceAll(r[2], `\|`, "|"))
	}
	if len(find) != 3 {
		t.Fatalf("%d expressions", len(find))
	}
	f := &source.File{Name: "a b/show.toml", Text: "x = 1\ny: z = [2]\n"}
	var out bytes.Buffer
	source.Print(&out, []source.Problem{{Severity: source.Warning, Code: "some-code", Span: source.Span{File: f, Start: 9, End: 10}, What: "this: is [odd]", Do: "mend it"}})
	line, rest, _ := strings.Cut(out.String(), "\n")
	m := find["a problem"].FindStringSubmatch(line)
	if want := []string{line, "a b/show.toml", "2", "4", "warning", "this: is [odd]; mend it", "some-code"}; strings.Join(m, "|") != strings.Join(want, "|") {
		t.Errorf("%q, want %q", m, want)
	}
	for _, other := range strings.Split(rest, "\n") {
		if find["a problem"].MatchString(other) {
			t.Errorf("%q is taken for a problem", other)
		}
	}
	for what, line := range map[string]string{"a pass begins": "checking s/show.toml", "a pass ends": "checked s/show.toml: no problems"} {
		if !find[what].MatchString(line) {
			t.Errorf("%s: %q is not found", what, line)
		}
	}
}
