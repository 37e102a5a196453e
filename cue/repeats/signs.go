// Package repeats finds in what order the measures of a MusicXML file are played: repeats, endings, da capo, dal segno,
// coda and fine, as the file has them for playback (MusicXML 4.0, elements repeat, ending and sound). What it cannot
// follow without a doubt it refuses.
package repeats

import (
	"strconv"
	"strings"

	"backfield/cue/notes"
	"backfield/layout/source"
)

// JumpSigns are the signs of all measures, by measure from 0. Parts may each have them; the same sign of several parts is one.
// The zero value is ready.
type JumpSigns struct {
	forward  map[int]source.Span
	backward map[int]backward
	begun    map[int]ending // endings, by their first measure
	ended    map[int]bool   // the measures with which one ends
	middle   map[int]source.Span

	jumps  map[int]jump
	fine   map[int]source.Span
	toCoda map[int]source.Span
	segnos map[string]int
	codas  map[string]int
	twice  map[string]source.Span // segnos and codas of one name in two measures, by what is written: "segno a"
	timed  []timedSign            // what is for some times of a repeat only
	words  map[int][]sent         // jumps as they are written
	places []signPlace            // where the jumps for playback are

	badTimes  map[int]source.Span // repeats whose number of times is unclear
	drawnAt   []repeatPlace       // repeats of the measure that is being read
	afterJump map[int]source.Span // repeats that are played after a jump too
}

// signPlace is a sign for playback within its measure.
type signPlace struct {
	bar   int
	place float64 // in quarters from its beginning
	lead  bool    // others lead to it: its place is the beginning
	at    source.Span
}

// timedSign is a jump, a fine or a tempo that counts at some times of its measure only.
type timedSign struct {
	bar   int
	times []int // nil if they are not clear, or if they cannot be followed
	at    source.Span
}

// repeatPlace is a repeat with how much of its measure comes before it, in quarters.
type repeatPlace struct {
	forward bool
	filled  float64
	at      source.Span
}

// backward is a sign that leads back, with how often its measures are played in all.
type backward struct {
	times int
	said  bool // the file says how often; else it is twice
	at    source.Span
}

// ending is the beginning of a bracket over measures that are played at some times only.
type ending struct {
	numbers []int
	at      source.Span
}

// jump is a da capo, or a dal segno to the segno of that name.
type jump struct {
	segno string
	capo  bool
	at    source.Span
}

// put adds to a map that may not exist yet, and keeps what is there.
func put[K comparable, V any](m *map[K]V, key K, v V) {
	if *m == nil {
		*m = map[K]V{}
	}
	if _, known := (*m)[key]; !known {
		(*m)[key] = v
	}
}

// mostTimes is how often a measure may be played.
const mostTimes = 100

// Barline reads the repeats and endings of a barline of a measure. Filled is how much of the measure its part has
// before it, in quarters.
func (s *JumpSigns) Barline(e *notes.Element, bar int, filled float64) {
	s.barlineSigns(e, bar)
	if k := e.Kid("repeat"); k != nil {
		s.drawnAt = append(s.drawnAt, repeatPlace{k.Attr("direction") == "forward", filled, k.At})
		switch {
		case e.Attr("location") == "middle":
			put(&s.middle, bar, k.At)
		case k.Attr("direction") == "forward":
			put(&s.forward, bar, k.At)
		default:
			times := 2
			text := strings.TrimSpace(k.Attr("times"))
			if text != "" {
				var err error
				if times, err = strconv.Atoi(text); err != nil || times < 1 || times > mostTimes {
					put(&s.badTimes, bar, k.At)
				}
			}
			put(&s.backward, bar, backward{times, text != "", k.At})
			if k.Attr("after-jump") == "yes" {
				put(&s.afterJump, bar, k.At)
			}
		}
	}
	if k := e.Kid("ending"); k != nil {
		if k.Attr("type") == "start" {
			put(&s.begun, bar, ending{numbers(k.Attr("number")), k.At})
		} else {
			put(&s.ended, bar, true)
		}
	}
}

// EndMeasure ends a measure of a part, which fills so many quarters: a repeat has to be at its beginning or its end.
// Where its barline says that it is may be wrong; the notes around it are not.
func (s *JumpSigns) EndMeasure(bar int, filled float64) {
	for _, x := range s.drawnAt {
		if x.forward && x.filled > tiny || !x.forward && x.filled < filled-tiny {
			put(&s.middle, bar, x.at)
		}
	}
	s.drawnAt = nil
}

// tiny is how close two places are the same, in quarters.
const tiny = 1e-6

// lead notes where a segno or a coda is. The same sign of several parts is in one measure.
func (s *JumpSigns) lead(m *map[string]int, kind, name string, bar int, at source.Span) {
	if put(m, name, bar); (*m)[name] != bar {
		put(&s.twice, kind+" "+name, at)
	}
}

// barlineSigns reads the segno and the coda of a barline, which are at its place, for what follows.
func (s *JumpSigns) barlineSigns(e *notes.Element, bar int) {
	next := bar
	if e.Attr("location") != "left" {
		next++
	}
	if v := e.Attr("segno"); v != "" {
		s.lead(&s.segnos, "segno", v, next, e.At)
	}
	if v := e.Attr("coda"); v != "" {
		s.lead(&s.codas, "coda", v, next, e.At)
	}
	for _, name := range []string{"dacapo", "dalsegno", "tocoda", "fine"} { // MusicXML has no such thing
		if e.Attr(name) != "" {
			s.sent(sent{at: e.At, strange: true}, bar)
		}
	}
	if k := e.Kid("coda"); k != nil {
		s.Coda(k.At, next)
	}
}

// numbers reads the times of an ending, "1, 2"; nil if they are not clear.
func numbers(text string) (list []int) {
	for _, x := range strings.FieldsFunc(text, func(r rune) bool { return r == ',' || r == ' ' || r == '.' }) {
		n, err := strconv.Atoi(x)
		if err != nil || n < 1 || n > mostTimes {
			return nil
		}
		list = append(list, n)
	}
	return list
}

// Sound reads the jumps of a sound element at a place of its measure, in quarters. They are taken at the end of the
// measure, and lead to the beginning of one.
func (s *JumpSigns) Sound(e *notes.Element, bar int, place float64) {
	for _, a := range e.Attrs {
		v := strings.TrimSpace(a.Value)
		if v == "" || v == "no" {
			continue
		}
		x := signPlace{bar: bar, place: place, at: e.At}
		switch a.Name.Local {
		case "dacapo":
			put(&s.jumps, bar, jump{capo: true, at: e.At})
		case "dalsegno":
			put(&s.jumps, bar, jump{segno: v, at: e.At})
		case "tocoda":
			put(&s.toCoda, bar, e.At)
		case "fine":
			put(&s.fine, bar, e.At)
		case "segno":
			s.lead(&s.segnos, "segno", v, bar, e.At)
			x.lead = true
		case "coda":
			s.lead(&s.codas, "coda", v, bar, e.At)
			x.lead = true
		case "forward-repeat":
			put(&s.forward, bar, e.At)
			s.timedSign(e, bar, false)
			continue
		case "tempo":
			s.timedSign(e, bar, false)
			continue
		default:
			continue
		}
		s.timedSign(e, bar, !x.lead)
		s.places = append(s.places, x)
	}
}

// timedSign notes a sound element that is for some times only. Those of a jump or fine are followed.
func (s *JumpSigns) timedSign(e *notes.Element, bar int, followed bool) {
	text := e.Attr("time-only")
	if text == "" {
		return
	}
	x := timedSign{bar: bar, at: e.At}
	if followed {
		x.times = numbers(text)
	}
	s.timed = append(s.timed, x)
}

// Jumps reports whether the file plays a da capo or dal segno.
func (s *JumpSigns) Jumps() bool { return len(s.jumps) > 0 }

// Inside finds a jump, or the place where one leads, that is neither at the beginning nor at the end of its measure.
// Lengths are those of the measures, in quarters.
func (s *JumpSigns) Inside(lengths []float64) (at source.Span, fault *source.Fault) {
	for _, x := range s.places {
		if x.place > tiny && (x.lead || x.place < lengths[x.bar]-tiny) {
			return x.at, jumpInside(x.lead)
		}
	}
	return at, nil
}
