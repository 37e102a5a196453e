package music

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"backfield/cue/clock"
)

// said lists a part's notes: where each begins and ends in counts, its key and level, and what is special about it.
func said(p clock.MusicPart) string {
	var list []string
	for _, n := range p.Notes {
		text := fmt.Sprintf("%g-%g:%g", n.From, n.To, n.Key)
		if n.Marked {
			text += fmt.Sprintf(" %+.3gdB", n.DynamicsDB)
		}
		if n.Called {
			text += " called"
		}
		if n.Solo {
			text += " solo"
		}
		if n.Desk > 0 {
			text += fmt.Sprintf(" desk %d/%d", n.Desk, n.Desks)
		}
		if n.Joined {
			text += " joined"
		}
		if n.Breath {
			text += " breath"
		}
		list = append(list, text)
	}
	return p.Name + ": " + strings.Join(list, ", ")
}

// note is a quarter (or more) of C5 with what is put into it.
func note(inside string) string { return longer(1, inside) }

func longer(quarters int, inside string) string {
	return fmt.Sprintf(`<note><pitch><step>C</step><octave>5</octave></pitch><duration>%d</duration>%s</note>`,
		quarters, inside)
}

func direct(inside string) string {
	return `<direction><direction-type>` + inside + `</direction-type></direction>`
}

const (
	restOne = `<note><rest/><duration>1</duration></note>`
	slurOn  = `<notations><slur type="start" number="1"/></notations>`
	slurOff = `<notations><slur type="stop" number="1"/></notations>`
	breath  = `<notations><articulations><breath-mark/></articulations></notations>`
)

func TestPartsOfMusicXML(t *testing.T) {
	begin := fourFt + at132
	style := func(inside string) string {
		return "<attributes><measure-style>" + inside + "</measure-style></attributes>"
	}
	tie := func(kind string) string { return `<tie type="` + kind + `"/>` }
	for name, x := range map[string]struct{ text, want string }{
		"rests":    {one(begin + note("") + restOne + note("") + restOne), "Part 1: 0-1:72, 2-3:72"},
		"cue note": {one(begin + note("<cue/>") + longer(3, "")), "Part 1: 1-4:72"},
		"grace": {one(begin + `<note><grace/><pitch><step>B</step><octave>4</octave></pitch></note>` + longer(4, "")),
			"Part 1: 0-4:72"},
		"tie over a bar": {one(begin+longer(3, "")+note(tie("start")), longer(4, tie("stop"))),
			"Part 1: 0-3:72, 3-8:72"},
		"tie of three": {one(begin+longer(4, tie("start")), longer(4, tie("stop")+tie("start")), longer(4, tie("stop"))),
			"Part 1: 0-12:72"},
		"tie that nobody ends": {one(begin + longer(2, tie("start")) + longer(2, "")), "Part 1: 0-2:72, 2-4:72"},
		"in B flat": {one(begin + `<attributes><transpose><chromatic>-2</chromatic></transpose></attributes>` +
			longer(4, "")), "Part 1: 0-4:70"},
		"octave lower": {one(begin + `<attributes><transpose><chromatic>-2</chromatic><octave-change>-1</octave-change>` +
			`</transpose></attributes>` + longer(4, "")), "Part 1: 0-4:58"},
		"drum": {one(begin + `<note><unpitched/><duration>4</duration></note>`), "Part 1: 0-4:-1"},
		"marks": {one(begin + direct("<dynamics><p/></dynamics>") + note("") + note("") +
			direct("<dynamics><ff/></dynamics>") + longer(2, "")),
			"Part 1: 0-1:72 -12dB, 1-2:72 -12dB, 2-4:72 +6dB"},
		"an accent is over with its note": {one(begin + direct("<dynamics><mf/></dynamics>") + note("") +
			direct("<dynamics><sfz/></dynamics>") + longer(3, "")), "Part 1: 0-1:72 -4dB, 1-4:72 -4dB"},
		"forte-piano":  {one(begin + direct("<dynamics><fp/></dynamics>") + longer(4, "")), "Part 1: 0-4:72 -12dB"},
		"nothing said": {one(begin + note("") + direct("<dynamics><p/></dynamics>") + longer(3, "")), "Part 1: 0-1:72, 1-4:72 -12dB"},
		"hairpin to a mark": {one(begin + direct("<dynamics><p/></dynamics>") + direct(`<wedge type="crescendo"/>`) +
			note("") + note("") + note("") + direct(`<wedge type="stop"/>`) + direct("<dynamics><f/></dynamics>") + note("")),
			"Part 1: 0-1:72 -12dB, 1-2:72 -8dB, 2-3:72 -4dB, 3-4:72 +0dB"},
		"hairpin to no mark": {one(begin + direct("<dynamics><mf/></dynamics>") + direct(`<wedge type="diminuendo"/>`) +
			note("") + note("") + direct(`<wedge type="stop"/>`) + longer(2, "")),
			"Part 1: 0-1:72 -4dB, 1-2:72 -6dB, 2-4:72 -8dB"},
		"cresc. to a mark": {one(begin + direct("<dynamics><p/></dynamics>") + direct("<words>poco a poco cresc.</words>") +
			note("") + note("") + note("") + direct("<dynamics><f/></dynamics>") + note("")),
			"Part 1: 0-1:72 -12dB, 1-2:72 -8dB, 2-3:72 -4dB, 3-4:72 +0dB"},
		"dim. to a hairpin": {one(begin + direct("<dynamics><f/></dynamics>") + direct("<words>dim.</words>") +
			note("") + note("") + direct(`<wedge type="crescendo"/>`) + note("") + direct(`<wedge type="stop"/>`) + note("")),
			"Part 1: 0-1:72 +0dB, 1-2:72 -2dB, 2-3:72 -4dB, 3-4:72 +0dB"},
		"cresc. to a sudden p": {one(begin + direct("<dynamics><mf/></dynamics>") + direct("<words>cresc.</words>") +
			note("") + note("") + direct("<dynamics><p/></dynamics>") + longer(2, "")),
			"Part 1: 0-1:72 -4dB, 1-2:72 -2dB, 2-4:72 -12dB"},
		"cresc. to nothing": {one(begin + direct("<dynamics><mf/></dynamics>") + direct("<words>cresc.</words>") +
			longer(4, "")), "Part 1: 0-4:72 -4dB"},
		"softest and loudest": {one(begin + direct("<dynamics><ppp/></dynamics>") + longer(2, "") +
			direct("<dynamics><fff/></dynamics>") + longer(2, "")), "Part 1: 0-2:72 -16dB, 2-4:72 +6dB"},
		"slur": {one(begin + note(slurOn) + note("") + note(slurOff) + note("")),
			"Part 1: 0-1:72 joined, 1-2:72 joined, 2-3:72, 3-4:72"},
		"slur that nobody ends": {one(begin + note(slurOn) + restOne + longer(2, "")), "Part 1: 0-1:72 joined, 2-4:72"},
		"breath":                {one(begin + note(breath) + longer(3, "")), "Part 1: 0-1:72 breath, 1-4:72"},
		"two voices": {one(begin + longer(4, "<voice>1</voice>") + `<backup><duration>4</duration></backup>` +
			longer(4, "<voice>2</voice>")), "Part 1: 0-4:72 desk 1/2, 0-4:72 desk 2/2"},
		"the second rests": {one(begin + longer(4, "<voice>1</voice>") + `<backup><duration>4</duration></backup>` +
			`<note><rest/><duration>4</duration><voice>2</voice></note>`), "Part 1: 0-4:72 desk 1/2"},
		"solo and tutti": {one(begin + direct("<words>Solo</words>") + note("") + note("") + direct("<words>tutti</words>") +
			longer(2, "")), "Part 1: 0-1:72 called solo desk 1/0, 1-2:72 solo desk 1/0, 2-4:72"},
		"not who plays": {one(begin + direct("<words>2nd position</words>") + note("") + direct("<words>2nd valve</words>") +
			note("") + direct("<words>1st Tpt</words>") + note("") + direct("<words>(Fl. solo)</words>") + note("")),
			"Part 1: 0-1:72, 1-2:72, 2-3:72, 3-4:72"},
		"2nd, (solo), 1. solo": {one(begin + direct("<words>2nd</words>") + note("") + direct("<words>(solo)</words>") +
			note("") + direct("<words>2. solo</words>") + note("") + direct("<words>soli, dolce</words>") + note("")),
			"Part 1: 0-1:72 desk 2/0, 1-2:72 called solo desk 1/0, 2-3:72 called solo desk 2/0, 3-4:72 called solo"},
		"at some times only": {one(begin +
			strings.Replace(note("<voice>1</voice>"), "<note>", `<note time-only="2, 3">`, 1) +
			longer(3, "<voice>2</voice>") + `<barline><repeat direction="backward" times="3"/></barline>`),
			"Part 1: 1-4:72, 4-5:72, 5-8:72, 8-9:72, 9-12:72"},
		"a measure repeat": {one(begin+longer(3, "")+restOne, style(`<measure-repeat type="start">1</measure-repeat>`)+
			whole, "", style(`<measure-repeat type="stop"/>`)+longer(4, "")),
			"Part 1: 0-3:72, 4-7:72, 8-11:72, 12-16:72"},
		"a repeat of two measures": {one(begin+longer(3, "")+restOne, whole,
			style(`<measure-repeat type="start" slashes="2">2</measure-repeat>`)+whole, whole),
			"Part 1: 0-3:72, 8-11:72"},
		"slashes": {one(begin+style(`<slash type="start"/>`)+whole, "", style(`<slash type="stop"/>`)+whole, longer(4, "")),
			"Part 1: 0-4:-1, 4-8:-1, 12-16:72"},
		"words cut by fonts": {one(begin + direct("<words>2</words><words>nd</words>") + note("") +
			direct("<words>So</words><words>lo</words>") + note("") + direct("<words>2.</words><words> Solo</words>") +
			note("") + direct("<words>tutti</words><words>cresc.</words>") + note("")),
			"Part 1: 0-1:72 desk 2/0, 1-2:72 called solo desk 1/0, 2-3:72 called solo desk 2/0, 3-4:72"},
		"no hairpin": {one(begin+direct("<dynamics><f/></dynamics>")+direct("<words>non dim.</words>")+longer(4, ""),
			direct("<words>no cresc.</words>")+longer(4, ""), direct("<dynamics><p/></dynamics>")+longer(4, "")),
			"Part 1: 0-4:72 +0dB, 4-8:72 +0dB, 8-12:72 -12dB"},
		"cresc. as long as its dashes": {one(begin+direct("<dynamics><p/></dynamics>")+direct("<words>cresc.</words>")+
			direct(`<dashes type="start" number="1"/>`)+note("")+note("")+direct(`<dashes type="stop" number="1"/>`)+
			longer(2, ""), longer(4, ""), direct("<dynamics><f/></dynamics>")+longer(4, "")),
			"Part 1: 0-1:72 -12dB, 1-2:72 -10dB, 2-4:72 -8dB, 4-8:72 -8dB, 8-12:72 +0dB"},
		"levels in words": {one(begin + direct("<dynamics><ff/></dynamics>") + note("") + direct("<words>p</words>") +
			note("") + direct("<words>sub. pp</words>") + note("") +
			direct("<dynamics><other-dynamics>mf</other-dynamics></dynamics>") + note("")),
			"Part 1: 0-1:72 +6dB, 1-2:72 -12dB, 2-3:72 -16dB, 3-4:72 -4dB"},
		"a level, and no change of it": {one(begin + direct("<words>sempre f, non dim.</words>") + longer(4, "")),
			"Part 1: 0-4:72 +0dB"},
		"all'ottava": {one(begin + direct("<words>Solo</words>") + note("") + direct("<words>all'ottava</words>") +
			note("") + direct("<words>all</words>") + longer(2, "")),
			"Part 1: 0-1:72 called solo desk 1/0, 1-2:72 solo desk 1/0, 2-4:72"},
		"all others tacet": {one(begin + direct("<words>Solo (all others tacet)</words>") + longer(4, "")),
			"Part 1: 0-4:72 called solo desk 1/0"},
		"cue size": {one(begin + note(`<type size="cue">quarter</type>`) + longer(3, "")), "Part 1: 1-4:72"},
		"soli":     {one(begin + direct("<words>soli</words>") + longer(4, "")), "Part 1: 0-4:72 called solo"},
		"solo over a rest": {one(begin + direct("<words>straight mute, solo</words>") + restOne + longer(3, "")),
			"Part 1: 1-4:72 called solo desk 1/0"},
		"the second one": {one(begin + direct("<words>2.</words>") + longer(4, "")), "Part 1: 0-4:72 desk 2/0"},
		"a 2":            {one(begin + direct("<words>1.</words>") + note("") + direct("<words>a 2</words>") + longer(3, "")), "Part 1: 0-1:72 desk 1/0, 1-4:72"},
		"named": {strings.Replace(one(begin+longer(4, "")), "<part-list/>",
			`<part-list><score-part id="P1"><part-name>Trumpet  1</part-name></score-part></part-list>`, 1),
			"Trumpet 1: 0-4:72"},
	} {
		m, problems := read(t, "x.musicxml", []byte(x.text), plain(""))
		if len(problems) > 0 || m.Music == nil || len(m.Music.Parts) != 1 {
			t.Errorf("%s: %v", name, problems)
			continue
		}
		if got := said(m.Music.Parts[0]); got != x.want {
			t.Errorf("%s:\n  got  %s\n  want %s", name, got, x.want)
		}
	}
}

// A direction of no staff is for all staves, also for those whose first note comes later.
func TestDirectionOfAllStaves(t *testing.T) {
	text := one(fourFt + at132 + direct("<dynamics><p/></dynamics>") + longer(4, "<staff>1</staff>") +
		`<backup><duration>4</duration></backup>` + longer(4, "<staff>2</staff>"))
	m, problems := read(t, "x.musicxml", []byte(text), plain(""))
	if len(problems) > 0 || len(m.Music.Parts) != 2 {
		t.Fatal(problems)
	}
	for i, want := range []string{"Part 1, staff 1: 0-4:72 -12dB", "Part 1, staff 2: 0-4:72 -12dB"} {
		if got := said(m.Music.Parts[i]); got != want {
			t.Errorf("got %s, want %s", got, want)
		}
	}
}

// Where a movement is a part of a file, notes count from its downbeat, and what is over an end is cut there.
func TestPartsOfAnExcerpt(t *testing.T) {
	text := one(fourFt+at132+longer(4, `<tie type="start"/>`), longer(1, `<tie type="stop"/>`)+longer(3, ""), longer(4, ""))
	m, problems := read(t, "x.musicxml", []byte(text), how{first: -1, from: "m. 2", to: "m. 3 beat 3"})
	if len(problems) > 0 {
		t.Fatal(problems)
	}
	if got, want := said(m.Music.Parts[0]), "Part 1: 0-1:72, 1-4:72, 4-6:72"; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
	m, problems = read(t, "x.musicxml", []byte(text), how{first: -1, beat: "half"})
	if len(problems) > 0 {
		t.Fatal(problems)
	}
	if got, want := said(m.Music.Parts[0]), "Part 1: 0-2.5:72, 2.5-4:72, 4-6:72"; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
}

// A pickup is before the downbeat.
func TestPickupNotes(t *testing.T) {
	text := one(`number="0" implicit="yes">`+fourFt+at132+note(""), longer(4, ""))
	m, problems := read(t, "x.musicxml", []byte(text), plain(""))
	if len(problems) > 0 {
		t.Fatal(problems)
	}
	if got, want := said(m.Music.Parts[0]), "Part 1: -1-0:72, 0-4:72"; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
}

func TestPartsOfMIDI(t *testing.T) {
	name := " 00 FF 03 03 54 70 74 " // Tpt
	for label, x := range map[string]struct {
		raw  []byte
		want string
	}{
		"named": {midi(1, 480, at120, name+"00 90 3C 60 83 60 80 3C 00 "),
			"Tpt: 0-1:60 +0dB"},
		"velocities": {midi(0, 480, at120+"00 90 3C 46 83 60 80 3C 00 00 90 3C 31 83 60 80 3C 00 00 90 3C 7F 83 60 80 3C 00 "),
			"Track 1: 0-1:60 -4dB, 1-2:60 -12dB, 2-3:60 +6dB"},
		"between p and mp": {midi(0, 480, at120+"00 90 3C 34 83 60 80 3C 00 "), "Track 1: 0-1:60 -10.7dB"},
		"one key twice":    {midi(0, 480, at120+"00 90 3C 60 83 60 90 3C 60 83 60 80 3C 00 83 60 80 3C 00 "), "Track 1: 0-2:60 +0dB, 1-3:60 +0dB"},
		"drums":            {midi(0, 480, at120+"00 99 26 60 83 60 89 26 00 "), "Track 1: 0-1:-1 +0dB"},
		"never ended":      {midi(0, 480, at120+"00 90 3C 60 83 60 90 3E 60 83 60 80 3E 00 "), "Track 1: 0-2:60 +0dB, 1-2:62 +0dB"},
	} {
		m, _ := read(t, "x.mid", x.raw, plain(""))
		if m.Music == nil || len(m.Music.Parts) != 1 {
			t.Errorf("%s: not read, or not one part", label)
			continue
		}
		if got := said(m.Music.Parts[0]); got != x.want {
			t.Errorf("%s:\n  got  %s\n  want %s", label, got, x.want)
		}
	}
}

// The same tune has the same notes, whichever program wrote it: its MIDI may let go a little early.
func TestFerryHasTheSameNotes(t *testing.T) {
	want, _ := read(t, "ferry.musicxml", file(t, "ferry.musicxml"), plain("meter"))
	if want.Music == nil || len(want.Music.Parts) == 0 {
		t.Fatal("not read")
	}
	count := 0
	for _, name := range []string{"ferry-webmscore.musicxml", "ferry-webmscore.mxl", "ferry-musicxml-io.musicxml",
		"ferry-mido-0.mid", "ferry-mido-1.mid", "ferry-lilypond.mid", "ferry-webmscore.mid", "ferry-tonejs.mid"} {
		m, _ := read(t, name, file(t, name), plain("meter"))
		var notes []clock.PlayedNote
		for _, p := range m.Music.Parts {
			notes = append(notes, p.Notes...)
		}
		if len(notes) != len(want.Music.Parts[0].Notes) {
			t.Errorf("%s has %d notes, not %d", name, len(notes), len(want.Music.Parts[0].Notes))
			continue
		}
		for i, n := range notes {
			if w := want.Music.Parts[0].Notes[i]; math.Abs(n.From-w.From) > 0.02 || n.To > w.To+0.02 || n.Key != w.Key {
				t.Errorf("%s, note %d: %+v, not %+v", name, i, n, w)
			}
			count++
		}
	}
	if count == 0 {
		t.Error("no note was compared")
	}
}
