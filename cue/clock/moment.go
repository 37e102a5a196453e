package clock

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"backfield/layout/source"
)

// ShowCount is a moment as written: a count of a movement, or counts from the instant a set is reached, a measure
// begins, or a rehearsal mark is. Of Count, Set, Measure and Mark one is given.
type ShowCount struct {
	Movement int     // 0 where it is not written: with Set, and with Measure and Mark where it need not be
	Count    float64 // from 1
	Set      string
	Measure  string  // its number, as the music has it
	Beat     float64 // of the measure, from 1; 0 where it is not written
	Mark     string
	Offset   float64 // counts after the set, measure or mark, negative before
}

// Musical reports whether it is a place in the music, not a count or a set.
func (p ShowCount) Musical() bool { return p.Measure != "" || p.Mark != "" }

const (
	ofMovement = `^(?:(\d{1,4})\s*:\s*)?`
	anOffset   = `(?:\s*([+]|\s-\s?)\s*(\d{1,6}(?:\.\d{1,6})?))?$`
	aLabel     = `([^\s\v\pZ\pC+]+)`
)

var (
	countForm   = regexp.MustCompile(`^(\d{1,4})\s*:\s*(\d{1,6}(?:\.\d{1,6})?)$`)
	setForm     = regexp.MustCompile(`^(?i:set)\s+` + aLabel + anOffset)
	measureForm = regexp.MustCompile(ofMovement + `(?i:m\.|m\s|measure\s)\s*` + aLabel +
		`(?:\s+(?i:beat)\s+(\d{1,4}(?:\.\d{1,6})?))?` + anOffset)
	timeForm = regexp.MustCompile(`^\d{1,2}:\d{2}:\d{2}(?: [AP]M)?$`)
	markForm = regexp.MustCompile(ofMovement + `(?i:mark)\s+([^\v\pC+]*?[^\s\v\pZ\pC+])` + anOffset)
)

const showCountForm = `write "1:33" (movement 1, count 33), "set 7", "set 7 + 4", "m. 23 beat 3" or "mark C + 2"`

// ParseShowCount reads "2:33", "2:33.5", "set 14", "set 14 + 4", "m. 23 beat 3", "mark C - 2", "2:m. 23".
func ParseShowCount(text string) (ShowCount, *source.Fault) {
	trimmed := strings.TrimSpace(text)
	p, what, do := parseShowCount(trimmed)
	if what != "" {
		return ShowCount{}, &source.Fault{Hi: len(text), What: fmt.Sprintf("%q%s", trimmed, what), Do: do}
	}
	return p, nil
}

// parseShowCount reads a count, or says what is wrong with it and what to do.
func parseShowCount(text string) (p ShowCount, what, do string) {
	if m := countForm.FindStringSubmatch(text); m != nil {
		p.Movement, _ = strconv.Atoi(m[1])
		p.Count, _ = strconv.ParseFloat(m[2], 64)
		if p.Movement == 0 || p.Count < 1 {
			return p, ": movements and counts are numbered from 1", "count 1 is the downbeat of a movement"
		}
		return p, "", ""
	}
	if m := setForm.FindStringSubmatch(text); m != nil {
		return ShowCount{Set: m[1], Offset: offset(m[2], m[3])}, "", ""
	}
	if m := measureForm.FindStringSubmatch(text); m != nil {
		p.Measure, p.Offset = m[2], offset(m[4], m[5])
		p.Beat, _ = strconv.ParseFloat(m[3], 64)
		if m[3] != "" && p.Beat < 1 {
			return p, ": beats are numbered from 1", "beat 1 is the beginning of a measure"
		}
		return p.inMovement(m[1])
	}
	if m := markForm.FindStringSubmatch(text); m != nil {
		return ShowCount{Mark: MarkName(m[2]), Offset: offset(m[3], m[4])}.inMovement(m[1])
	}
	if timeForm.MatchString(text) {
		return p, " is a time of day: a spreadsheet makes one from a count such as 2:9",
			"format the cell as text, and type the count again"
	}
	return p, " is not a count", showCountForm
}

// inMovement is a place in the music of one movement; number is "" where none is written.
func (p ShowCount) inMovement(number string) (in ShowCount, what, do string) {
	if number == "" {
		return p, "", ""
	}
	if p.Movement, _ = strconv.Atoi(number); p.Movement == 0 {
		return p, ": movements are numbered from 1", showCountForm
	}
	return p, "", ""
}

// offset reads "+", "4" or " - ", "4"; "" is 0.
func offset(sign, counts string) float64 {
	v, _ := strconv.ParseFloat(counts, 64)
	if strings.Contains(sign, "-") {
		return 0 - v
	}
	return v
}

// String writes it as ParseShowCount reads it.
func (p ShowCount) String() string {
	text := ""
	if p.Movement != 0 {
		text = strconv.Itoa(p.Movement) + ":"
	}
	switch {
	case p.Set != "":
		text += "set " + p.Set
	case p.Measure != "":
		text += "m. " + p.Measure
		if p.Beat != 0 {
			text += " beat " + trim(p.Beat)
		}
	case p.Mark != "":
		text += "mark " + p.Mark
	default:
		text += trim(p.Count)
	}
	switch {
	case p.Offset > 0:
		text += " + " + trim(p.Offset)
	case p.Offset < 0:
		text += " - " + trim(-p.Offset)
	}
	return text
}

func trim(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// Moment is a count of the show once resolved: counts elapsed since a movement's downbeat.
type Moment struct {
	Movement int
	Elapsed  float64
}

// Count is the moment as a count from 1.
func (m Moment) Count() float64 { return m.Elapsed + 1 }

// Before reports whether m comes before n.
func (m Moment) Before(n Moment) bool {
	return m.Movement < n.Movement || m.Movement == n.Movement && m.Elapsed < n.Elapsed-1e-9
}

// Compare orders moments in time: -1, 0 or 1.
func (m Moment) Compare(n Moment) int {
	switch {
	case m.Before(n):
		return -1
	case n.Before(m):
		return 1
	}
	return 0
}

// MovementTime is one movement's time.
type MovementTime struct {
	Name   string
	Counts float64
	StartS float64 // of its downbeat, since the show's
	Tempo  Tempo
	Music  *Music // nil where no file of music says its time
}

// SetArrival is the moment that a set is reached.
type SetArrival struct {
	Label string
	At    Moment
}

// Clock is the whole show's time.
type Clock struct {
	Movements []MovementTime // number 1 first
	Sets      []SetArrival   // in order
	Cuts      []TimeCut      // what is not played; in order, separate
}

// Resolve finds the moment of a count, or says what is wrong with it.
func (c *Clock) Resolve(p ShowCount) (Moment, *source.Fault) {
	m := Moment{p.Movement, p.Count - 1}
	if p.Set != "" {
		found := false
		var labels []string
		for _, s := range c.Sets {
			labels = append(labels, s.Label)
			if s.Label == p.Set {
				m, found = Moment{s.At.Movement, s.At.Elapsed + p.Offset}, true
				break
			}
		}
		if !found {
			return m, noSuchSet(p.Set, labels)
		}
	}
	if p.Musical() {
		var fault *source.Fault
		if m, fault = c.find(p); fault != nil {
			return m, fault
		}
	}
	if m.Movement > len(c.Movements) {
		return m, noSuchMovement(m.Movement, len(c.Movements))
	}
	counts := c.Movements[m.Movement-1].Counts
	switch {
	case m.Elapsed < 0:
		return m, beforeDownbeat(p, -m.Elapsed, m.Movement)
	case p.Count != 0 && m.Elapsed > counts-1e-9:
		return m, pastLastCount(m.Movement, counts)
	case m.Elapsed > counts+1e-9:
		return m, pastEnd(p, m.Elapsed-counts, m.Movement)
	}
	return m, nil
}

// Seconds is the time of a moment since the show's first downbeat.
func (c *Clock) Seconds(m Moment) float64 {
	v := c.Movements[m.Movement-1]
	return v.StartS + v.Tempo.Seconds(m.Elapsed)
}

// At is the moment of a time since the show's first downbeat: the first that is not before it, so that a pause belongs
// on the count after it. Before a downbeat it is that downbeat, past the end the end.
func (c *Clock) At(seconds float64) Moment {
	m := len(c.Movements)
	for m > 1 && c.Movements[m-1].StartS > seconds {
		if end := c.Movements[m-2]; seconds > end.StartS+end.Tempo.Seconds(end.Counts) {
			break // in the wait before it
		}
		m--
	}
	lo, hi := 0.0, c.Movements[m-1].Counts
	for range 50 {
		mid := (lo + hi) / 2
		if c.Seconds(Moment{m, mid}) < seconds-1e-9 {
			lo = mid
		} else {
			hi = mid
		}
	}
	if c.Seconds(Moment{m, lo}) >= seconds-1e-9 {
		hi = lo
	}
	return c.played(Moment{m, hi})
}

// Span is the time in seconds that counts take from a moment on, at the tempo written there.
func (c *Clock) Span(m Moment, counts float64) float64 {
	v := c.Movements[m.Movement-1]
	for _, x := range c.Cuts {
		before := x.From.Elapsed - m.Elapsed
		if x.From.Movement == m.Movement && before > -tiny && before < counts-tiny && x.To.Before(c.Last()) {
			return v.Tempo.Seconds(x.From.Elapsed) - v.Tempo.Seconds(m.Elapsed) + c.Span(x.To, counts-before)
		}
	}
	return v.Tempo.Seconds(m.Elapsed+counts) - v.Tempo.Seconds(m.Elapsed)
}

// Set is the label of the last set reached at or before a moment, "" before the first.
func (c *Clock) Set(m Moment) string {
	label := ""
	for _, s := range c.Sets {
		if m.Before(s.At) {
			break
		}
		label = s.Label
	}
	return label
}

// End is the last moment that is played of the show.
func (c *Clock) End() Moment { return c.played(c.Last()) }

// Samples lists moments from one to another, both included, every step counts; a movement that ends between
// contributes its end and the next its downbeat, since players may be somewhere else after it. So does a cut.
func (c *Clock) Samples(from, to Moment, step float64) []Moment {
	var list []Moment
	for i, x := range c.Parts(from, to) {
		if i > 0 && x.Hi < x.Lo+1e-9 {
			break // it ends on that downbeat: the end of the movement before replaces it
		}
		for n := 0; ; n++ {
			e := x.Lo + float64(n)*step
			if e > x.Hi-1e-9 {
				break
			}
			list = append(list, Moment{x.Movement, e})
		}
		list = append(list, Moment{x.Movement, x.Hi})
	}
	return list
}

// Counts is the number of played counts from one moment to another, negative when the second comes first.
func (c *Clock) Counts(from, to Moment) float64 {
	if to.Before(from) {
		return -c.Counts(to, from)
	}
	n := to.Elapsed - from.Elapsed
	for m := from.Movement; m < to.Movement; m++ {
		n += c.Movements[m-1].Counts
	}
	for _, x := range c.Cuts {
		for m := from.Movement; m <= to.Movement; m++ {
			lo, hi, _ := x.in(m, c.Movements[m-1].Counts)
			if m == from.Movement {
				lo = max(lo, from.Elapsed)
			}
			if m == to.Movement {
				hi = min(hi, to.Elapsed)
			}
			n -= max(hi-lo, 0)
		}
	}
	return n
}
