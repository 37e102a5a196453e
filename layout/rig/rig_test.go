package rig

import (
	"fmt"
	"strings"
	"testing"

	"backfield/layout/source"
)

const plain = `air = "20 C"
latency = "4 ms"
[reference]
x = 0
y = -30
z = 15
[[stands]]
front = { y = -12, z = 2, width = 60 }
back = { y = -40, z = 18, width = 90 }
rows = 6
seats = 20
[[stack]]
name = "left"
at = { x = -20, y = -2, z = 2.5 }
[[stack]]
name = "right"
at = { x = 20, y = -2, z = 2.5 }
`

// What can be built but is most likely a mistake is reported at its place; what is usual is not.
func TestPlausible(t *testing.T) {
	for name, c := range map[string]struct{ old, new, want string }{
		"as it should be":         {"", "", ""},
		"a slow network":          {`"4 ms"`, `"50 ms"`, ""},
		"latency":                 {`"4 ms"`, `"51 ms"`, "2:11 long-latency a latency of 51 ms"},
		"reference":               {"y = -30", "y = 30", "5:5 seat-on-field the reference seat is 30 m"},
		"reference on the line":   {"y = -30", "y = 0", "5:5 seat-on-field the reference seat is 0 m"},
		"stand":                   {"y = -12", "y = 12", "7:1 seat-on-field these stands reach 12 m"},
		"stack":                   {"x = 20, y = -2", "x = 20, y = 2", `16:8 stack-on-field stack "right" is 2 m`},
		"stack on the line":       {"x = 20, y = -2", "x = 20, y = 0.5", ""},
		"stacks side by side":     {"x = 20", "x = -15.5", `13:8 narrow-stacks the stacks span 6.6 degrees`},
		"stacks 10 degrees apart": {"x = 20", "x = -13", ""},
		"zones need no pan":       {"x = 20, y = -2, z = 2.5 }", "x = -15.5, y = -2, z = 2.5 }\nzone = 2", "feed"},
	} {
		text := strings.Replace(plain, c.old, c.new, 1)
		if c.want == "feed" {
			text, c.want = "feed = \"zones\"\n"+
				strings.Replace(text, "x = -20, y = -2, z = 2.5 }", "x = -20, y = -2, z = 2.5 }\nzone = 1", 1), ""
		}
		f, err := source.Open("rig", []byte(text), 1<<20)
		if err != nil {
			t.Fatal(err)
		}
		var p source.Problems
		Read(f, nil, &p)
		var got []string
		for _, x := range p.All() {
			got = append(got, fmt.Sprintf("%s %s %s", strings.TrimPrefix(x.Span.Where(), "rig:"), x.Code, x.What))
		}
		if c.want == "" && len(got) > 0 || c.want != "" && (len(got) != 1 || !strings.HasPrefix(got[0], c.want)) {
			t.Errorf("%s: %s, want %s", name, strings.Join(got, "\n"), c.want)
		}
	}
}

// Readings are of one place: a venue has its own, or none.
func TestReadingsStayAtTheirPlace(t *testing.T) {
	file := func(name, text string) *source.File { return &source.File{Name: name, Text: text} }
	home := "[reference]\nx = 0\ny = -30\nz = 15\n[[stack]]\nname = \"a\"\nat = { x = 0, y = -2 }\n[levels]\nbackground = 47\n" +
		"noise = { stack = \"a\", dba = 66.5 }\n"
	var p source.Problems
	if r := Read(file("rig", home), nil, &p); r.Levels.Noise == nil || r.Levels.Noise.DBA != 66.5 ||
		*r.Levels.BackgroundDBA != 47 || r.HumidityPct != 50 || r.BellUpDeg != 10 {
		t.Errorf("at home: %+v, %g %%, %g degrees", r.Levels, r.HumidityPct, r.BellUpDeg)
	}
	if r := Read(file("rig", home), file("venue", "humidity = 80\n"), &p); r.Levels.Noise != nil || r.Levels.BackgroundDBA != nil ||
		r.HumidityPct != 80 {
		t.Errorf("away: %+v, %g %%", r.Levels, r.HumidityPct)
	}
	if r := Read(file("rig", home), file("venue", "[levels]\nbackground = 50\n"), &p); r.Levels.Noise != nil ||
		*r.Levels.BackgroundDBA != 50 {
		t.Errorf("away, with a background: %+v", r.Levels)
	}
}
