package problemlist

import (
	"strings"
	"testing"

	"backfield/layout/source"
)

func TestTally(t *testing.T) {
	warning, fault := source.Problem{Severity: source.Warning}, source.Problem{Severity: source.Error}
	for want, list := range map[string][]source.Problem{
		"no problems":         nil,
		"1 error":             {fault},
		"2 warnings":          {warning, warning},
		"2 errors, 1 warning": {fault, warning, fault},
	} {
		if got := Tally(list); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

// A pass begins and ends with a line of its own, and has a line for each problem, with its place and notes.
func TestWritePass(t *testing.T) {
	f := &source.File{Name: "show.toml", Text: "a = 1\nbé = [2]\n"}
	list := []source.Problem{
		{Severity: source.Error, Code: "wrong-type", Span: source.Span{File: f, Start: 12, End: 15}, What: "b is <odd>",
			Do:    "fix it",
			Notes: []source.Note{{Span: source.Span{File: f, Start: 0, End: 1}, Text: "as here"}}},
		{Severity: source.Warning, Code: "nowhere", What: "no place"},
	}
	idle := []source.Idle{{Span: source.Span{File: f, Start: 0, End: 1}, What: `the column "a"`}}
	var b strings.Builder
	if err := WritePass(&b, "show.toml", list, idle); err != nil {
		t.Fatal(err)
	}
	want := `{"event":"begin","show":"show.toml"}
{"event":"problem","file":"show.toml","line":2,"column":6,"endLine":2,"endColumn":9,"severity":"error",` +
		`"code":"wrong-type","message":"b is <odd>","do":"fix it",` +
		`"notes":[{"file":"show.toml","line":1,"column":1,"text":"as here"}]}
{"event":"problem","file":"","line":0,"column":0,"endLine":0,"endColumn":0,"severity":"warning",` +
		`"code":"nowhere","message":"no place","do":"","notes":[]}
{"event":"problem","file":"show.toml","line":1,"column":1,"endLine":1,"endColumn":2,"severity":"info",` +
		`"code":"no-effect","message":"no effect: the column \"a\"","do":"","notes":[]}
{"event":"end","show":"show.toml","errors":1,"warnings":1}
`
	if b.String() != want {
		t.Errorf("%s\nwant\n%s", b.String(), want)
	}
}
