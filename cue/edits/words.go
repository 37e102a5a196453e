package edits

import (
	"fmt"
	"math"
	"reflect"
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
	return fmt.Sprintf("%s %s -> %s%s", what, number(old), number(new), unit)
}

// maybe is a number that may be left out.
func maybe(v *float64) string {
	if v == nil {
		return "not set"
	}
	return number(*v)
}

func orNone(text string) string {
	if text == "" {
		return "none"
	}
	return text
}

func count(n int, what string) string { return source.Count(float64(n), what) }

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

// fieldWords is the name of a field for people: "WindowMS" is "window".
var fieldWords = map[string]string{
	"Policy": "delay policy", "LeadMS": "lead", "WindowMS": "window", "MarginMS": "margin", "BoxMS": "press box",
	"Free": "press box", "SlewMSPS": "slew", "DipS": "dip", "KnotMS": "knot", "PanWidth": "pan width",
	"PanKnot": "pan knot", "PanByStands": "pan by", "JointDeg": "angle of joint", "MakeUp": "distance make-up",
	"ZonesMost": "zones per player", "Allow": "accepted warnings", "Rules": "thresholds of the checks",
	"Goals": "goals of the balance", "Instruments": "instruments", "Always": "mics that are always open",
	"Parts": "who plays which part",
	"Title": "title", "AirC": "air", "LatencyS": "latency of worn mics", "WiredS": "latency of wired mics",
	"LineS": "latency of lines", "Reference": "reference seat", "ReferenceWeight": "weight of the reference seat",
	"Zones": "feed", "Blocks": "stands", "Surveyed": "surveyed seats", "HumidityPct": "humidity",
	"BellUpDeg": "bell angle", "Levels": "readings on site", "People": "people near the stacks", "Name": "name",
	"AirGiven": "air", "Channels": "channels", "Law": "pan law", "Pan": "limits of pan", "Delay": "limits of delay",
	"Level": "limits of level", "Send": "limits of the sends", "Moves": "when the delay moves",
}

// valueWords says what a plain value was and is; "changed" for one that has no short words.
func valueWords(old, new reflect.Value) string {
	switch old.Kind() {
	case reflect.Float64:
		return number(old.Float()) + " -> " + number(new.Float())
	case reflect.Int:
		return fmt.Sprintf("%d -> %d", old.Int(), new.Int())
	case reflect.String:
		return orNone(old.String()) + " -> " + orNone(new.String())
	case reflect.Bool:
		return onOff(old.Bool()) + " -> " + onOff(new.Bool())
	}
	if t, ok := old.Interface().(table.Text); ok {
		return orNone(t.V) + " -> " + orNone(new.Interface().(table.Text).V)
	}
	return "changed"
}

func onOff(b bool) string {
	if b {
		return "on"
	}
	return "off"
}
