package table

import (
	"fmt"
	"math"
	"reflect"
	"strings"
	"testing"
	"time"

	"backfield/layout/source"
	"backfield/layout/unit"
)

// place is a value of two shapes, as a show's file has them.
type place struct {
	Word string
	X    Num
	Span source.Span
}

func (p *place) DecodeNode(n *Node, problems *source.Problems) {
	p.Span = n.Span
	if n.Kind == String {
		p.Word = n.Text
		return
	}
	var t struct {
		X Num `key:"x,required"`
	}
	Decode(n, &t, problems)
	p.X = t.X
}

type mic struct {
	Where
	Name    Text     `key:"name,required"`
	Channel Int      `key:"channel,required"`
	At      place    `key:"at"`
	Height  Quantity `key:"height"`
}

type file struct {
	Title Text            `key:"title,required"`
	Gain  Num             `key:"gain"`
	Keep  Flag            `key:"keep"`
	Air   Quantity        `key:"air"`
	Mics  []mic           `key:"mic"`
	Open  Map[[]Text]     `key:"open"`
	Nudge Map[Num]        `key:"nudge"`
	Band  Map[mic]        `key:"band"`
	Lines []Map[Num]      `key:"line"`
	Plain struct{ A int } // no key: not of the file
}

func decodeText(text string) (file, *source.Problems) {
	f := &source.File{Name: "t.toml", Text: text}
	var p source.Problems
	var into file
	Decode(ReadTOML(f, &p), &into, &p)
	return into, &p
}

// told is the problems as lines: place, code, the marked text, what to do.
func told(p *source.Problems) string {
	var b strings.Builder
	for _, x := range p.All() {
		line, column := x.Span.Position()
		fmt.Fprintf(&b, "%d:%d %s <%s> %s\n", line, column, x.Code, x.Span.File.Text[x.Span.Start:x.Span.End], x.Do)
	}
	return b.String()
}

func TestDecodeProblems(t *testing.T) {
	cases := []struct{ name, text, want string }{
		{"nothing", "title = 'a'\n", ""},
		{"misspelt", "title = 'a'\ngian = 2\n", "2:1 unknown-key <gian> did you mean \"gain\"?\n"},
		{"unknown", "title = 'a'\nvolume = 2\n",
			"2:1 unknown-key <volume> it is one of \"title\", \"gain\", \"keep\", \"air\", \"mic\", \"open\", " +
				"\"nudge\", \"band\", \"line\"\n"},
		{"other case", "Title = 'a'\n", "1:1 unknown-key <Title> did you mean \"title\"? Keys are in small letters\n"},
		{"a taken name is no guess", "title = 'a'\ngain = 1\ngian = 2\n",
			"3:1 unknown-key <gian> it is one of \"title\", \"gain\", \"keep\", \"air\", \"mic\", \"open\", " +
				"\"nudge\", \"band\", \"line\"\n"},
		{"missing at the top", "gain = 1\n", "1:1 missing-key <> add it\n"},
		{"missing in a table", "title = ''\n[[mic]]\nname = 'x' # no channel\n", "2:1 missing-key <[[mic]]> add it\n"},
		{"misspelt is not missing too", "titel = 'a'\n", "1:1 unknown-key <titel> did you mean \"title\"?\n"},
		{"string for number", "title = 'a'\ngain = 'loud'\n",
			"2:8 wrong-type <'loud'> see the reference page of this file (backfield help)\n"},
		{"number for string", "title = 3\n",
			"1:9 wrong-type <3> put it in quotes: \"3\"\n"},
		{"date for string", "title = 1979-05-27\n",
			"1:9 wrong-type <1979-05-27> put it in quotes: \"1979-05-27\"\n"},
		{"fraction for whole", "title = ''\n[[mic]]\nname = 'x'\nchannel = 1.5\n",
			"4:11 wrong-type <1.5> see the reference page of this file (backfield help)\n"},
		{"too large for whole", "title = ''\n[[mic]]\nname = 'x'\nchannel = 9_000_000_000\n",
			"4:11 wrong-type <9_000_000_000> see the reference page of this file (backfield help)\n"},
		{"string for flag", "title = ''\nkeep = \"yes\"\n",
			"2:8 wrong-type <\"yes\"> write true or false\n"},
		{"name for list", "title = ''\nopen.feature = 'Tpt 1'\n",
			"2:16 wrong-type <'Tpt 1'> write open.feature = ['Tpt 1']\n"},
		{"table for list", "title = ''\n[mic]\nname = 'x'\n",
			"2:1 wrong-type <[mic]> write [[mic]] with double brackets: each one is a separate entry\n"},
		{"list for table", "title = ''\nopen = ['x']\n",
			"2:8 wrong-type <['x']> see the reference page of this file (backfield help)\n"},
		{"wrong item", "title = ''\nopen.feature = ['a', 2, 'c', true]\n",
			"2:22 wrong-type <2> put it in quotes: \"2\"\n2:30 wrong-type <true> put it in quotes: \"true\"\n"},
		{"table for quantity", "title = ''\nair = {}\n",
			"2:7 wrong-type <{}> see the reference page of this file (backfield help)\n"},
		{"no quantity", "title = ''\nair = 'warm'\n",
			"2:7 bad-quantity <'warm'> write a number and its unit, such as \"18 ft\"\n"},
		{"not finite", "title = ''\ngain = -inf\n", "2:8 not-finite <-inf> write a plain number\n"},
		{"inside a value of two shapes", "title = ''\n[[mic]]\nname = 'x'\nchannel = 1\nat = { y = 1 }\n",
			"5:6 missing-key <{ y = 1 }> add it\n5:8 unknown-key <y> it is one of \"x\"\n"},
		{"same name twice", "title = 'a'\ntitle = 'b'\n",
			"2:1 duplicate-key <title> keep one of the two; the rest of this file is not checked until then\n"},
		{"same table twice", "[open]\n[nudge]\n[open]\n",
			"3:2 duplicate-key <open> write [[open]] with double brackets if each one is a separate entry; otherwise " +
				"keep one of the two; the rest of this file is not checked until then\n"},
		{"of two shapes", "title = 'a'\nopen.feature = ['x']\nopen = 2\n",
			"3:1 duplicate-key <open> keep one of the two\n"},
		{"syntax", "title = 'a'\ngain = = 2\n",
			"2:8 toml-syntax <=> remove it; the rest of this file is not checked until then\n"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			_, p := decodeText(c.text)
			got := told(p)
			if got != c.want {
				t.Errorf("got\n%swant\n%s", got, c.want)
			}
		})
	}
}

func TestDecodeValues(t *testing.T) {
	text := `title = "Harbor"
gain = -3
keep = true
air = "75 F"
open.feature = ["Tpt 3", "@mello"]
open."guard solo" = []
nudge = { "Tpt 3" = 1.5, b = -2 }
line = [ { a = 1 }, { b = 2 } ]

[[mic]]
name = "field"
channel = 41
at = "on 50"
height = "5 ft 6 in"

[[mic]]
name = "pit"
channel = 42.0
at = { x = -3.5 }

[band.low]
name = "x"
channel = 7
`
	got, p := decodeText(text)
	if p.Errors() != 0 {
		t.Fatal(told(p))
	}
	marked := func(s source.Span) string { return text[s.Start:s.End] }
	if got.Title.V != "Harbor" || got.Gain.V != -3 || !got.Keep.V || marked(got.Gain.Span) != "-3" {
		t.Errorf("scalars: %+v", got)
	}
	if v := got.Air.In(unit.Temperature, 0, p); math.Abs(v-215./9) > 1e-12 {
		t.Errorf("air %v", v)
	}
	if len(got.Open.Entries) != 2 || got.Open.Entries[0].Name.V != "feature" ||
		got.Open.Entries[1].Name.V != "guard solo" ||
		marked(got.Open.Entries[1].Name.Span) != `"guard solo"` || len(got.Open.Entries[0].Value) != 2 ||
		marked(got.Open.Entries[0].Value[1].Span) != `"@mello"` || got.Open.Entries[1].Value == nil {
		t.Errorf("open: %+v", got.Open)
	}
	if len(got.Nudge.Entries) != 2 || got.Nudge.Entries[0].Value.V != 1.5 || got.Nudge.Entries[1].Name.V != "b" {
		t.Errorf("nudge: %+v", got.Nudge)
	}
	if len(got.Lines) != 2 || got.Lines[1].Entries[0].Value.V != 2 {
		t.Errorf("lines: %+v", got.Lines)
	}
	if len(got.Mics) != 2 || got.Mics[0].Channel.V != 41 || got.Mics[0].At.Word != "on 50" ||
		got.Mics[1].At.X.V != -3.5 ||
		got.Mics[1].Channel.V != 42 || marked(got.Mics[1].Where.Span) != "[[mic]]" ||
		got.Mics[1].Where.Span.Start <= got.Mics[0].Where.Span.Start {
		t.Errorf("mics: %+v", got.Mics)
	}
	if v := got.Mics[0].Height.In(unit.Length, 0, p); math.Abs(v-1.6764) > 1e-12 {
		t.Errorf("height %v", v)
	}
	if v := got.Mics[1].Height.In(unit.Length, 1.5, p); v != 1.5 || got.Mics[1].Height.Set {
		t.Errorf("default height %v", v)
	}
	if got.Band.Entries[0].Value.Channel.V != 7 || marked(got.Band.Entries[0].Name.Span) != "low" {
		t.Errorf("band: %+v", got.Band)
	}
	if (Num{}).Or(4) != 4 || got.Gain.Or(4) != -3 {
		t.Error("Or")
	}
	if p.Errors() != 0 {
		t.Error(told(p))
	}
	if v := got.Air.In(unit.Length, 9, p); v != 9 || p.Errors() != 1 ||
		!strings.HasPrefix(told(p), "4:7 bad-quantity <\"75 F\">") {
		t.Errorf("75 F as a length is %v, %s", v, told(p))
	}
}

// TestFirstShapeCounts: of a name given in two shapes the first is read, so that the fault is reported once.
func TestFirstShapeCounts(t *testing.T) {
	got, p := decodeText("title = ''\nopen.feature = ['x']\nopen = 2\n")
	if len(got.Open.Entries) != 1 || got.Open.Entries[0].Value[0].V != "x" || p.Errors() != 1 {
		t.Errorf("%+v, %s", got.Open, told(p))
	}
}

// TestManyFaults: all of them, in the order of the file, the same in every run.
func TestManyFaults(t *testing.T) {
	var b strings.Builder
	b.WriteString("title = 1\n")
	for i := range 50 {
		fmt.Fprintf(&b, "stranger%d = %d\n", i, i)
	}
	for range 50 {
		b.WriteString("[[mic]]\nname = 2\nchanel = 3\nheight = 'x'\n")
	}
	_, p := decodeText(b.String())
	first := told(p)
	if n := strings.Count(first, "\n"); n != 1+50+150 {
		t.Errorf("%d faults told, want 201", n)
	}
	all := p.All()
	for i := 1; i < len(all); i++ {
		if all[i].Span.Start < all[i-1].Span.Start {
			t.Fatal("not in order")
		}
	}
	for range 20 {
		if _, p := decodeText(b.String()); told(p) != first {
			t.Fatal("another order in another run")
		}
	}
}

func TestKeys(t *testing.T) {
	want := []string{"title", "gain", "keep", "air", "mic", "mic.name", "mic.channel", "mic.at", "mic.height", "open",
		"nudge", "band", "line"}
	if got := Keys(file{}); !reflect.DeepEqual(got, want) {
		t.Errorf("got %q", got)
	}
}

func TestLimits(t *testing.T) {
	deep := func(n int) string { return "a = " + strings.Repeat("[", n) + strings.Repeat("]", n) + "\n" }
	cases := []struct {
		name, text string
		at         int // of the problem, -1 for none
	}{
		{"a file of brackets", strings.Repeat("[", TOMLLimit), deepest},
		{"behind a number sign in a string", "a = ['#', " + strings.Repeat("[", TOMLLimit-20), 10 + deepest - 1},
		{"braces", "a = " + strings.Repeat("{a=", 1000), 4 + 3*deepest},
		{"as deep as may be", deep(deepest), -1},
		{"one deeper", deep(deepest + 1), 4 + deepest},
		{"a dotted key", strings.Repeat("a.", 400_000) + "a = 1", 2*deepest + 1},
		{"a dotted header", "[" + strings.Repeat("a.", 400_000) + "a]", 2*deepest + 2},
		{"brackets in a string", "a = '" + strings.Repeat("[", 1000) + "'\n", -1},
		{"brackets in a long string", "a = \"\"\"\n" + strings.Repeat("[", 1000) + "\"\n\"\"\"\n", -1},
		{"brackets in a comment", "# it's\n# " + strings.Repeat("[", 1000) + "\na = 1\n", -1},
		{"dots in a string", "a = \"" + strings.Repeat(".", 1000) + "\"\n", -1},
		{"points in numbers", "a = [" + strings.Repeat("1.5, ", 1000) + "]\n", -1},
		{"points in lines", strings.Repeat("# x\n", 10) + manyKeys(500, "k%d = 1.5\n"), -1},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			var p source.Problems
			began := time.Now()
			ReadTOML(&source.File{Name: "x", Text: c.text}, &p)
			if d := time.Since(began); d > 2*time.Second {
				t.Errorf("took %v", d)
			}
			switch all := p.All(); {
			case c.at < 0 && len(all) > 0:
				t.Errorf("%v: %s", all[0].Span.Where(), all[0].What)
			case c.at >= 0 &&
				(len(all) != 1 || all[0].Code != "toml-syntax" || all[0].Span.Start != c.at ||
					!strings.HasPrefix(all[0].What, "nested")):
				t.Errorf("want one problem at %d, got %+v", c.at, all)
			}
		})
	}
}

func manyKeys(n int, format string) string {
	var b strings.Builder
	for i := range n {
		fmt.Fprintf(&b, format, i)
	}
	return b.String()
}

// TestCostGrowsWithTheFile: ten times the keys take about ten times as long; a quadratic reader would take
// a hundred times.
func TestCostGrowsWithTheFile(t *testing.T) {
	for _, format := range []string{"k%d = 1\n", "[[c]]\na = %d\n", "a.b%d.c = 1\n", "[t%d]\n"} {
		cost := func(n int) time.Duration {
			text := manyKeys(n, format)
			best := time.Hour
			for range 2 {
				var p source.Problems
				began := time.Now()
				root := ReadTOML(&source.File{Name: "x", Text: text}, &p)
				best = min(best, time.Since(began))
				if p.Errors() != 0 || len(root.Fields) == 0 {
					t.Fatalf("%q: %+v", format, p.All())
				}
			}
			return best
		}
		for try := 1; ; try++ { // a machine that is busy with something else says nothing
			small, large := cost(4_000), cost(40_000)
			if large <= 40*small {
				break
			}
			if try == 5 {
				t.Errorf("%q: 4,000 take %v and 40,000 take %v", format, small, large)
				break
			}
		}
	}
}
