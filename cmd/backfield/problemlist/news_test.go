package problemlist

import (
	"fmt"
	"strings"
	"testing"

	"backfield/layout/source"
)

// After a save, errors are reported always, and a warning when it comes and when it goes, however its line moves.
func TestNews(t *testing.T) {
	f := &source.File{Name: "show.toml", Text: strings.Repeat("x\n", 9)}
	other := &source.File{Name: "rig.toml", Text: "x"}
	of := func(severity source.Severity, file *source.File, line int, what string) source.Problem {
		return source.Problem{Severity: severity, Code: "c", Span: source.Span{File: file, Start: 2 * (line - 1)},
			What: what}
	}
	warn := func(line int, what string) source.Problem { return of(source.Warning, f, line, what) }
	fail := func(line int, what string) source.Problem { return of(source.Error, f, line, what) }
	type list = []source.Problem
	for name, c := range map[string]struct {
		known, now list
		want       string // fresh, then gone
	}{
		"nothing":                    {nil, nil, ""},
		"new":                        {nil, list{warn(1, "a")}, "a "},
		"known":                      {list{warn(1, "a")}, list{warn(1, "a")}, ""},
		"moved":                      {list{warn(1, "a"), warn(2, "b")}, list{warn(5, "a"), warn(6, "b")}, ""},
		"gone":                       {list{warn(1, "a"), warn(2, "b")}, list{warn(2, "b")}, "-a "},
		"one for another":            {list{warn(1, "a")}, list{warn(1, "b")}, "b -a "},
		"the same again":             {list{warn(1, "a")}, list{warn(1, "a"), warn(3, "a")}, "a "},
		"one of two alike":           {list{warn(1, "a"), warn(3, "a")}, list{warn(3, "a")}, "-a "},
		"in another file":            {list{warn(1, "a")}, list{of(source.Warning, other, 1, "a")}, "a -a "},
		"an error is said each time": {list{warn(1, "a")}, list{fail(1, "e"), warn(1, "a")}, "e "},
		"a warning became an error":  {list{warn(1, "a")}, list{fail(1, "a")}, "a -a "},
		"without a place": {list{{Severity: source.Warning, What: "a"}},
			list{{Severity: source.Warning, What: "a"}}, ""},
	} {
		fresh, gone := News(c.known, c.now)
		got := ""
		for _, p := range fresh {
			got += p.What + " "
		}
		for _, p := range gone {
			got += fmt.Sprintf("-%s ", p.What)
		}
		if got != c.want {
			t.Errorf("%s: %q, want %q", name, got, c.want)
		}
	}
}
