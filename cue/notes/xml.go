package notes

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"backfield/cue/clock"
)

// PartReader collects the notes of the parts of a MusicXML file (4.0, W3C Community Group Report, 2021), measure by
// measure. Places are in quarter notes from the beginning of a measure. The zero value is ready.
type PartReader struct {
	names map[string]string // of the parts, by id
	parts []*partNotes      // the last is the one being read
	notes int
}

// mostNotes is how many notes and rests a file may have.
const mostNotes = 1_000_000

// Name is what the part of a rank, from 0, is called.
func (x *PartReader) Name(rank int) string {
	return Tidy(x.parts[rank].name, fmt.Sprintf("Part %d", rank+1))
}

// partNotes is one part as it is being read.
type partNotes struct {
	name   string
	staves []*staff
	wide   []staffSign // for every staff, also for those that come later
	styles []style
}

// staff is one staff of a part.
type staff struct {
	shift float64 // from what is written to what sounds, in semitones
	notes []written
	signs []staffSign
	slurs map[string]bool // those that are open, by number
}

// written is a note or a rest as it is written.
type written struct {
	clock.PlayedNote
	bar      int
	times    []int // at which times of its measure it is played, nil for each
	voice    string
	rest     bool
	tieStart bool
	tieStop  bool
}

// staffSign is what is written at a place: a dynamic mark, the begin or end of a hairpin or of dashes, or words.
type staffSign struct {
	bar    int
	at     float64
	db     float64
	mark   bool
	wedge  string // its type
	dashes string // their type
	number string // of the dashes
	words  string
}

// List reads an entry of the part-list.
func (x *PartReader) List(e *Element) {
	if x.names == nil {
		x.names = map[string]string{}
	}
	x.names[e.Attr("id")] = e.Say("part-name")
}

// Begin begins a part.
func (x *PartReader) Begin(id string) {
	x.parts = append(x.parts, &partNotes{name: x.names[id]})
}

// mostStaves is how many staves of one part are told apart; those beyond count as the last.
const mostStaves = 16

// staff is the staff of the current part that an element names, the first where it names none.
func (x *PartReader) staff(number string) *staff {
	p := x.parts[len(x.parts)-1]
	n, err := strconv.Atoi(number)
	if err != nil {
		n = 1
	}
	n = min(max(n, 1), mostStaves)
	for len(p.staves) < n {
		s := &staff{slurs: map[string]bool{}, signs: slices.Clone(p.wide)}
		if len(p.staves) > 0 {
			s.shift = p.staves[0].shift
		}
		p.staves = append(p.staves, s)
	}
	return p.staves[n-1]
}

// Attributes reads how far what sounds is from what is written, of one staff or of all, and which measures are drawn as
// repeats of others or with slashes.
func (x *PartReader) Attributes(e *Element, bar int, at float64) error {
	if err := x.measureStyles(e, bar, at); err != nil {
		return err
	}
	for _, k := range e.All("transpose") {
		chromatic, _ := strconv.ParseFloat(k.Say("chromatic"), 64)
		octaves, _ := strconv.ParseFloat(k.Say("octave-change"), 64)
		shift := chromatic + 12*octaves
		if !(math.Abs(shift) < 128) {
			continue
		}
		one := x.staff(k.Attr("number"))
		one.shift = shift
		if k.Attr("number") == "" {
			for _, s := range x.parts[len(x.parts)-1].staves {
				s.shift = shift
			}
		}
	}
	return nil
}

// CueSized reports whether a note is drawn as a cue note, but does not say that it is one.
func CueSized(e *Element) bool {
	k := e.Kid("type")
	return e.Kid("cue") == nil && e.Kid("rest") == nil && k != nil &&
		(k.Attr("size") == "cue" || k.Attr("size") == "grace-cue")
}

// Note reads a note or a rest of a measure, from one place to another. Cue notes are not played, and grace notes take
// no time of their own.
func (x *PartReader) Note(e *Element, bar int, from, to float64) error {
	if e.Kid("cue") != nil || e.Kid("grace") != nil || CueSized(e) {
		return nil
	}
	if x.notes++; x.notes > mostNotes {
		return fmt.Errorf("more than %d notes", mostNotes)
	}
	s := x.staff(e.Say("staff"))
	n := written{bar: bar, voice: e.Say("voice"), rest: e.Kid("rest") != nil}
	n.From, n.To, n.Key = from, to, clock.Unpitched
	for _, text := range strings.FieldsFunc(e.Attr("time-only"), func(r rune) bool { return r == ',' || r == ' ' }) {
		time, err := strconv.Atoi(text)
		if err != nil || time < 1 {
			return fmt.Errorf("a time-only of %.20q", e.Attr("time-only"))
		}
		n.times = append(n.times, time)
	}
	if n.rest {
		clear(s.slurs) // one that nobody ended
		if e.Attr("print-object") != "no" {
			s.notes = append(s.notes, n)
		}
		return nil
	}
	if k := e.Kid("pitch"); k != nil {
		key, err := pitch(k)
		if err != nil {
			return err
		}
		n.Key = key + s.shift
	}
	s.notate(e, &n)
	s.notes = append(s.notes, n)
	return nil
}

// semitones are those of the steps, from C.
var semitones = map[string]float64{"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}

// pitch is a written pitch as a MIDI key.
func pitch(e *Element) (key float64, err error) {
	step, known := semitones[e.Say("step")]
	octave, err := strconv.Atoi(e.Say("octave"))
	if !known || err != nil || octave < -1 || octave > 10 {
		return 0, fmt.Errorf("a pitch of step %.10q in octave %.10q", e.Say("step"), e.Say("octave"))
	}
	alter := 0.0
	if text := e.Say("alter"); text != "" {
		if alter, err = strconv.ParseFloat(text, 64); err != nil || !(math.Abs(alter) <= 12) {
			return 0, fmt.Errorf("a pitch that is altered by %.10q", text)
		}
	}
	return 12*float64(octave+1) + step + alter, nil
}

// notate reads ties, slurs, breaths and dynamics at a note.
func (s *staff) notate(e *Element, n *written) {
	tie := func(k *Element) {
		n.tieStart = n.tieStart || k.Attr("type") == "start"
		n.tieStop = n.tieStop || k.Attr("type") == "stop"
	}
	for _, k := range e.All("tie") {
		tie(k)
	}
	for _, notations := range e.All("notations") {
		for _, k := range notations.Kids {
			switch k.Name {
			case "tied":
				tie(k)
			case "slur":
				if k.Attr("type") == "start" && len(s.slurs) < mostStaves {
					s.slurs[k.Attr("number")] = true
				} else if k.Attr("type") == "stop" {
					delete(s.slurs, k.Attr("number"))
				}
			case "articulations":
				n.Breath = n.Breath || k.Kid("breath-mark") != nil || k.Kid("caesura") != nil
			case "dynamics":
				s.mark(k, n.bar, n.From)
			}
		}
	}
	n.Joined = len(s.slurs) > 0
}

// mark adds the dynamic mark of an element, if it is one that lasts.
func (s *staff) mark(e *Element, bar int, at float64) {
	for _, k := range e.Kids {
		if db, ok := LevelOf(k); ok {
			s.signs = append(s.signs, staffSign{bar: bar, at: at, db: db, mark: true})
		}
	}
}

// Direction reads a direction at a place: of its staff, or of all where it names none.
func (x *PartReader) Direction(e *Element, bar int, at float64) error {
	staves := []*staff{x.staff(e.Say("staff"))}
	if e.Kid("staff") == nil {
		p := x.parts[len(x.parts)-1]
		all := &staff{}
		staves = append([]*staff{all}, p.staves...)
		defer func() { p.wide = append(p.wide, all.signs...) }()
	}
	if text := Words(e); text != "" {
		sign := staffSign{bar: bar, at: at, words: text}
		sign.db, sign.mark = levelWords(text)
		for _, s := range staves {
			s.signs = append(s.signs, sign)
		}
	}
	for _, t := range e.All("direction-type") {
		for _, k := range t.Kids {
			if x.notes += len(staves); x.notes > mostNotes {
				return fmt.Errorf("more than %d notes", mostNotes)
			}
			for _, s := range staves {
				switch k.Name {
				case "dynamics":
					s.mark(k, bar, at)
				case "wedge":
					s.signs = append(s.signs, staffSign{bar: bar, at: at, wedge: k.Attr("type")})
				case "dashes":
					s.signs = append(s.signs,
						staffSign{bar: bar, at: at, dashes: k.Attr("type"), number: k.Attr("number")})
				}
			}
		}
	}
	return nil
}
