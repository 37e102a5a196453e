package edits

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"backfield/cue/score"
	"backfield/layout"
	"backfield/layout/source"
	"backfield/layout/table"
	"backfield/layout/unit"
)

func number(v float64) string {
	if math.IsInf(v, 0) {
		return "no end"
	}
	return strconv.FormatFloat(math.Round(v*1e4)/1e4, 'f', -1, 64)
}

// from is what a number was and is: "level 0 -> 2 dB".
func from(what string, old, new float64, unit string) string {
	return fmt.Sprintf("%s %s -> %s", what, number(old), withUnit(new, unit))
}

// maybe is a number that may be left out, with its unit.
func maybe(v *float64, unit string) string {
	if v == nil {
		return "not set"
	}
	return withUnit(*v, unit)
}

// withUnit is a number with its unit, which has no s after 1.
func withUnit(v float64, unit string) string {
	if v == 1 && (unit == " counts" || unit == " degrees") {
		unit = strings.TrimSuffix(unit, "s")
	}
	return number(v) + unit
}

// fromMaybe is what a number was and is that may be left out: "delay not set -> 12 ms".
func fromMaybe(what string, old, new *float64, unit string) string {
	if old != nil && new != nil {
		return from(what, *old, *new, unit)
	}
	return what + " " + maybe(old, unit) + " -> " + maybe(new, unit)
}

func orNone(text string) string {
	if text == "" {
		return "none"
	}
	return text
}

// orOpen is the word of a setting that may be left to something else.
func orOpen(text string) string { return cmp.Or(text, "not set") }

func count(n int, what string) string { return source.Count(float64(n), what) }

// fromComputed is the same of a number that is computed where it is left out.
func fromComputed(what string, old, new *float64, unit string) string {
	return strings.ReplaceAll(fromMaybe(what, old, new, unit), "not set", "computed")
}

// boxWords is a bound of the press box.
func boxWords(b *score.BoxBound) string {
	switch {
	case b == nil:
		return "not set"
	case b.Free:
		return "free"
	}
	return number(b.MS[0]) + " to " + number(b.MS[1]) + " ms"
}

// stepsWords is how far a dot moved, in drill steps as seen from the stands: "4 steps back and 2.5 toward side 1".
func stepsWords(from, to layout.Point) string {
	x, y := (to.X-from.X)/unit.StepM, (to.Y-from.Y)/unit.StepM
	var parts []string
	along := func(by float64, up, down string) {
		if math.Abs(by) < 0.05 {
			return
		}
		text := strings.TrimSuffix(fmt.Sprintf("%.1f", math.Abs(by)), ".0")
		switch {
		case len(parts) > 0:
		case text == "1":
			text += " step"
		default:
			text += " steps"
		}
		if by < 0 {
			up = down
		}
		parts = append(parts, text+" "+up)
	}
	along(y, "back", "to the front")
	along(x, "toward side 2", "toward side 1")
	if len(parts) == 0 {
		return "by less than 0.1 steps"
	}
	return strings.Join(parts, " and ")
}

// movedM is how far something that is measured moved, in meters.
func movedM(from, to layout.Point) string {
	var parts []string
	along := func(by float64, up, down string) {
		if by < 0 {
			up = down
		}
		if by != 0 {
			parts = append(parts, fmt.Sprintf("%.2f m %s", math.Abs(by), up))
		}
	}
	along(to.Y-from.Y, "farther back", "farther to the front")
	along(to.X-from.X, "toward side 2", "toward side 1")
	along(to.Z-from.Z, "higher", "lower")
	return "moved " + strings.Join(parts, ", ")
}

// sets words labels of sets: "set 4", "sets 4 to 6", "sets 4, 6 and 9", "7 sets from 4 to 30".
func sets(labels []string, adjacent bool) string {
	n := len(labels)
	switch {
	case n == 1:
		return "set " + labels[0]
	case adjacent && n > 2:
		return "sets " + labels[0] + " to " + labels[n-1]
	case n > 6:
		return fmt.Sprintf("%d sets from %s to %s", n, labels[0], labels[n-1])
	}
	return "sets " + source.And(labels)
}

// texts are the values of a list.
func texts(list []table.Text) []string {
	return names(list, func(t table.Text) string { return t.V })
}

// came and went are the names that only one of two lists has.
func listWords(old, new []string) (words []string) {
	for _, x := range new {
		if !slices.Contains(old, x) {
			words = append(words, "+"+x)
		}
	}
	for _, x := range old {
		if !slices.Contains(new, x) {
			words = append(words, "-"+x)
		}
	}
	return words
}

func onOff(b bool) string {
	if b {
		return "on"
	}
	return "off"
}
