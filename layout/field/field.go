// Package field knows the lines of a football field and turns a dot in the trade's words into meters and
// back. It knows no player and no file.
package field

import (
	"fmt"
	"math"
	"strings"

	"backfield/layout"
	"backfield/layout/unit"
)

// Field is the ground: its lines in meters, and how deep a step is. Yard lines come every 5 yards, which
// is 8 steps of 22.5 in, on every field.
type Field struct {
	Code       string
	LengthM    float64 // goal line to goal line
	EndZoneM   float64 // depth of each end zone
	WidthM     float64 // front sideline to back sideline
	HashM      float64 // either hash from its sideline
	MiddleYard int     // the number of the middle yard line: 50, on a Canadian field 55
	DepthStepM float64 // a step in depth: 22.5 in, or what puts 28 steps on the hash

	words []Word // of the staff, in the dots
}

// codes are the rule books' dimensions. Sources: NCAA Football Rules 1-2-1 and 2-12; NFHS Football Rules
// 1-1-2 and 1-2-3 (hash from secondary sources); NFL Playing Rules 1-1 and 1-2; Canadian Rule Book for
// Amateur Tackle Football 1-1 and 1-6. Checked against testdata/published/field_dimensions.csv.
var codes = []Field{
	{"college", 100 * unit.YardM, 10 * unit.YardM, 160 * 12 * unit.InchM, 60 * 12 * unit.InchM, 50, unit.StepM, nil},
	{"high-school", 100 * unit.YardM, 10 * unit.YardM, 160 * 12 * unit.InchM, 640 * unit.InchM, 50, unit.StepM, nil},
	{"pro", 100 * unit.YardM, 10 * unit.YardM, 160 * 12 * unit.InchM, 849 * unit.InchM, 50, unit.StepM, nil},
	{"canadian", 110 * unit.YardM, 20 * unit.YardM, 65 * unit.YardM, 24 * unit.YardM, 55, unit.StepM, nil},
}

// Codes lists the names that ByCode takes.
func Codes() []string {
	var names []string
	for _, f := range codes {
		names = append(names, f.Code)
	}
	return names
}

// ByCode returns the field of a rule book.
func ByCode(code string) (Field, bool) {
	for _, f := range codes {
		if f.Code == code {
			return f, true
		}
	}
	return Field{}, false
}

// Grid28 is f with depth steps scaled so that 28 of them reach the hash exactly, as many drill writers'
// high-school grids have it. Lateral steps stay as they are.
func (f Field) Grid28() Field {
	f.DepthStepM = f.HashM / 28
	return f
}

// FrontHashM and BackHashM are the hashes' y in meters.
func (f Field) FrontHashM() float64 { return f.HashM }

// BackHashM is the back hash's y in meters.
func (f Field) BackHashM() float64 { return f.WidthM - f.HashM }

// Outside returns by how many meters p is outside the boundary (sidelines and end lines), and where in words;
// 0 inside.
func (f Field) Outside(p layout.Point) (byM float64, where string) {
	end := f.LengthM/2 + f.EndZoneM
	byM, where = 0, ""
	for _, side := range []struct {
		m    float64
		name string
	}{
		{-p.Y, "in front of the front sideline"},
		{p.Y - f.WidthM, "behind the back sideline"},
		{-p.X - end, "past side 1's end line"},
		{p.X - end, "past side 2's end line"},
	} {
		if side.m > byM {
			byM, where = side.m, side.name
		}
	}
	return byM, where
}

// Steps returns the plan distance between two places in steps of 22.5 in.
func Steps(p, q layout.Point) float64 { return math.Hypot(p.X-q.X, p.Y-q.Y) / unit.StepM }

// Walk says how far and in which direction a player goes from p to q, and to which dot: "5.8 steps toward side 1, to S2,
// 1 inside the 45; on the front hash". The side that belongs to the dot is short, so that it is not read as the direction.
func (f Field) Walk(p, q layout.Point) string {
	return Toward(p, q) + ", to " + strings.TrimPrefix(shorter.Replace(f.Dot(q)), "on ")
}

// shorter makes a dot as short as a drill chart has it.
var shorter = strings.NewReplacer("side 1", "S1", "side 2", "S2", "in front of the ", "in front of ", "behind the ",
	"behind ")

// Toward says how far and in which direction someone goes from p to q: to a side, or to the front or the back where that
// is the larger part.
func Toward(p, q layout.Point) string {
	x, y := q.X-p.X, q.Y-p.Y
	along := math.Abs(y) > math.Abs(x)+1e-6 // as far to the side as along is to the side
	way := "side 1"
	switch {
	case along && y < 0:
		way = "the front"
	case along:
		way = "the back"
	case x > 0:
		way = "side 2"
	}
	return fmt.Sprintf("%.1f steps toward %s", Steps(p, q), way)
}

// Dot words a place as a drill chart would: from the nearest yard line and the nearest hash or sideline, to
// the hundredth of a step.
func (f Field) Dot(p layout.Point) string {
	const yardLineM = 5 * unit.YardM
	n := math.Min(math.Round(math.Abs(p.X)/yardLineM), float64(f.MiddleYard/5))
	yard := f.MiddleYard - 5*int(n)
	steps := (math.Abs(p.X) - n*yardLineM) / unit.StepM // positive away from the middle
	side := "side 1"
	if p.X > 0 {
		side = "side 2"
	}
	lateral := ""
	switch s := round2(steps); {
	case s == 0 && n == 0:
		lateral = fmt.Sprintf("on the %d", yard)
	case s == 0:
		lateral = fmt.Sprintf("%s, on the %d", side, yard)
	case s > 0:
		lateral = fmt.Sprintf("%s, %s outside the %d", side, trim(s), yard)
	default:
		lateral = fmt.Sprintf("%s, %s inside the %d", side, trim(-s), yard)
	}
	best, line := math.Inf(1), depthLine{}
	for _, l := range f.depthLines() {
		if d := math.Abs(p.Y - l.y); d < best-1e-9 {
			best, line = d, l
		}
	}
	switch s := round2((p.Y - line.y) / f.DepthStepM); {
	case s == 0:
		return lateral + "; on the " + line.name
	case s > 0:
		return fmt.Sprintf("%s; %s behind the %s", lateral, trim(s), line.name)
	default:
		return fmt.Sprintf("%s; %s in front of the %s", lateral, trim(-s), line.name)
	}
}

// depthLine is a hash or a sideline.
type depthLine struct {
	name string
	y    float64
}

func (f Field) depthLines() []depthLine {
	return []depthLine{
		{"front sideline", 0}, {"front hash", f.FrontHashM()}, {"back hash", f.BackHashM()},
		{"back sideline", f.WidthM},
	}
}

func round2(v float64) float64 { return math.Round(v*100) / 100 }

func trim(v float64) string { return fmt.Sprintf("%g", round2(v)) }
