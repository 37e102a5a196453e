package guess

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"unicode"

	"backfield/layout/field"
	"backfield/layout/source"
	"backfield/layout/table"
)

const noPlace = "no columns with dots were found"

// place finds the columns that say where a player is: a dot, its halves, x and y, or the parts of the halves. It
// says what is missing.
func (v *sheetView) place(list []sheetColumn) string {
	c := &v.columns
	dots, laterals, depths := of(list, aDot), of(list, aLateral), of(list, aDepth)
	switch {
	case len(dots) == 1 && len(laterals) == 0:
		c.Dot = named(dots[0])
		return ""
	case len(dots) > 1:
		text, _, ok := pattern(dots, false)
		if !ok {
			return "several columns have dots, but their names have no pattern that gives the set"
		}
		c.Dot, v.perSet = named(text), true
		return ""
	case len(laterals) == 1 && len(depths) == 1:
		c.Lateral, c.Depth = named(laterals[0]), named(depths[0])
		return ""
	case len(laterals) == 1 && len(depths) == 0:
		if depth := depthNumber(list); depth != nil {
			c.Lateral, c.Depth = named(laterals[0]), named(depth.text)
			return ""
		}
	case len(laterals) > 1 && len(laterals) == len(depths):
		return v.halves(laterals, depths)
	}
	if x, y := one(list, "x"), one(list, "y"); x != nil && y != nil {
		c.X, c.Y = named(x.text), named(y.text)
		return ""
	}
	return v.parts(list)
}

// depthNumber finds the one column of depths that are numbers alone: whose name says that they count from a sideline, or
// that they are depths. What they count from, where it does not, is asked for when they are read.
func depthNumber(list []sheetColumn) *sheetColumn {
	for _, name := range []*regexp.Regexp{depthFromSide, depthName} {
		i := slices.IndexFunc(list, func(c sheetColumn) bool {
			return (c.kind == aNumber || c.kind == aYard) && name.MatchString(c.name)
		})
		if i >= 0 {
			return &list[i]
		}
	}
	return nil
}

var (
	depthFromSide = regexp.MustCompile(`\bsteps? (from|behind) (the )?(front|home) side ?line\b`)
	depthName     = regexp.MustCompile(`\bdepth\b|\bfront to back\b`)
)

// halves finds the sets in the names of columns that hold a half of a dot each.
func (v *sheetView) halves(laterals, depths []string) string {
	for _, tight := range []bool{false, true} {
		across, sets1, ok1 := pattern(laterals, tight)
		along, sets2, ok2 := pattern(depths, tight)
		if ok1 && ok2 && slices.Equal(sets1, sets2) {
			v.columns.Lateral, v.columns.Depth, v.perSet = named(across), named(along), true
			return ""
		}
	}
	return "the columns of the two halves of the dots do not have the same sets in their names"
}

// parts finds the columns that hold the parts of both halves: yard line and line, sides, steps.
func (v *sheetView) parts(list []sheetColumn) string {
	c := &v.columns
	yard, line := one(list, "yard line", "yard", "yards", "yardline", "yd ln", "yd line"), pickKind(list, aLine)
	if yard == nil {
		yard = pickKind(list, aYard)
	}
	if yard == nil || line == nil {
		return noPlace
	}
	c.Yard, c.Line = named(yard.text), named(line.text)
	for _, x := range []struct {
		kind columnKind
		into *table.Text
	}{{aSide, &c.Side}, {inOut, &c.Inside}, {frontBack, &c.Behind}} {
		if found := pickKind(list, x.kind); found != nil {
			*x.into = named(found.text)
		}
	}
	var steps []string // they come before the line that they count from, as the words of a dot do
	for _, x := range list {
		if (x.kind == aNumber || x.kind == aYard) && x.text != yard.text && stepsName.MatchString(x.name) {
			steps = append(steps, x.text)
		}
	}
	if len(steps) != 2 {
		return "no two columns of steps, side to side and front to back, were found"
	}
	first := plain(steps[0])
	isDepth := func(word string) bool { return strings.Contains(first, word) }
	if slices.ContainsFunc([]string{"depth", "front", "back"}, isDepth) {
		steps[0], steps[1] = steps[1], steps[0]
	}
	c.Steps, c.DepthSteps = named(steps[0]), named(steps[1])
	return ""
}

// stepsName is in the name of a column of steps.
var stepsName = regexp.MustCompile(`\bstep|\bdepth\b|\blateral\b`)

// likeAcross and likeAlong are words of the halves of a dot, also where it cannot be read.
var (
	likeAcross = regexp.MustCompile(`(?i)\b(in|inside|out|outside|on)\b.*\d`)
	likeAlong  = regexp.MustCompile(`(?i)\b(hash|side ?line|[fhbv]h|[fhbv]sl)\b`)
)

// almost says what is wrong with the first cell that cannot be read, in a column most of whose cells have the words of
// a dot; "" where there is none.
func almost(s *table.Sheet, head int, ground field.Field) string {
	width := 0 // a title above is narrower than the table
	for _, cells := range s.Rows.After(head).All() {
		width = max(width, len(cells))
	}
	for i := range width {
		wrong, like, all := "", 0, 0
		for _, cells := range s.Rows.After(head).All() {
			if i >= len(cells) || cells[i].Text == "" {
				continue
			}
			all++
			isDot, fault := tryDot(cells[i].Text, ground)
			if !isDot {
				continue
			}
			like++
			if fault != nil && wrong == "" {
				line, _ := cells[i].Span.Position()
				wrong = fmt.Sprintf("; row %d has %q, which is almost a dot: %s; %s", line, cells[i].Text, fault.What,
					fault.Do)
			}
		}
		if wrong != "" && float64(like) >= most*float64(all) {
			return wrong
		}
	}
	return ""
}

// tryDot reports whether a text has the words of a dot or of a half of one, and why it cannot be read as such.
func tryDot(text string, ground field.Field) (isDot bool, fault *source.Fault) {
	across, along := likeAcross.MatchString(text), likeAlong.MatchString(text)
	switch {
	case across && along:
		_, _, fault = ground.ReadDot(text)
	case along:
		_, fault = ground.Depth(text)
	case across:
		_, fault = ground.Lateral(text)
	}
	return across || along, fault
}

// of lists the columns of a kind.
func of(list []sheetColumn, k columnKind) []string {
	var names []string
	for _, c := range list {
		if c.kind == k {
			names = append(names, c.text)
		}
	}
	return names
}

// pickKind finds the first column of a kind.
func pickKind(list []sheetColumn, k columnKind) *sheetColumn {
	for i := range list {
		if list[i].kind == k {
			return &list[i]
		}
	}
	return nil
}

// one finds the first column that is called by one of the words, the earlier words first.
func one(list []sheetColumn, words ...string) *sheetColumn {
	for _, w := range words {
		for i := range list {
			if list[i].name == w {
				return &list[i]
			}
		}
	}
	return nil
}

// firstText finds the first column that is none of those that are known.
func firstText(list []sheetColumn) *sheetColumn {
	for i := range list {
		if list[i].kind == unknown && list[i].all > 0 && !slices.Contains(ours, list[i].name) {
			return &list[i]
		}
	}
	return nil
}

// plain is a name in small letters, its words separated by one space.
func plain(name string) string {
	return strings.Join(strings.FieldsFunc(strings.ToLower(name),
		func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) }), " ")
}
