package guess

import (
	"fmt"
	"regexp"
	"strings"

	"backfield/layout/table"
)

// The names of columns of coordinates, which may say more: "X (yd from 50)", "Left/Right of 50 (steps)". Those that say
// that they count from elsewhere are left to whoever reads the sheet.
var (
	more      = `( (yds?|yards?|m|meters?|ft|feet|steps?|in|from)\b.*)?$`
	xName     = regexp.MustCompile(`^x` + more + `|\b(left|right|across)\b.*\b50\b`)
	yName     = regexp.MustCompile(`^y` + more)
	elsewhere = regexp.MustCompile(`\b(goal|hash|back|visitors?|line)\b`)
	units     = regexp.MustCompile(`\b(yd|yds|yards?|m|meters?|ft|feet)\b`)
)

// isX reports whether a column is called as coordinates side to side are.
func (c *sheetColumn) isX() bool { return c.isNamed(xName) }

func (c *sheetColumn) isNamed(like *regexp.Regexp) bool {
	return like.MatchString(c.name) && !elsewhere.MatchString(c.name)
}

// xColumn finds the column of coordinates side to side: x, or the first column of numbers that is called so.
func xColumn(list []sheetColumn) *sheetColumn { return coordinate(list, "x", xName) }

// yColumn finds the column of coordinates front to back.
func yColumn(list []sheetColumn) *sheetColumn { return coordinate(list, "y", yName) }

func coordinate(list []sheetColumn, name string, like *regexp.Regexp) *sheetColumn {
	if c := one(list, name); c != nil {
		return c
	}
	for i := range list {
		if c := &list[i]; (c.kind == aNumber || c.kind == aYard) && c.isNamed(like) {
			return c
		}
	}
	return nil
}

// unitIn is the unit that a column's name says, "" for none: steps, as the numbers are without one.
func unitIn(name string) string {
	switch u := units.FindString(name); u {
	case "yd", "yds", "yard", "yards":
		return "yd"
	case "m", "meter", "meters":
		return "m"
	case "ft", "feet":
		return "ft"
	}
	return ""
}

// nameOne says how to name the column of a key: one of those that are nothing else yet.
func (v *sheetView) nameOne(key string) string {
	used := v.columns.TOML()
	var left []string
	for _, c := range v.list {
		if c.text != "" && !strings.Contains(used, table.Quote(c.text)) {
			left = append(left, fmt.Sprintf("%q", c.text))
		}
	}
	if len(left) == 0 || len(left) > 12 {
		return fmt.Sprintf("name it: --column %s=NAME", key)
	}
	return fmt.Sprintf("name it: --column %s=NAME, with one of %s", key, strings.Join(left, ", "))
}

// halfFound says which half of the dots was found, and how to name the columns of the other.
func (v *sheetView) halfFound() string {
	c := &v.columns
	across, along := c.Lateral.V+c.Yard.V+c.X.V, c.Depth.V+c.Line.V+c.Y.V
	switch {
	case across != "" && along == "":
		return fmt.Sprintf(", only %q, side to side; front to back: ", across) + v.nameOne("depth")
	case along != "" && across == "":
		return fmt.Sprintf(", only %q, front to back; side to side: ", along) + v.nameOne("lateral")
	}
	return "; for halves in two columns: " + v.nameOne("lateral") + ", and the same with depth; for whole dots: dot"
}
