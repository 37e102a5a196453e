package drill

import (
	"regexp"
	"strconv"

	"backfield/layout/source"
)

// fromFront is in the name of a column whose numbers are steps from the front sideline, which are behind it.
var fromFront = regexp.MustCompile(`(?i)\bsteps?\s+(?:from|behind)\s+(?:the\s+)?(?:front|home)\s+side\s?line\b`)

// spellOut adds to a depth that is a number alone the line that it counts from, where the column's name says it.
func (d *Drill) spellOut(along *words) *source.Fault {
	if len(along.parts) != 1 {
		return nil
	}
	if _, err := strconv.ParseFloat(along.text, 64); err != nil {
		return nil
	}
	if d.depthFromFront {
		along.add(along.parts[0].cell, "behind front sideline")
		return nil
	}
	return &source.Fault{
		Lo:   0,
		Hi:   len(along.text),
		What: "a depth that is a number alone does not say from which line",
		Do: "if it is steps from the front sideline, have the column's name say so, and write in [drill.columns]: " +
			`depth = "Depth (steps from front sideline)"`,
		Word: "a number alone", // reported once for all dots
	}
}
