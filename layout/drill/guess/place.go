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

// place finds the columns that say where a player is: a dot, its halves, x and y, or the parts of the halves. It keeps
// what was given. It says what is missing.
func (v *sheetView) place(list []sheetColumn) string {
	c := &v.columns
	if c.Dot.Set {
		v.perSet = strings.Contains(c.Dot.V, "{set}")
		return ""
	}
	v.perSet = strings.Contains(c.Lateral.V+c.Yard.V+c.X.V, "{set}")
	across, along := c.Lateral.Set || c.Yard.Set || c.X.Set, c.Depth.Set || c.Line.Set || c.Y.Set
	if across && along || v.perSet {
		return ""
	}
	dots, laterals, depths := of(list, aDot), append(of(list, aLateral), of(list, noSide)...), of(list, aDepth)
	switch {
	case across || along:
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
	case len(laterals) > 1 && len(laterals) == len(depths):
		return v.halves(laterals, depths)
	}
	x, y := xColumn(list), yColumn(list)
	if !across && !along && x != nil && y != nil && len(laterals)+len(depths) == 0 {
		c.X, c.Y = named(x.text), named(y.text)
		if u := unitIn(x.name); u != "" && u == unitIn(y.name) && !c.Unit.Set {
			c.Unit = named(u)
		}
		return ""
	}
	steps := ""
	if !across {
		across, steps = v.across(list, laterals)
	}
	if !along {
		along = v.along(list, depths, steps)
	}
	switch {
	case !across || !along:
		return noPlace
	case c.Yard.Set && c.Line.Set && (c.Steps.Set != c.DepthSteps.Set || !c.Steps.Set):
		return "no two columns of steps, side to side and front to back, were found; " + v.nameOne("steps") +
			", and the same with depth_steps"
	case c.X.Set && !c.Y.Set && !c.Side.Set && !c.XFrom.Set && !v.signed:
		return fmt.Sprintf("the column %q has no negative numbers, so it does not say the side; name the column that "+
			"does (--column side=NAME), or where it counts from (--column %q)", c.X.V, "x_from=side 1 goal line")
	}
	return ""
}

// across finds the half across the field: in one column, in parts, or as x. steps is the column of its steps.
func (v *sheetView) across(list []sheetColumn, laterals []string) (ok bool, steps string) {
	c := &v.columns
	side := sideColumn(list)
	if len(laterals) == 1 {
		c.Lateral = named(laterals[0])
		if of(list, noSide) != nil && side != nil {
			c.Side = named(side.text)
		}
		return of(list, noSide) == nil || side != nil, ""
	}
	yard := one(list, "yard line", "yard", "yards", "yardline", "yd ln", "yd line")
	if yard == nil {
		yard = pickKind(list, aYard)
		if yard != nil && (depthNumber([]sheetColumn{*yard}) != nil || yard.isX()) {
			yard = nil
		}
	}
	if x := xColumn(list); x != nil && (yard == nil || yard.text == x.text) {
		c.X, v.signed = named(x.text), x.negative
		if side != nil {
			c.Side = named(side.text)
		}
		return true, ""
	}
	if yard == nil {
		return false, ""
	}
	c.Yard = named(yard.text)
	if side != nil {
		c.Side = named(side.text)
	}
	if found := pickKind(list, inOut); found != nil {
		c.Inside = named(found.text)
	}
	found := pickKind(list, acrossSteps)
	if found == nil {
		found = stepsOf(list, yard.text, false)
	}
	if found != nil {
		c.Steps = named(found.text)
	}
	return true, c.Steps.V
}

// along finds the half along the field: in one column, in parts, or as a number alone.
func (v *sheetView) along(list []sheetColumn, depths []string, steps string) bool {
	c := &v.columns
	if len(depths) == 1 {
		c.Depth = named(depths[0])
		return true
	}
	if line := pickKind(list, aLine); line != nil {
		c.Line = named(line.text)
		if found := pickKind(list, frontBack); found != nil {
			c.Behind = named(found.text)
		}
		found := pickKind(list, alongSteps)
		if found == nil {
			found = stepsOf(list, c.Yard.V, true)
		}
		if found != nil && found.text != steps {
			c.DepthSteps = named(found.text)
		}
		return true
	}
	if depth := depthNumber(list); depth != nil && depth.text != steps && depth.text != c.Yard.V {
		c.Depth = named(depth.text)
		return true
	}
	return false
}

// stepsOf finds the column of the steps of a half, which are numbers. They come before the line that they count from, as
// the words of a dot do: the first is side to side, unless its name says otherwise.
func stepsOf(list []sheetColumn, yard string, depth bool) *sheetColumn {
	var steps []*sheetColumn
	for i := range list {
		x := &list[i]
		if (x.kind == aNumber || x.kind == aYard) && x.text != yard && stepsName.MatchString(x.name) {
			steps = append(steps, x)
		}
	}
	isDepth := func(x *sheetColumn) bool {
		return strings.HasPrefix(x.name, "y ") || slices.ContainsFunc([]string{"depth", "front", "back"},
			func(word string) bool { return strings.Contains(x.name, word) })
	}
	switch {
	case len(steps) == 1 && isDepth(steps[0]) == depth:
		return steps[0]
	case len(steps) != 2:
		return nil
	case isDepth(steps[0]) != depth:
		return steps[1]
	}
	return steps[0]
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

// stepsName is in the name of a column of steps.
var stepsName = regexp.MustCompile(`\bstep|\bdepth\b|\blateral\b|\boffset\b`)

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

// sideColumn finds the column of sides: one that is called so, or else the first that holds nothing but sides and is not
// the number of a player.
func sideColumn(list []sheetColumn) *sheetColumn {
	var found *sheetColumn
	for i := range list {
		switch c := &list[i]; {
		case c.kind != aSide:
		case strings.Contains(c.name, "side"):
			return c
		case found == nil && !numberName.MatchString(c.name):
			found = c
		}
	}
	return found
}

var numberName = regexp.MustCompile(`^(player |performer )?(number|num|no|nr|id|part)$`)

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
