package main

import (
	"bytes"
	"regexp"
	"strings"
	"testing"

	"backfield/layout/source"
)

// The regular expressions of editors.md find in the output what they say.
func TestEditorsExpressions(t *testing.T) {
	t.Parallel()
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
	source.Print(&out, []source.Problem{{Severity: source.Warning, Code: "some-code",
		Span: source.Span{File: f, Start: 9, End: 10}, What: "this: is [odd]", Do: "fix it"}})
	line, rest, _ := strings.Cut(out.String(), "\n")
	m := find["a problem"].FindStringSubmatch(line)
	if want := []string{line, "a b/show.toml", "2", "4", "warning", "this: is [odd]; fix it",
		"some-code"}; strings.Join(m, "|") != strings.Join(want, "|") {
		t.Errorf("%q, want %q", m, want)
	}
	for _, other := range strings.Split(rest, "\n") {
		if find["a problem"].MatchString(other) {
			t.Errorf("%q is taken for a problem", other)
		}
	}
	for what, line := range map[string]string{"a pass begins": "checking s/show.toml",
		"a pass ends": "checked s/show.toml: no problems"} {
		if !find[what].MatchString(line) {
			t.Errorf("%s: %q is not found", what, line)
		}
	}
}
