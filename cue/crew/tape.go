// Package crew is what the crew needs to set a show up and take it away again: marks in the units of a tape measure, and
// who does what in ten minutes. It knows neither the rig's files nor the paper.
package crew

import (
	"fmt"
	"math"
	"strings"
)

const (
	inchM  = 0.0254 // exact
	footIn = 12
	yardIn = 36
	stepIn = 22.5 // 8 steps to 5 yards
)

// Tape is a distance as a tape measure has it, to the inch.
type Tape struct{ inches int }

// TapeOf is a distance in meters, which may be negative: the direction is said in words.
func TapeOf(m float64) Tape { return Tape{int(math.Round(math.Abs(m) / inchM))} }

// Yards is the distance in yards, feet and inches: "26 yd 0 ft 9 in".
func (t Tape) Yards() string {
	return fmt.Sprintf("%d yd %d ft %d in", t.inches/yardIn, t.inches%yardIn/footIn, t.inches%footIn)
}

// Feet is the distance in feet and inches: "78 ft 9 in".
func (t Tape) Feet() string { return fmt.Sprintf("%d ft %d in", t.inches/footIn, t.inches%footIn) }

// Steps is the distance in steps, 8 to 5 yards, to the tenth: "42.0".
func (t Tape) Steps() string { return fmt.Sprintf("%.1f", float64(t.inches)/stepIn) }

// CrewMark is where something goes on the field.
type CrewMark struct {
	Name    string
	XM, YM  float64 // from the 50 toward side 2, and from the front sideline toward the back, in meters
	HeightM float64 // of its acoustic center, over the grass
	Words   string  // the nearest yard line and hash or sideline, in steps
}

// Side says on which side of the 50 the mark is.
func (m CrewMark) Side() string {
	switch {
	case TapeOf(m.XM).inches == 0:
		return "on the 50"
	case m.XM < 0:
		return "side 1"
	}
	return "side 2"
}

// Across is the distance from the 50.
func (m CrewMark) Across() Tape { return TapeOf(m.XM) }

// Along is the distance from the front sideline.
func (m CrewMark) Along() Tape { return TapeOf(m.YM) }

// Front says on which side of the front sideline the mark is.
func (m CrewMark) Front() string {
	switch {
	case TapeOf(m.YM).inches == 0:
		return "on the front sideline"
	case m.YM < 0:
		return "in front, toward the stands"
	}
	return "behind, on the field"
}

// Height is the height.
func (m CrewMark) Height() Tape { return TapeOf(m.HeightM) }

// names joins the names of marks.
func names(list []CrewMark) string {
	var words []string
	for _, m := range list {
		words = append(words, m.Name)
	}
	return strings.Join(words, ", ")
}
