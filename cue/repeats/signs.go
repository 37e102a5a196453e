// Package repeats finds in what order the measures of a MusicXML file are played: repeats, endings, da capo, dal segno,
// coda and fine, as the file has them for playback (MusicXML 4.0, elements repeat, ending and sound). What it cannot
// follow without a doubt it refuses.
package repeats

import (
	"regexp"
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
	fine   map[int]bool
	toCoda map[int]source.Span
	segnos map[string]int
	codas  map[string]int
	words  map[int]source.Span // a jump that is only written
}

// backward is a sign that leads back, with how often its measures are played in all.
type backward struct {
	times int
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

// Barline reads the repeats and endings of a barline of a measure.
func (s *JumpSigns) Barline(e *notes.Element, bar int) {
	if k := e.Kid("repeat"); k != nil {
		switch {
		case e.Attr("location") == "middle":
			put(&s.middle, bar, k.At)
		case k.Attr("direction") == "forward":
			put(&s.forward, bar, k.At)
		default:
			times, err := strconv.Atoi(strings.TrimSpace(k.Attr("times")))
			if err != nil || times < 1 || times > mostTimes {
				times = 2
			}
			put(&s.backward, bar, backward{times, k.At})
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

// jumpWords are directions in words that send the players elsewhere.
var jumpWords = regexp.MustCompile(`(?i)^\s*(d\.\s?[cs]\.|d[cs] al\b|da capo\b|dal segno\b|to coda\b|repeat\b` +
	`|fine\s*$)`)

// Words reads a direction in words: one that sends the players elsewhere has to be there for playback too.
func (s *JumpSigns) Words(e *notes.Element, bar int) {
	if jumpWords.MatchString(e.Text) {
		put(&s.words, bar, e.At)
	}
}

// Sound reads the jumps of a sound element. They are taken at the end of its measure, and lead to the beginning of one.
func (s *JumpSigns) Sound(e *notes.Element, bar int) {
	for _, a := range e.Attrs {
		v := strings.TrimSpace(a.Value)
		if v == "" || v == "no" {
			continue
		}
		switch a.Name.Local {
		case "dacapo":
			put(&s.jumps, bar, jump{capo: true, at: e.At})
		case "dalsegno":
			put(&s.jumps, bar, jump{segno: v, at: e.At})
		case "tocoda":
			put(&s.toCoda, bar, e.At)
		case "fine":
			put(&s.fine, bar, true)
		case "segno":
			put(&s.segnos, v, bar)
		case "coda":
			put(&s.codas, v, bar)
		case "forward-repeat":
			put(&s.forward, bar, e.At)
		}
	}
}
