package picture

import (
	"math"

	"backfield/cmd/backfield/show"
)

// Sections lists a show's sections in the order of its roster: the section at n has the mark Mark(n).
func Sections(s *show.Loaded) []string { return s.Roster.Sections() }

// Mark is the outline of the nth section's mark in a box of -1 to 1, y downward. The shapes differ in black and white
// and at the size of a pinhead. After Marks of them they repeat.
func Mark(n int) []XY { return marks[((n%len(marks))+len(marks))%len(marks)] }

// Marks is how many different marks there are.
var Marks = len(marks)

var marks = [][]XY{
	turned(24, 0, 0.87), // a disk
	{{-.85, -.85}, {.85, -.85}, {.85, .85}, {-.85, .85}}, // a square
	{{0, -1}, {1, .8}, {-1, .8}},                         // a triangle, tip up
	turned(4, 0, 1),                                      // a diamond
	{{0, 1}, {-1, -.8}, {1, -.8}},                        // a triangle, tip down
	cross(0),                                             // a plus
	star(5, 1, 0.42),                                     // a star
	{{-1, -.45}, {1, -.45}, {1, .45}, {-1, .45}},         // a flat bar
	cross(45), // a saltire
	{{-.45, -1}, {.45, -1}, {.45, 1}, {-.45, 1}},                       // an upright bar
	{{-.9, -.9}, {.9, -.9}, {.15, 0}, {.9, .9}, {-.9, .9}, {-.15, 0}},  // an hourglass
	append(arcOf(-90, 90, 1, .5), XY{1, .5}),                           // a half disk
	{{-1, -.2}, {0, -1}, {1, -.2}, {1, .9}, {0, .1}, {-1, .9}},         // a chevron
	{{-.9, -.9}, {-.2, -.9}, {-.2, .2}, {.9, .2}, {.9, .9}, {-.9, .9}}, // a corner
}

// turned is a regular polygon with its first corner at an angle from the top.
func turned(corners int, deg, r float64) []XY {
	points := make([]XY, corners)
	for i := range points {
		a := deg*math.Pi/180 + 2*math.Pi*float64(i)/float64(corners)
		points[i] = XY{r * math.Sin(a), -r * math.Cos(a)}
	}
	return points
}

func star(tips int, r, inner float64) []XY {
	points := turned(2*tips, 0, r)
	for i := 1; i < len(points); i += 2 {
		points[i] = XY{points[i].X * inner / r, points[i].Y * inner / r}
	}
	return points
}

func cross(deg float64) []XY {
	const a = 0.28
	points := []XY{
		{-a, -1}, {a, -1}, {a, -a}, {1, -a}, {1, a}, {a, a}, {a, 1}, {-a, 1}, {-a, a}, {-1, a}, {-1, -a}, {-a, -a},
	}
	sin, cos := math.Sincos(deg * math.Pi / 180)
	for i, p := range points {
		points[i] = XY{p.X*cos - p.Y*sin, p.X*sin + p.Y*cos}
	}
	return points
}

func arcOf(fromDeg, toDeg, r, downBy float64) []XY {
	return arc(XY{0, downBy}, r, fromDeg, toDeg)
}
