package show_test

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"backfield/cmd/backfield/show"
	"backfield/layout/source"
)

// starter is the show that "backfield new" makes, by file name.
func starter(t *testing.T) files {
	t.Helper()
	all := files{}
	for _, name := range []string{"show.toml", "rig.toml", "mixer.toml", "roster.csv", "sets.csv", "dots.csv"} {
		data, err := os.ReadFile(filepath.Join("../../../testdata/new", name))
		if err != nil {
			t.Fatal(err)
		}
		all[name] = string(data)
	}
	return all
}

// A slip that people make by habit gets one problem, in the right place, that says what to write instead.
func TestHabits(t *testing.T) {
	for _, c := range []struct{ name, file, old, now, want string }{
		{"a name for a list of codes", "show.toml", `fade         = 4`, `allow = "walks-open"`,
			"show.toml:51:9 <\"walks-open\"> this must be a list of names, such as [\"Tpt 1\"], but is a string; " +
				"write allow = [\"walks-open\"] [wrong-type]\n"},
		{"a name with a space as a key", "show.toml", `{ "Bari 1" = 1.5 }`, `{ Bari 1 = 1 }`,
			"show.toml:72:18 <Bari 1> this name has a space in it; put a name with a space in quotes: \"Bari " +
				"1\"; the rest of this file is not checked until then [toml-syntax]\n"},
		{"a nudge as a list", "show.toml", `{ "Bari 1" = 1.5 }`, `["Bari 1", 1.0]`,
			"show.toml:72:16 <[\"Bari 1\", 1.0]> this must be a table, but is a list; write nudge = { \"Bari 1\" " +
				"= 1.0 } [wrong-type]\n"},
		{"a count without quotes", "show.toml", `"1:1"`, `2:1`,
			"show.toml:41:16 <2:1> 2:1 has no quotes; put the count in quotes: \"2:1\"; the rest of this file " +
				"is not checked until then [toml-syntax]\n"},
		{"yes", "show.toml", `keep         = true`, `keep = yes`,
			"show.toml:49:8 <yes> yes is not a value; write true or false; the rest of this file is not " +
				"checked until then [toml-syntax]\n"},
		{"a fade in seconds", "show.toml", `fade         = 4`, `fade = "2 s"`,
			"show.toml:51:8 <\"2 s\"> fade is in counts, not seconds; write 2 or \"2 counts\" [wrong-type]\n"},
		{"curly quotes", "show.toml", `"set 3"`, `“set 3”`,
			"show.toml:55:16 <“> this is a curly quote; use straight quotes (\"); the rest of this file is " +
				"not checked until then [toml-syntax]\n"},
		{"a list that is not closed", "show.toml", `["@baritone"]`, `["@baritone"`,
			"show.toml:50:16 <[> this list has no closing ]; add it; the rest of this file is not checked " +
				"until then [toml-syntax]\n"},
		{"a role twice", "show.toml", `open.support = ["@mellophone"]`, "open.feature = [\"@mellophone\"]",
			"show.toml:58:1 <open> the key \"open.feature\" is here twice; put everything in one list; the " +
				"rest of this file is not checked until then [duplicate-key]\n"},
		{"a section without @", "show.toml", `"@mellophone"]`, `"mellophone"]`,
			"show.toml:58:17 <\"mellophone\"> no player and no fixed mic \"mellophone\"; did you mean " +
				"\"@mellophone\"? [unknown-player]\n"},
		{"a capital", "show.toml", `open.support = ["@mellophone"]`, `Open.support = ["@mellophone"]`,
			"show.toml:58:1 <Open> unknown key \"Open\"; did you mean \"open\"? Keys are in small letters " +
				"[unknown-key]\n"},
		{"one argument", "show.toml", `fade         = 4`, `also = [{ address = "/a", args = 1 }]`,
			"show.toml:51:34 <1> this must be a list, but is 1; write args = [1] [wrong-type]\n"},
		{"an argument in the address", "show.toml", `fade         = 4`, `also = [{ address = "/hello 1" }]`,
			"show.toml:51:28 < > an OSC address has no spaces; write address = \"/hello\" and args = [1] " +
				"[raw-address]\n"},
		{"keepalive in seconds", "mixer.toml", "[safety]",
			"[[keepalive]]\naddress = \"/ping\"\nevery = \"15 seconds\"\n\n[safety]", ""},
		{"keepalive in single brackets", "mixer.toml", "[safety]",
			"[keepalive]\naddress = \"/ping\"\nevery = \"15 s\"\n\n[safety]",
			"mixer.toml:38:1 <[keepalive]> [keepalive] has single brackets; write [[keepalive]] with double " +
				"brackets: each one is a separate entry [wrong-type]\n"},
		{"keepalive twice in single brackets", "mixer.toml", "[safety]",
			"[keepalive]\naddress = \"/ping\"\n[keepalive]\naddress = \"/pong\"\n\n[safety]",
			"mixer.toml:40:2 <keepalive> [keepalive] is here twice; write [[keepalive]] with double brackets " +
				"if each one is a separate entry; otherwise keep one of the two; the rest of this file is not " +
				"checked until then [duplicate-key]\n"},
		{"cue in single brackets", "show.toml", "[[cue]]\nid           = \"2\"", "[cue]\nid           = \"2\"",
			"show.toml:45:2 <cue> [cue] has single brackets; write [[cue]] with double brackets: each one is " +
				"a separate entry; the rest of this file is not checked until then [duplicate-key]\n"},
		{"height in feet", "roster.csv", "player,section,pack,channel\nTpt 1,trumpet,P01,1",
			"player,section,pack,channel,height,trim\nTpt 1,trumpet,P01,1,5 ft,-1.5 dB",
			"roster.csv:2:21 <5 ft> height is in meters, without a unit; write 1.524 [bad-number]\n" +
				"roster.csv:2:26 <-1.5 dB> trim is in dB, without a unit; write -1.5 [bad-number]\n"},
		{"a channel twice", "roster.csv", "P03,3", "P03,2",
			"roster.csv:4:19 <2> channel 2 is worn by Tpt 2 and by Tpt 3 at once; give one of them another " +
				"channel, or say in \"from\" when it changes hands [channel-twice]\n"},
		{"tempo for bpm", "show.toml", "bpm = 144, over = 8", "tempo = 144, over = 8",
			"show.toml:27:14 <tempo> unknown key \"tempo\"; did you mean \"bpm\"? [unknown-key]\n"},
		{"an address without a port", "mixer.toml", "udp://127.0.0.1:9000", "192.0.2.10",
			"mixer.toml:8:12 <\"192.0.2.10\"> \"192.0.2.10\" has no port; add it: udp://192.0.2.10:PORT; until " +
				"you fix it, send and run need --to [mixer-to]\n"},
		{"an old name of the mixer file", "show.toml", `"mixer.toml"`, `"desk.toml"`,
			"show.toml:11:10 <\"desk.toml\"> desk.toml is now called mixer.toml; rename the file, and write " +
				"its new name here [bad-choice]\n"},
		{"fahrenheit as a bare number", "rig.toml", `"20 C"`, `55`,
			"rig.toml:11:11 <55> air of 55 without a unit would be 55 C (131 F); for Fahrenheit write \"55 F\", for Celsius \"55 C\" " +
				"[bad-quantity]\n"},
		{"pan width", "show.toml", "[[movement]]\nname  = \"One\"", "[pan]\nwidth = 1.5\n\n[[movement]]\nname = \"One\"",
			"show.toml:24:9 <1.5> pan width is 1.5; it must be from 0 (all in the middle) to 1 (hard left " +
				"and right) [out-of-range]\n"},
		{"listed twice", "roster.csv", "Bari 2,", "Bari 1,",
			"roster.csv:8:1 <Bari 1> Bari 1 is listed twice; rename one, or, if the player changes to this " +
				"pack later, fill in \"from\" [duplicate-player]\n"},
		{"a name with a character that cannot be seen", "roster.csv", "Guard 1,guard", "Guard\u00a01,guard",
			"dots.csv:10:3 <Guard 1> no player \"Guard 1\" in the roster; did you mean \"Guard\\u00a01\"? " +
				"[unknown-player]\n" +
				"roster.csv:10:1 <Guard\u00a01> this name has a no-break space (U+00A0) in it, which cannot be seen; " +
				"type the name again; a name that looks the same elsewhere is another one [hidden-character]\n"},
		{"first after", "show.toml", `at           = "1:1"`, `after = 4`,
			"show.toml:41:9 <4> this is the first cue, so there is nothing for it to follow; write at = " +
				"\"1:1\" [two-counts]\n"},
		{"huge scale", "mixer.toml", "[6, 1]]", "[6, 1e16]]",
			"mixer.toml:15:54 <[6, 1e16]> this number in the scale is too big (at most 1e+15); write the " +
				"value the mixer itself uses [mixer-range]\n"},
		{"another capital", "show.toml", "fade         = 4", "Fade = 4",
			"show.toml:51:1 <Fade> unknown key \"Fade\"; did you mean \"fade\"? Keys are in small letters " +
				"[unknown-key]\n"},
	} {
		t.Run(c.name, func(t *testing.T) {
			all := starter(t)
			if !strings.Contains(all[c.file], c.old) {
				t.Fatalf("%s has no %q", c.file, c.old)
			}
			all[c.file] = strings.Replace(all[c.file], c.old, c.now, 1)
			var p source.Problems
			if _, err := show.Load(all, "show.toml", show.LoadOptions{}, &p); err != nil {
				t.Fatal(err)
			}
			var b strings.Builder
			for _, x := range p.All() {
				marked := ""
				if x.Span.File != nil {
					marked = x.Span.File.Text[x.Span.Start:x.Span.End]
				}
				fmt.Fprintf(&b, "%s <%s> %s; %s [%s]\n", x.Span.Where(), marked, x.What, x.Do, x.Code)
			}
			if got := b.String(); got != c.want {
				t.Errorf("got\n%swant\n%s", got, c.want)
			}
		})
	}
}
