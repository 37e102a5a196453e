package show_test

import (
	"strings"
	"testing"

	"backfield/cue/work"
)

// twoParts are three measures for two parts: High rests for measure 3 and three counts of measure 4, Low never rests.
const twoParts = `<score-partwise version="4.0"><part-list>
<score-part id="P1"><part-name>High</part-name></score-part>
<score-part id="P2"><part-name>Low</part-name></score-part></part-list>
<part id="P1">
<measure number="3"><attributes><divisions>1</divisions>
<time><beats>4</beats><beat-type>4</beat-type></time></attributes>
<sound tempo="132"/><note><rest/><duration>4</duration></note></measure>
<measure number="4"><sound tempo="96"/>
<note><pitch><step>C</step><octave>4</octave></pitch><duration>1</duration></note>
<note><rest/><duration>3</duration></note></measure>
<measure number="5"><note><pitch><step>C</step><octave>4</octave></pitch><duration>4</duration></note></measure></part>
<part id="P2">
<measure number="3"><attributes><divisions>1</divisions>
<time><beats>4</beats><beat-type>4</beat-type></time></attributes>
<note><pitch><step>C</step><octave>4</octave></pitch><duration>4</duration></note></measure>
<measure number="4"><note><pitch><step>C</step><octave>4</octave></pitch><duration>4</duration></note></measure>
<measure number="5"><note><pitch><step>C</step><octave>4</octave></pitch><duration>4</duration></note></measure></part>
</score-partwise>`

// TestWatchFollowsRests changes who plays which part, and where that part rests, for a mixer whose delay clicks: what
// suits the seats is found again where the rests are others.
func TestWatchFollowsRests(t *testing.T) {
	t.Parallel()
	f := every.with("mixer.toml", `"glide"`, `"closed"`).
		with("show.toml", "[[movement]]", "[music.parts]\nHigh = [\"A\"]\nLow = [\"C\"]\n\n[[movement]]")
	f["tune.musicxml"] = twoParts
	before, ok := f.compiled(t, nil)
	if !ok {
		t.Fatal(before)
	}
	const long, short = `<duration>1</duration></note>
<note><rest/><duration>3<`, `<duration>3</duration></note>
<note><rest/><duration>1<`
	const threeNotes = "<pitch><step>D</step><octave>4</octave></pitch><duration>3<"
	for what, x := range map[string]files{
		"A and C trade parts": f.with("show.toml", `High = ["A"]`, `High = ["C"]`).
			with("show.toml", `Low = ["C"]`, `Low = ["A"]`),
		"B plays High":      f.with("show.toml", `High = ["A"]`, `High = ["B"]`),
		"nobody plays High": f.with("show.toml", `High = ["A"]`, ""),
		"the rest is short": f.with("tune.musicxml", long, short),
		"there is no rest":  f.with("tune.musicxml", "<rest/><duration>3<", threeNotes),
	} {
		want, ok := x.compiled(t, nil)
		if !ok {
			t.Fatalf("%s: %s", what, want)
		}
		var memo work.Memo
		f.compiled(t, &memo)
		if got, _ := x.compiled(t, &memo); got != want {
			t.Errorf("%s: the watch has\n%s\na fresh compile\n%s", what, got, want)
		}
		if found(want) == found(before) {
			t.Errorf("%s: neither a delay nor its seats change", what)
		}
	}
}

// found are the lines of what explain says that have a path's delay, or the seats that it suits.
func found(compiled string) (lines string) {
	for line := range strings.Lines(compiled) {
		if strings.HasPrefix(line, "  path  ") || strings.HasPrefix(line, "  of ") {
			lines += line
		}
	}
	return lines
}
