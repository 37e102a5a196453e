package roster

import (
	"fmt"
	"strings"
	"testing"

	"backfield/layout/source"
)

func read(text string) (*Roster, *source.Problems) {
	var p source.Problems
	return Read(&source.File{Name: "roster.csv", Text: text}, &p), &p
}

// told is the problems as lines: place, severity, code, what is wrong, and the place of the note.
func told(p *source.Problems) string {
	var b strings.Builder
	for _, x := range p.All() {
		line, column := x.Span.Position()
		fmt.Fprintf(&b, "%d:%d %s %s: %s", line, column, x.Severity, x.Code, x.What)
		for _, n := range x.Notes {
			line, column := n.Span.Position()
			fmt.Fprintf(&b, " (%d:%d)", line, column)
		}
		b.WriteString("\n")
	}
	return b.String()
}

// worn is who wears what, a line each.
func worn(r *Roster) string {
	var b strings.Builder
	for _, w := range r.Wears {
		fmt.Fprintf(&b, "%s %s %s %d %g m %g dB %q from %q", w.Player, w.Section, w.Pack, w.Channel, w.HeightM,
			w.TrimDB,
			w.Policy, w.From.Text)
		for _, x := range w.Params {
			fmt.Fprintf(&b, " %s=%g", x.Name.V, x.Value.V)
		}
		b.WriteString("\n")
	}
	return b.String()
}

func TestRead(t *testing.T) {
	const head = "player,section,pack,channel,from,height,trim,policy,param.air,param.cut\n"
	for name, c := range map[string]struct{ rows, worn, told string }{
		"plain": {"Tpt 1,trumpet,P1,1,,,,,,\nTpt 2,trumpet,P2,2,,1.2,-3,most-seats,0.5,on\n",
			"Tpt 1 trumpet P1 1 1.5 m 0 dB \"\" from \"\"\n" +
				"Tpt 2 trumpet P2 2 1.2 m -3 dB \"most-seats\" from \"\" air=0.5 cut=1\n", ""},
		"a pack that is handed over": {"A,trumpet,P1,1,,,,,,\nB,tuba,P1,1,set 4,,,,,\n",
			"A trumpet P1 1 1.5 m 0 dB \"\" from \"\"\nB tuba P1 1 1.5 m 0 dB \"\" from \"set 4\"\n", ""},
		"a second pack": {"A,trumpet,P1,1,,,,,,\nA,,P2,2,set 4,,,,,\n",
			"A trumpet P1 1 1.5 m 0 dB \"\" from \"\"\nA trumpet P2 2 1.5 m 0 dB \"\" from \"set 4\"\n", ""},
		"who wears nothing": {"A,trumpet,,,,,,,,\n", "", ""},
		"no name":           {",trumpet,P1,1,,,,,,\n", "", "2:1 error missing-cell: this row has no player\n"},
		"no section": {"A,,P1,1,,,,,,\n", "A  P1 1 1.5 m 0 dB \"\" from \"\"\n",
			"2:1 warning no-section: A is in no section\n"},
		"twice": {"A,trumpet,P1,1,,,,,,\nA,trumpet,P2,2,,,,,,\n", "A trumpet P1 1 1.5 m 0 dB \"\" from \"\"\n",
			"3:1 error duplicate-player: A is listed twice (2:1)\n"},
		"two sections": {"A,trumpet,P1,1,,,,,,\nA,tuba,P2,2,set 4,,,,,\n",
			"A trumpet P1 1 1.5 m 0 dB \"\" from \"\"\nA trumpet P2 2 1.5 m 0 dB \"\" from \"set 4\"\n",
			"3:3 error two-sections: A is in section \"tuba\" here and in \"trumpet\" before (2:1)\n"},
		"numbers out of range": {"A,trumpet,P1,1,,11,61,,,\n", "A trumpet P1 1 1.5 m 0 dB \"\" from \"\"\n",
			"2:17 error out-of-range: a mic height of 11 m\n2:20 error out-of-range: a trim of 61 dB\n"},
		"no numbers": {"A,trumpet,P1,1,,tall,loud,,x,\n", "A trumpet P1 1 1.5 m 0 dB \"\" from \"\"\n",
			"2:17 error bad-number: height \"tall\" is not a number\n" +
				"2:22 error bad-number: trim \"loud\" is not a number\n" +
				"2:28 error bad-number: air \"x\" is not a number\n"},
		"a switch": {"A,trumpet,P1,1,,,,,,OFF\n", "A trumpet P1 1 1.5 m 0 dB \"\" from \"\" cut=0\n", ""},
		"a pack without a channel": {"A,trumpet,P1,,,,,,,\n", "",
			"2:11 error pack-without-channel: pack P1 has no channel\n"},
		"nothing to take over": {"A,trumpet,,,set 4,,,,,\n", "",
			"2:13 error from-without-channel: A has a `from` here, but no channel\n"},
		"a channel that is none": {"A,trumpet,P1,0,,,,,,\n", "",
			"2:14 error bad-number: channel \"0\" is not a whole number from 1 to 10000\n"},
		"a pack on two channels": {"A,trumpet,P1,1,,,,,,\nB,tuba,P1,2,set 4,,,,,\n",
			"A trumpet P1 1 1.5 m 0 dB \"\" from \"\"\n",
			"3:11 error pack-two-channels: pack P1 is on channel 2 here and on 1 with A (2:14)\n"},
	} {
		r, p := read(head + c.rows)
		if got := worn(r); got != c.worn {
			t.Errorf("%s: worn\n%swant\n%s", name, got, c.worn)
		}
		if got := told(p); got != c.told {
			t.Errorf("%s: told\n%swant\n%s", name, got, c.told)
		}
	}
}

// What of a player could not be read is not held against the cues that open them.
func TestUnsure(t *testing.T) {
	r, _ := read(
		"player,section,pack,channel,from\nA,trumpet,P1,x,\nB,trumpet,,,\nC,trumpet,P2,2,\nD,tuba,P2,3,set 2\n")
	for name, want := range map[string]bool{"A": true, "B": false, "C": false, "D": true} {
		if got := r.Unsure(name); got != want {
			t.Errorf("%s is unsure: %t, want %t", name, got, want)
		}
	}
	if got := r.Sections(); len(got) != 2 || got[0] != "trumpet" || got[1] != "tuba" {
		t.Errorf("sections %q", got)
	}
	if r.Partial || r.MayHold("Z") {
		t.Error("a sheet that was read to its end is partial")
	}
	if r, _ := read(""); !r.Partial || !r.MayHold("Z") {
		t.Error("an empty sheet may have held any name")
	}
}
