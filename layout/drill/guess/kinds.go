package guess

import (
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"backfield/layout/field"
	"backfield/layout/source"
	"backfield/layout/table"
)

// columnKind is what the cells of a column read as.
type columnKind int

const (
	unknown columnKind = iota
	aDot
	aLateral
	aDepth
	aSide
	aNumber
	aYard
	inOut
	frontBack
	aLine
	acrossSteps // steps with inside or outside, for a yard line in another column
	alongSteps
	noSide // a half across the field without its side
)

var letters = regexp.MustCompile(`[A-Za-z]`)

// read says what most cells of a column read as.
func read(rows table.SheetRows, at int, ground field.Field) (columnKind, int) {
	counts := map[columnKind]int{}
	all, total := 0, 0
	for _, cells := range rows.All() {
		if at >= len(cells) || cells[at].Text == "" {
			continue
		}
		if total++; all == sample {
			continue
		}
		all++
		for _, k := range kinds(cells[at].Text, ground) {
			counts[k]++
		}
	}
	for _, k := range []columnKind{aDot, aSide, inOut, frontBack, aLine, aLateral, acrossSteps, alongSteps, noSide,
		aDepth, aYard, aNumber} {
		among := all
		if k == aDot || k == aLateral || k == aDepth {
			among -= counts[aNumber] // counts above the dots of each set
		}
		if counts[k] > 0 && float64(counts[k]) >= most*float64(among) {
			return k, total
		}
	}
	return unknown, total
}

// The words of a dot that cells of their own may have.
var (
	sideWords   = []string{"1", "2", "a", "b", "s1", "s2", "side 1", "side 2", "side1", "side2", "side a", "side b"}
	insideWords = []string{"in", "out", "inside", "outside", "on", "i", "o"}
	depthWords  = []string{"front", "back", "behind", "in front of", "in front", "front of", "back of", "beh", "ifo",
		"on",
		"f", "b"}
)

// kinds are all that a text may read as.
func kinds(text string, ground field.Field) (list []columnKind) {
	word := plain(ground.InWords(text))
	v, err := strconv.ParseFloat(text, 64)
	isNumber := err == nil
	_, _, noDot := ground.ReadDot(text)
	_, noLateral := ground.Lateral(text)
	_, noDepth := ground.Depth(text)
	hasDigits := strings.ContainsFunc(text, unicode.IsDigit)
	steps := letters.MatchString(text) && noLateral != nil && noDepth != nil
	isGoal := noLateral == nil && strings.HasPrefix(word, "g")
	for _, x := range []struct {
		kind columnKind
		ok   bool
	}{
		{aDot, noDot == nil},
		{aSide, slices.Contains(sideWords, word)},
		{inOut, slices.Contains(insideWords, word)},
		{frontBack, slices.Contains(depthWords, word)},
		{aLine, noDepth == nil && !hasDigits && !strings.HasPrefix(word, "on")},
		{acrossSteps, steps && reads(ground.Lateral("side 1 "+text+" 40"))},
		{alongSteps, steps && reads(ground.Depth(text+" front hash"))},
		{noSide, letters.MatchString(text) && reads(ground.Lateral("side 1 "+text))},
		{aLateral, noLateral == nil && letters.MatchString(text)},
		{aDepth, noDepth == nil},
		{aYard, isNumber && v >= 0 && v == float64(int(v)/5*5) || isGoal},
		{aNumber, isNumber},
	} {
		if x.ok {
			list = append(list, x.kind)
		}
	}
	return list
}

// reads reports whether a half of a dot could be read.
func reads(_ float64, fault *source.Fault) bool { return fault == nil }

// negative reports whether a cell of a column is a number below 0.
func negative(rows table.SheetRows, at int) bool {
	for _, cells := range rows.All() {
		if at < len(cells) {
			if v, err := strconv.ParseFloat(cells[at].Text, 64); err == nil && v < 0 {
				return true
			}
		}
	}
	return false
}
