package music

import (
	"archive/zip"
	"bytes"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"
	"unicode/utf16"

	"backfield/cue/clock"
	"backfield/cue/score"
)

const (
	whole  = `<note><rest/><duration>4</duration></note>`
	at132  = `<sound tempo="132"/>`
	fourFt = `<attributes><divisions>1</divisions><time><beats>4</beats><beat-type>4</beat-type></time></attributes>`
)

// partwise puts measures, each with its attributes first ("number='1'>..."), into a part, and parts into a score.
func partwiseXML(parts ...[]string) string {
	var b strings.Builder
	b.WriteString(`<score-partwise version="4.0"><part-list/>`)
	for i, measures := range parts {
		fmt.Fprintf(&b, `<part id="P%d">`, i+1)
		for j, m := range measures {
			if !strings.HasPrefix(m, "number=") {
				m = fmt.Sprintf(`number="%d">`, j+1) + m
			}
			b.WriteString("\n<measure " + m + "</measure>")
		}
		b.WriteString("</part>")
	}
	return b.String() + "</score-partwise>"
}

func one(measures ...string) string { return partwiseXML(measures) }

func TestMusicXML(t *testing.T) {
	first := fourFt + at132
	for name, x := range map[string]struct {
		text string
		want []string
	}{
		"fine": {one(first+whole, whole), nil},
		"doctype": {`<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" ` +
			`"file:///etc/passwd">` + one(first+whole), nil},
		"namespaces": {`<?xml version="1.0" encoding="utf-8"?><!-- c -->` + one(first+whole), nil},

		"repeat": {one(first+whole+`<barline><repeat direction="backward"/></barline>`, whole), nil},
		"ending": {one(first+whole, whole+`<barline><ending number="1" type="start"/></barline>`),
			[]string{"x.musicxml:3:", "measure 2 of Part 1: this ending has no end", "often called unrolling", "[music-repeats]"}},
		"da capo": {one(first+whole, whole+`<sound dacapo="yes"/>`), nil},
		"dal segno": {one(first+whole,
			whole+`<direction><direction-type><segno/></direction-type><sound dalsegno="s"/></direction>`),
			[]string{"this leads back to a segno that the file does not have", "[music-repeats]"}},
		"only in words": {one(first+whole,
			whole+`<direction><direction-type><words>D.S. al Coda</words></direction-type></direction>`),
			[]string{"these words send the players elsewhere, but the file does not play it", "[music-repeats]"}},
		"words in two pieces": {one(first+whole, whole+`<direction><direction-type><words>D.</words>`+
			`<words>S. al Coda</words></direction-type></direction>`),
			[]string{"x.musicxml:3:", "these words send the players elsewhere", "[music-repeats]"}},
		"jump inside": {one(first+whole, `<note><duration>2</duration></note><sound dacapo="yes"/>`+
			`<note><duration>2</duration></note>`),
			[]string{"x.musicxml:3:", "this jump or fine is inside a measure", "[music-repeats]"}},
		"for one time": {one(first+whole,
			`<direction><direction-type><words>2x only</words></direction-type></direction>`+whole),
			[]string{"x.musicxml:3:", `warning: measure 2 of Part 1: "2x only" is for one time of a repeat`, "[music-repeats]"}},
		"note for one time, and a jump": {one(first+strings.Replace(whole, "<note>", `<note time-only="2">`, 1),
			whole+`<sound dacapo="yes"/>`),
			[]string{"x.musicxml:2:", "this note is played at some times of a repeat only", "[music-repeats]"}},
		"tempo for one time": {one(first+whole, `<sound tempo="60" time-only="2"/>`+whole+
			`<barline><repeat direction="backward"/></barline>`),
			[]string{"x.musicxml:3:", "measure 2 of Part 1: this is for some times of a repeat only", "[music-repeats]"}},
		"repeat inside, said to be right": {one(first+whole, `<note><rest/><duration>2</duration></note>`+
			`<barline location="right"><repeat direction="backward"/></barline><note><rest/><duration>2</duration></note>`),
			[]string{"x.musicxml:3:", "measure 2 of Part 1: this repeat is inside a measure", "[music-repeats]"}},
		"vamp": {one(first+whole, direct("<words>Vamp</words>")+whole),
			[]string{"x.musicxml:3:", `warning: measure 2 of Part 1: "Vamp" leaves open how often`, "[music-repeats]"}},
		"tacet for one time": {one(first+whole, direct("<words>Tacet 1x</words>")+whole),
			[]string{"x.musicxml:3:", `warning: measure 2 of Part 1: "Tacet 1x" is for one time of a repeat`}},
		"repeat of nothing": {one(first + `<attributes><measure-style><measure-repeat type="start">1</measure-repeat>` +
			`</measure-style></attributes>` + whole), []string{"x.musicxml:2:", "and 0 come before it", "[bad-music]"}},
		"note for an odd time": {one(first + `<note time-only="x"><pitch><step>C</step><octave>5</octave></pitch>` +
			`<duration>4</duration></note>`), []string{`a time-only of "x"`, "[bad-music]"}},
		"a sign alone": {one(first+whole,
			`<direction><direction-type><segno/><words>dolce</words></direction-type><sound segno="s"/></direction>`+
				whole), nil},
		"no tempo": {one(fourFt+whole, at132+whole),
			[]string{"x.musicxml:2:1: error: the music has no tempo at its beginning; write a metronome mark in " +
				"its first measure [music-tempo]"}},
		"zero tempo": {one(fourFt + `<sound tempo="0"/>` + whole), []string{`a tempo of "0"`, "[bad-music]"}},
		"tempo in words": {one(fourFt +
			`<direction><direction-type><metronome><beat-unit>quarter</beat-unit><per-minute>c. ` +
			`120</per-minute></metronome></direction-type></direction>` + whole),
			[]string{`this tempo is not a number; write one such as "quarter note = 132"`}},
		"mark and sound": {one(fourFt +
			`<direction><direction-type><metronome><beat-unit>quarter</beat-unit><beat-unit-dot/><per-minute>` +
			`60</per-minute></metronome></direction-type><sound tempo="60"/></direction>` + whole),
			[]string{"warning: this mark says 90 quarter notes a minute, but the file plays 60 here"}},
		"about": {one(fourFt +
			`<direction><direction-type><metronome><beat-unit>quarter</beat-unit><per-minute>c. ` +
			`60</per-minute></metronome></direction-type><sound tempo="60"/></direction>` + whole), nil},
		"modulation": {one(first+whole,
			`<direction><direction-type><metronome><beat-unit>quarter</beat-unit><beat-unit>eighth</beat-unit>`+
				`</metronome></direction-type></direction>`+whole), []string{"this tempo is not a number"}},
		"two tempos": {partwiseXML([]string{first + whole}, []string{`<sound tempo="120"/>` + whole}),
			[]string{"two tempos at one point, 132 and 120 quarter notes a minute"}},
		"same twice": {partwiseXML([]string{first + whole}, []string{at132 + whole}), nil},
		"short part": {partwiseXML([]string{first + whole, whole}, []string{whole}),
			[]string{"this part has 1 measures, but the first has 2"}},
		"long part": {partwiseXML([]string{first + whole}, []string{whole, whole}),
			[]string{"this part has more than the 1 measures of the first"}},
		"irregular": {one(first+whole, `<note><duration>3</duration></note>`, whole),
			[]string{"x.musicxml:3:1: warning: measure 2 has 3 quarter notes, but 4/4 has 4 quarter notes; it " +
				"counts as long as its notes", "[music-meter]"}},
		"a pickup?": {one(first+`<note><duration>1</duration></note>`, whole),
			[]string{"warning: measure 1 has 1 quarter note",
				`count 1 is its beginning; if it is a pickup, mark it so in the music, or write from = "m. 2"`}},
		"meant": {one(first+whole, `number="X1" implicit="yes"><note><duration>3</duration></note>`, whole),
			nil},
		"empty": {one(first+whole, "", whole), nil},
		"endless": {one(`<attributes><time><senza-misura/></time></attributes>` + at132),
			[]string{`measure "1" is empty, and no time signature says how long it is`}},
		"timewise": {`<score-timewise/>`,
			[]string{"score-timewise MusicXML, which Backfield does not read; save it as score-partwise"}},
		"other XML":  {`<html/>`, []string{"begins with <html>, not MusicXML"}},
		"no measure": {`<score-partwise><part/></score-partwise>`, []string{"has no measure"}},
		"no part":    {`<score-partwise></score-partwise>`, []string{"the file ends early"}},
		"cut":        {one(first + whole)[:150], []string{"[bad-music]"}},
		"crossed":    {`<score-partwise><part></score-partwise>`, []string{"[bad-music]"}},
		"entity": {`<!DOCTYPE x [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;&a;">]>` +
			one(first+`<direction><direction-type><rehearsal>&b;</rehearsal></direction-type></direction>`+whole),
			[]string{"invalid character entity &b;"}},
		"outside entity": {`<!DOCTYPE x [<!ENTITY a SYSTEM "file:///etc/passwd">]>` + one(first+whole+`&a;`),
			[]string{"invalid character entity &a;"}},
		"deep": {one(first + strings.Repeat("<x>", 100) + strings.Repeat("</x>", 100)),
			[]string{"elements are nested more than 64 deep"}},
		"deep outside": {`<score-partwise>` + strings.Repeat("<x>", 100), []string{"elements are nested more than 64 deep"}},
		"swollen": {one(first + strings.Repeat("<x/>", mostElements)),
			[]string{"a measure has more than 200000 elements"}},
		"torn text": {one(first + `<direction><direction-type><rehearsal>` + strings.Repeat("a<!---->", 500_000) +
			`</rehearsal></direction-type></direction>` + whole), nil},
		"many signs": {one(slices.Repeat([]string{first + strings.Repeat(at132, 60_000)}, 6)...),
			[]string{"more than 200000 tempos, marks and fermatas"}},
		"long": {one(first + `<note><duration>999999999</duration></note>`),
			[]string{"quarter notes, which is too long"}},
		"endless sum": {one(slices.Repeat([]string{first + `<note><duration>40000</duration></note>`}, 3)...),
			[]string{"lasts more than 50000 quarter notes"}},
		"no duration":    {one(first + `<note><rest/></note>`), []string{`a duration of ""`}},
		"minus":          {one(first + `<note><duration>-4</duration></note>`), []string{`a duration of "-4"`}},
		"NaN":            {one(first + `<note><duration>NaN</duration></note>`), []string{`a duration of "NaN"`}},
		"zero divisions": {one(`<attributes><divisions>0</divisions></attributes>`), []string{`divisions of "0"`}},
		"odd meter": {one(`<attributes><time><beats>4</beats><beat-type>5</beat-type></time></attributes>` + at132 +
			whole), []string{`a time signature over "5"`}},
		"half a meter": {one(`<attributes><time><beats>4</beats></time></attributes>` + at132 + whole),
			[]string{"a time signature without beats and beat-type"}},
		"other charset": {`<?xml version="1.0" encoding="Shift_JIS"?>` + one(first+whole),
			[]string{`the file says that it is written in "Shift_JIS"; export it as UTF-8`}},
		"not UTF-8": {one(first+whole) + "\xff", []string{"not UTF-8 text"}},
	} {
		_, problems := read(t, "x.musicxml", []byte(x.text), plain(""))
		told(t, name, problems, x.want...)
	}
}

func TestMusicXMLCounts(t *testing.T) {
	mark := func(v string) string {
		return `<direction><direction-type><rehearsal>` + v + `</rehearsal></direction-type></direction>`
	}
	meter := func(beats, unit string) string {
		return `<attributes><divisions>4</divisions><time><beats>` + beats + `</beats><beat-type>` + unit +
			`</beat-type></time></attributes>`
	}
	rest := func(n int) string { return fmt.Sprintf(`<note><rest/><duration>%d</duration></note>`, n) }
	for name, x := range map[string]struct {
		text    string
		beat    string
		from    []float64 // of the measures
		marks   []clock.Mark
		changes []clock.Change
	}{
		"grouped sevens": {one(meter("3+2+2", "8")+at132+rest(14), meter("4", "4")+mark(" Drum\n  Break ")+rest(16)),
			"meter", []float64{0, 3}, []clock.Mark{{Name: "Drum Break", At: 3}},
			[]clock.Change{{At: 1, BPM: 88}, {At: 2, BPM: 132}}},
		"plain sevens": {one(meter("7", "8")+at132+rest(14), meter("4", "4")+rest(16)), "meter", []float64{0, 7},
			nil, []clock.Change{{At: 1, BPM: 264}, {At: 8, BPM: 132}}},
		"cut time": {one(meter("2", "2")+`<sound tempo="200"/>`+rest(16), rest(16)), "meter", []float64{0, 2},
			nil, []clock.Change{{At: 1, BPM: 100}}},
		"two signatures": {one(`<attributes><divisions>4</divisions><time><beats>2</beats><beat-type>4</beat-type>`+
			`<beats>3</beats><beat-type>8</beat-type></time></attributes>`+at132+rest(14), rest(14)), "eighth",
			[]float64{0, 7}, nil, []clock.Change{{At: 1, BPM: 264}}},
		"grouped fives": {one(meter("3+2", "4")+at132+rest(20), rest(20)), "meter", []float64{0, 5}, nil,
			[]clock.Change{{At: 1, BPM: 132}}}, // five beats, not two
		"quarters, eighths": {one(`<attributes><divisions>4</divisions><time><beats>2</beats><beat-type>4</beat-type>`+
			`<beats>3</beats><beat-type>8</beat-type></time></attributes>`+at132+rest(14), rest(14)), "meter",
			[]float64{0, 3}, nil,
			[]clock.Change{{At: 1, BPM: 132}, {At: 3, BPM: 88}, {At: 4, BPM: 132}, {At: 6, BPM: 88}}},
		"six and two": {one(`<attributes><divisions>4</divisions><time><beats>6</beats><beat-type>8</beat-type>`+
			`<beats>2</beats><beat-type>4</beat-type></time></attributes>`+at132+rest(20), rest(20)), "meter",
			[]float64{0, 4}, nil,
			[]clock.Change{{At: 1, BPM: 88}, {At: 3, BPM: 132}, {At: 5, BPM: 88}, {At: 7, BPM: 132}}},
		"metronome alone": {one(meter("12", "8")+
			`<direction><direction-type><metronome><beat-unit>quarter</beat-unit><beat-unit-dot/><per-minute>`+
			`60</per-minute></metronome></direction-type></direction>`+rest(24), rest(24)), "dotted-quarter",
			[]float64{0, 4}, nil, []clock.Change{{At: 1, BPM: 60}}},
		"voices and parts": {partwiseXML(
			[]string{meter("4", "4") + at132 + rest(8) + `<backup><duration>8</duration></backup>` + rest(16),
				`<note><grace/></note>` + rest(16) + `<note><chord/><duration>16</duration></note>`},
			[]string{meter("4", "4") + `<forward><duration>16</duration></forward>`,
				rest(8) + mark("B") + `<sound tempo="90"/>` + rest(8)}), "", []float64{0, 4},
			[]clock.Mark{{Name: "B", At: 6}}, []clock.Change{{At: 1, BPM: 132}, {At: 7, BPM: 90}}},
		"offsets": {one(meter("4", "4")+at132+
			`<direction><direction-type><words>rit</words></direction-type><offset>4</offset><sound `+
			`tempo="120"><offset>6</offset></sound></direction>`+
			`<direction><direction-type><words>a</words></direction-type><offset sound="yes">12</offset><sound `+
			`tempo="60"/></direction>`+rest(16), rest(16)), "", []float64{0, 4}, nil,
			[]clock.Change{{At: 1, BPM: 132}, {At: 2.5, BPM: 120}, {At: 4, BPM: 60}}},
	} {
		m, problems := read(t, "x.musicxml", []byte(x.text), plain(x.beat))
		told(t, name, problems)
		if m.Music == nil {
			continue
		}
		var from []float64
		for _, v := range m.Music.Measures {
			from = append(from, v.From)
		}
		if !slices.Equal(from, x.from) || !slices.Equal(m.Music.Marks, x.marks) || !slices.Equal(m.Changes, x.changes) {
			t.Errorf("%s: %v %v %v", name, from, m.Music.Marks, m.Changes)
		}
	}
}

// A fermata wants a pause of the score's, or the word that there is none.
func TestFermata(t *testing.T) {
	held := func(n int) string {
		return fmt.Sprintf(`<note><duration>%d</duration><notations><fermata/></notations></note>`, n)
	}
	text := []byte(partwiseXML([]string{fourFt + at132 + whole, `<note><duration>2</duration></note>` + held(2),
		whole + `<barline><fermata/></barline>`},
		[]string{whole, `<note><duration>3</duration></note>` + held(1), whole}))
	_, problems := read(t, "x.musicxml", text, plain(""))
	told(t, "unsaid", problems, "x.musicxml:3:",
		`warning: a fermata in m. 2 beat 3, but nothing says how long it is held; write pauses = [{ at = "m. 2 beat `+
			`4", pause = "2 s" }], or pause = 0`, "a fermata in m. 3 beat 4")
	if len(problems) != 2 {
		t.Errorf("%d problems", len(problems))
	}
	m, problems := read(t, "x.musicxml", text,
		how{first: -1, pauses: []score.Pause{{Place: clock.ShowCount{Measure: "2", Beat: 4}, S: 2}, {Count: 12}}})
	told(t, "said", problems)
	if s := clock.NewTempo(m.Changes).Seconds(12); s < 7.45 || s > 7.46 { // 12 counts at 132, and 2 s
		t.Errorf("%g s", s)
	}
}

// UTF-16 with a byte order mark, as XML may be written.
func TestUTF16(t *testing.T) {
	text := `<?xml version="1.0" encoding="UTF-16"?>` +
		one(fourFt+at132+`<direction><direction-type><rehearsal>Ü</rehearsal></direction-type></direction>`+whole)
	little, big := []byte{0xFF, 0xFE}, []byte{0xFE, 0xFF}
	for _, u := range utf16.Encode([]rune(text)) {
		little, big = append(little, byte(u), byte(u>>8)), append(big, byte(u>>8), byte(u))
	}
	for _, raw := range [][]byte{little, big, []byte(text), append([]byte("\xef\xbb\xbf"), text...)} {
		m, problems := read(t, "x.musicxml", raw, plain(""))
		told(t, "UTF-16", problems)
		if m.Music == nil || m.Music.Marks[0].Name != "Ü" {
			t.Errorf("%+v", m.Music)
		}
	}
}

func pack(files map[string]string) []byte {
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for _, name := range []string{"META-INF/container.xml", "score.xml"} {
		if text, ok := files[name]; ok {
			w, _ := z.Create(name)
			w.Write([]byte(text))
		}
	}
	z.Close()
	return b.Bytes()
}

func TestPacked(t *testing.T) {
	const container = `<container><rootfiles><rootfile full-path="score.xml"/></rootfiles></container>`
	fine := pack(map[string]string{"META-INF/container.xml": container,
		"score.xml": one(fourFt+at132+whole, "<nonsense>"+whole)})
	for name, x := range map[string]struct {
		raw  []byte
		want []string
	}{
		"fine": {pack(map[string]string{"META-INF/container.xml": container,
			"score.xml": one(fourFt + at132 + whole)}), nil},
		"a fault": {fine, []string{"x.mxl/score.xml:3:", "[bad-music]"}},
		"no container": {pack(map[string]string{"score.xml": "x"}),
			[]string{`x.mxl has no file "META-INF/container.xml"`}},
		"no name": {pack(map[string]string{"META-INF/container.xml": "<container/>"}),
			[]string{"does not say in META-INF/container.xml which file in it is the score"}},
		"no score": {pack(map[string]string{"META-INF/container.xml": container}),
			[]string{`x.mxl has no file "score.xml"`}},
		"climbs out": {pack(map[string]string{"META-INF/container.xml": strings.Replace(container, "score.xml",
			"../../etc/passwd", 1)}), []string{`x.mxl has no file "../../etc/passwd"`}},
		"cut":     {fine[:len(fine)-30], []string{"x.mxl is damaged"}},
		"flipped": {bytes.Replace(fine, []byte("PK\x03\x04"), []byte("PK\x03\x04\xff\xff"), 1), []string{"x.mxl"}},
		"bomb": {pack(map[string]string{"META-INF/container.xml": container,
			"score.xml": strings.Repeat(" ", xmlLimit+2)}), []string{"which unpacks to more than 67108864 bytes"}},
	} {
		_, problems := read(t, "x.mxl", x.raw, plain(""))
		told(t, name, problems, x.want...)
	}
}

// A band's full score, some 20 MB, is read in seconds.
func TestLargeScore(t *testing.T) {
	if testing.Short() {
		t.Skip("20 MB of MusicXML")
	}
	note := `<note default-x="83.72" ` +
		`default-y="-30.00"><pitch><step>C</step><octave>5</octave></pitch><duration>1</duration><voice>1</voice>` +
		`<type>quarter</type><stem>up</stem></note>` + "\n"
	measure := strings.Repeat(note, 4)
	measures := append([]string{fourFt + at132 + measure}, slices.Repeat([]string{measure}, 399)...)
	text := partwiseXML(slices.Repeat([][]string{measures}, 70)...)
	start := time.Now()
	m, problems := read(t, "x.musicxml", []byte(text), plain(""))
	told(t, "large", problems)
	if m.Music == nil || m.Music.Least != 1600 {
		t.Errorf("%+v", m.Music)
	}
	t.Logf("%d MB in %v", len(text)>>20, time.Since(start))
}

func FuzzMusicXML(f *testing.F) {
	for _, name := range []string{"ferry.musicxml", "ferry-webmscore.musicxml", "ferry-webmscore.mxl",
		"ferry-musicxml-io.musicxml", "pickup-webmscore.musicxml"} {
		f.Add(file(f, name), "meter", -1)
	}
	f.Add([]byte(one(fourFt+at132+whole+`<barline><repeat/></barline>`)), "quarter", -1)
	f.Fuzz(sane)
}
