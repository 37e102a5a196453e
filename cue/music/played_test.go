package music

import (
	"fmt"
	"strings"
	"testing"
)

const (
	forward  = `<barline location="left"><repeat direction="forward"/></barline>`
	backward = `<barline location="right"><repeat direction="backward"/></barline>`
)

// What is said of a measure is said of each time that it is played: its tempo, its marks and its notes.
func TestPlayed(t *testing.T) {
	tempo := func(v int) string { return fmt.Sprintf(`<sound tempo="%d"/>`, v) }
	mark := func(name string) string { return direct("<rehearsal>" + name + "</rehearsal>") }
	loud := direct("<dynamics><ff/></dynamics>")
	on, off := `<tie type="start"/>`, `<tie type="stop"/>`
	start := func(n string) string {
		return `<barline location="left"><ending number="` + n + `" type="start"/></barline>`
	}
	stop := func(n string) string { return `<ending number="` + n + `" type="stop"/></barline>` }
	for name, x := range map[string]struct{ text, tempos, measures, marks, notes string }{
		"a repeat goes back to its own tempo, mark and dynamics": {
			text: one(fourFt+tempo(120)+mark("A")+longer(4, ""), forward+mark("B")+longer(4, ""),
				tempo(60)+loud+longer(4, "")+backward, longer(4, "")),
			tempos:   "1:120 9:60 13:120 17:60",
			measures: "1@0 2@4 3@8 2(2)@12 3(2)@16 4@20",
			marks:    "A@0 B@4 B(2)@12",
			notes:    "Part 1: 0-4:72, 4-8:72, 8-12:72 +6dB, 12-16:72, 16-20:72 +6dB, 20-24:72 +6dB",
		},
		"a tie leads into each ending": {
			text: one(fourFt+tempo(120)+longer(4, on),
				start("1")+longer(4, off)+strings.Replace(backward, "<repeat", strings.TrimSuffix(stop("1"), "</barline>")+"<repeat", 1),
				start("2")+longer(4, off)+`<barline location="right">`+stop("2")),
			tempos:   "1:120",
			measures: "1@0 2@4 1(2)@8 3@12",
			notes:    "Part 1: 0-8:72, 8-16:72",
		},
		"a pickup is played again": {
			text: partwiseXML([]string{`number="0" implicit="yes">` + fourFt + tempo(120) + longer(1, ""),
				`number="1">` + longer(3, "") + backward, `number="2">` + longer(4, "")}),
			tempos:   "1:120",
			measures: "1@0 0(2)@3 1(2)@4 2@7",
			notes:    "Part 1: -1-0:72, 0-3:72, 3-4:72, 4-7:72, 7-11:72",
		},
	} {
		m, problems := read(t, "x.musicxml", []byte(x.text), plain(""))
		if m.Music == nil {
			t.Errorf("%s: %v", name, problems)
			continue
		}
		var tempos, measures, marks []string
		for _, c := range m.Changes {
			tempos = append(tempos, fmt.Sprintf("%g:%g", c.At, c.BPM))
		}
		for _, b := range m.Music.Measures {
			measures = append(measures, fmt.Sprintf("%s@%g", b.Number, b.From))
		}
		for _, k := range m.Music.Marks {
			marks = append(marks, fmt.Sprintf("%s@%g", k.Name, k.At))
		}
		for what, pair := range map[string][2]string{"tempos": {strings.Join(tempos, " "), x.tempos},
			"measures": {strings.Join(measures, " "), x.measures}, "marks": {strings.Join(marks, " "), x.marks},
			"notes": {said(m.Music.Parts[0]), x.notes}} {
			if pair[0] != pair[1] {
				t.Errorf("%s, %s:\n  got  %s\n  want %s", name, what, pair[0], pair[1])
			}
		}
	}
}

// A file of few bytes does not become a piece that is too long.
func TestTooLongWithRepeats(t *testing.T) {
	measures := []string{fourFt + at132 + longer(4, "")}
	for range 150 {
		measures = append(measures, forward+longer(4, "")+strings.Replace(backward, "/></b", ` times="100"/></b`, 1))
	}
	_, problems := read(t, "x.musicxml", []byte(one(measures...)), plain(""))
	if text := fmt.Sprint(problems); !strings.Contains(text, "is too long with its repeats") {
		t.Errorf("it says %s", text)
	}
}
