package clock

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"backfield/layout/source"
)

// Music is what a file of music says about a movement other than its tempo, in counts elapsed since the downbeat. What
// comes before the downbeat, a pickup, has places below 0.
type Music struct {
	Name     string      // of the file, as the score has it
	Measures []Measure   // in order, each ending where the next begins
	Marks    []Mark      // rehearsal marks, in order
	Parts    []MusicPart // in the order of the file

	// How many counts the movement may have by it. A file whose end is only roughly known leaves a range; one
	// without a known end has Most +Inf.
	Least, Most float64

	Beat    string      // what one count is, in words: "a quarter note"
	PickupS float64     // how long it sounds before the downbeat
	NamedAt source.Span // where the score names the file
	EndAt   source.Span // its last measure, in a file that has lines
}

// Measure is one measure, with its number as the music has it.
type Measure struct {
	Number       string
	From, Counts float64
}

// Mark is one rehearsal mark.
type Mark struct {
	Name string
	At   float64
}

// MarkName is a mark's name as it is compared: with single spaces.
func MarkName(text string) string { return strings.Join(strings.Fields(text), " ") }

// Find returns the place of a measure or a mark in counts elapsed since the downbeat, or says why there is none.
func (m *Music) Find(p ShowCount) (elapsed float64, fault *source.Fault) {
	if p.Mark != "" {
		return m.findMark(p)
	}
	at := slices.IndexFunc(m.Measures, func(x Measure) bool { return x.Number == p.Measure })
	if at < 0 {
		first, last := m.Measures[0].Number, m.Measures[len(m.Measures)-1].Number
		return 0, noMeasure(m.Name, p.Measure, first, last)
	}
	x := m.Measures[at]
	for _, y := range m.Measures[at+1:] {
		if y.Number == x.Number {
			return 0, measureTwice(m.Name, x, y)
		}
	}
	elapsed = x.From + p.Offset
	if p.Beat != 0 {
		if p.Beat > x.Counts+1-1e-9 {
			return 0, noBeat(x, p.Beat, m.Beat)
		}
		elapsed += p.Beat - 1
	}
	return elapsed, nil
}

func (m *Music) findMark(p ShowCount) (elapsed float64, fault *source.Fault) {
	var found []Mark
	var names []string
	for _, x := range m.Marks {
		names = append(names, x.Name)
		if x.Name == p.Mark {
			found = append(found, x)
		}
	}
	switch len(found) {
	case 0:
		return 0, noMark(m.Name, p.Mark, names)
	case 1:
		return found[0].At + p.Offset, nil
	}
	return 0, markTwice(m, p.Mark, found[0], found[1])
}

// Place says where a moment is in the music: "m. 23 beat 3".
func (m *Music) Place(elapsed float64) string {
	x := m.Measures[0]
	for _, y := range m.Measures {
		if y.From > elapsed+1e-9 {
			break
		}
		x = y
	}
	if beat := math.Round((elapsed-x.From)*1000) / 1000; beat > 0 {
		return fmt.Sprintf("m. %s beat %s", x.Number, trim(beat+1))
	}
	return "m. " + x.Number
}

// find finds the movement and the moment of a measure or mark. Without its movement written, it must be
// in one movement only; measures begin again in each file, so that with several files they need their movement.
func (c *Clock) find(p ShowCount) (Moment, *source.Fault) {
	at := func(number int) (Moment, *source.Fault) {
		elapsed, fault := c.Movements[number-1].Music.Find(p)
		return Moment{number, elapsed}, fault
	}
	if p.Movement > 0 {
		switch {
		case p.Movement > len(c.Movements):
			return Moment{Movement: p.Movement}, nil // for the caller to report
		case c.Movements[p.Movement-1].Music == nil:
			return Moment{}, noMusicHere(p.Movement)
		}
		return at(p.Movement)
	}
	var with, found []int
	oneFile := true
	for i, v := range c.Movements {
		if v.Music == nil {
			continue
		}
		with = append(with, i+1)
		oneFile = oneFile && v.Music.Name == c.Movements[with[0]-1].Music.Name
		if v.Music.has(p) {
			found = append(found, i+1)
		}
	}
	which := func(why string, a, b int) *source.Fault {
		return whichMovement(p, why, a, b)
	}
	switch {
	case len(with) == 0:
		return Moment{}, noMusicAtAll(p)
	case len(with) == 1:
		return at(with[0])
	case p.Measure != "" && !oneFile:
		return Moment{}, which(fmt.Sprintf("%d and %d both have music", with[0], with[1]), with[0], with[1])
	case len(found) == 1:
		return at(found[0])
	case len(found) > 1:
		a, b := found[0], found[1]
		return Moment{}, which(fmt.Sprintf("It is in %s and in %s", c.inMovement(a, p), c.inMovement(b, p)), a, b)
	case p.Measure != "":
		return Moment{}, noMeasureAnywhere(p.Measure)
	}
	var names []string
	for _, v := range with {
		for _, x := range c.Movements[v-1].Music.Marks {
			names = append(names, x.Name)
		}
	}
	return Moment{}, noMarkAnywhere(p.Mark, names)
}

// has reports whether a measure or mark is in the music.
func (m *Music) has(p ShowCount) bool {
	if p.Measure != "" {
		return slices.ContainsFunc(m.Measures, func(x Measure) bool { return x.Number == p.Measure })
	}
	return slices.ContainsFunc(m.Marks, func(x Mark) bool { return x.Name == p.Mark })
}

// inMovement says where a measure or mark is: "movement 1 (m. 17)".
func (c *Clock) inMovement(number int, p ShowCount) string {
	music := c.Movements[number-1].Music
	for _, x := range music.Marks {
		if x.Name == p.Mark {
			return fmt.Sprintf("movement %d (%s)", number, music.Place(x.At))
		}
	}
	return fmt.Sprintf("movement %d", number)
}
