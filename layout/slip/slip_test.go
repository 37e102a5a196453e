package slip_test

import (
	"strings"
	"testing"

	"backfield/layout/source"
	"backfield/layout/table"
)

// Each slip is told as what was meant, at the place that has it: line and column of the text, then what and what to do.
func TestSlips(t *testing.T) {
	const cue = "[[cue]]\nid = \"2\"\n"
	for _, c := range []struct{ text, want string }{
		{"title = Harbor\n", `1:9 Harbor has no quotes; put it in quotes: "Harbor"`},
		{"a = ____\n", "1:5 this blank is not filled in; fill it in, or remove the line"},
		{"a = 1\nnoise = { stack = \"a__b\", dba = ____ }\nring = [{ fader = ____ }]\n",
			"2:33 this blank is not filled in, nor are 1 after it; fill it in, or remove the line"},
		{"title = “Harbor”\n", `1:9 this is a curly quote; use straight quotes (")`},
		{"gain = True\n", "1:8 True is not a value; write true or false"},
		{"gain = 4,5\n", "1:8 4,5 has a comma; write decimals with a period: 4.5"},
		{"t = { at = 1, bpm = 152,5, over = 2 }\n", "1:21 152,5 has a comma; write decimals with a period: 152.5"},
		{"title: \"Harbor\"\n", "1:1 title has a colon after it; write title = ..."},
		{"t = { at: 1 }\n", "1:7 at has a colon after it; write at = ..."},
		{"a = 1\n[cue]\nid = \"1\"\n\n" + cue, "2:1 [cue] has single brackets; write [[cue]] with double brackets: each one " +
			"is a separate entry"},
		{cue + "[cue]\nid = \"3\"\n", "3:2 [cue] has single brackets; write [[cue]] with double brackets: each one is " +
			"a separate entry"},
		{"[always\npit = 1\n", "1:1 a bracket is missing; write [always]"},
		{"[[cue]\nid = 1\n", "1:1 a bracket is missing; write [[cue]]"},
		{"[cue]]\nid = 1\n", "1:1 a bracket is missing; write [[cue]]"},
		{"[cue\nid = 1\n" + cue, "1:1 a bracket is missing; write [[cue]]"},
		{"open = [\"a\", \"b\"\nid = 1\n", "1:8 this list has no closing ]; add it"},
		{"t = [\n  { at = 1,\n  { at = 2 },\n]\n", "2:3 this table has no closing }; add it"},
		{"t = [\n  at = 1 },\n]\n", "2:3 this table has no opening {; add it"},
		{"title = \"Harbor\nid = 1\n", `1:9 a quote in this line has no partner; put each name between two quotes ("), ` +
			"and look at the one before this, too"},
		{"open = [\"a\" \"b\"]\n", "1:13 a comma is missing before this; put a comma between the two"},
		{"title \"Harbor\"\n", "1:7 title has no = after it; write title = ..."},
		{"title == \"Harbor\"\n", "1:8 there is an = too many; remove it"},
		{"title =\n", "1:8 title has no value; write one after the =, or remove the line"},
		{"gain = .5\n", "1:8 .5 is no number in TOML; write 0.5"},
		{"gain = 5.\n", "1:8 5. is no number in TOML; write 5.0"},
		{"gain = 02\n", "1:8 02 is no number in TOML; write 2"},
		{"gain = −9\n", "1:8 this is a dash, not a minus sign; write - as on the keyboard"},
		{"a = 1 b = 2\n", "1:7 two keys are in one line; put each in a line of its own"},
		{"a = \"x\";\n", "1:8 a line does not end with ;; remove it"},
		{"a = \"x\",\n", "1:8 a line does not end with ,; remove it"},
		{"a = \"x\" // y\n", "1:9 a comment begins with #; write # instead"},
		{"[mix] roles, in dB\na = 1\n", "1:7 words are after the header [mix]; put # before them if they are a comment"},
		{"[mix] a = 1\n", "1:7 a key is in the line of a header; put it in a line of its own"},
		{"mix\na = 1\n", "1:1 mix is alone in its line; write [mix] if it is a header, mix = ... if it is a key, # " +
			"before it if it is a comment"},
		{"cue\nid = 1\n" + cue, "1:1 cue is alone in its line; write [[cue]] if it is a header, cue = ... if it is a " +
			"key, # before it if it is a comment"},
		{"roles in dB\n", "1:1 this line has no =; put # before it if it is a comment"},
		{"// roles = dB\n", "1:1 a comment begins with #; write # instead"},
		{"; roles\n", "1:1 a comment begins with #; write # instead"},
		{"{midi]\na = 1\n", "1:1 the brackets of this header are wrong; write [midi]"},
		{"(midi)\na = 1\n", "1:1 the brackets of this header are wrong; write [midi]"},
		{"[midi}\na = 1\n", "1:1 the brackets of this header are wrong; write [midi]"},
		{"midi]\na = 1\n", "1:1 the brackets of this header are wrong; write [midi]"},
		{"drill = { sets = \"a\", dots = \"b\"\nrig = 1\n", "1:9 this table has no closing }; add it"},
		{"jump = [{ on = \"a\", to = \"3\" ]\n", "1:9 this table has no closing }; add it"},
		{"a = 'the baritone's entry'\n", "1:18 a text in single quotes ends at this apostrophe; put the text in double " +
			"quotes (\")"},
		{"a = ['x', 'Ann's']\n", "1:15 a text in single quotes ends at this apostrophe; put the text in double quotes (\")"},
		{"a = 'x\nb = 1\n", `1:5 a quote in this line has no partner; put each name between two quotes ("), and look at ` +
			"the one before this, too"},
		{"a = { b = 1; c = 2 }\n", "1:12 a semicolon is here; write a comma instead"},
		{"a = [1; 2]\n", "1:7 a semicolon is here; write a comma instead"},
		{"fade = 2 counts\n", "1:8 2 counts is not a number; write the number of counts alone: 2"},
		{"gain = - 9\n", "1:8 a space is after the minus sign; write -9"},
		{"a = \"x\", \"y\"\n", `1:8 several values are after one key; put them in a list: ["...", "..."]`},
		// What is wrong in a line of its own hides no other line.
		{"[mix] roles\na = -9 dB\n[[cue]\nfade = 2 counts\ngo = note 60\nback = “x”\n",
			"1:7 words are after the header [mix]; put # before them if they are a comment|" +
				`2:5 -9 dB has no quotes; put it in quotes: "-9 dB"|3:1 a bracket is missing; write [[cue]]|` +
				"4:8 2 counts is not a number; write the number of counts alone: 2|" +
				`5:6 note 60 has no quotes; put it in quotes: "note 60"|` +
				`6:8 this is a curly quote; use straight quotes (")`},
		{"a = [\n  1; 2,\n]\nb = x\n", "2:4 a semicolon is here; write a comma instead"},
		{"a = (1, 2)\n", `1:5 a list has square brackets; write ["...", "..."]`},
	} {
		f := &source.File{Name: "show.toml", Text: c.text}
		var p source.Problems
		table.ReadTOML(f, &p)
		var got []string
		for _, x := range p.All() {
			got = append(got, strings.TrimPrefix(x.Span.Where(), "show.toml:")+" "+x.What+"; "+
				strings.TrimSuffix(x.Do, "; the rest of this file is not checked until then"))
		}
		if strings.Join(got, "|") != c.want {
			t.Errorf("%q\n%s\nwant\n%s", c.text, strings.Join(got, "|"), c.want)
		}
	}
}
