package importer

import (
	"fmt"
	"math"
	"strings"

	"backfield/layout"
	"backfield/layout/field"
	"backfield/layout/unit"
)

// sketchMark is a letter at a place on the field.
type sketchMark struct {
	at     layout.Point
	letter rune
}

const (
	sketchColumns = 71 // a terminal has 80
	sketchRows    = 15
)

// sketch draws the field as the audience sees it from above, the back sideline at the top: yard lines, hashes and
// marks. A mark that falls on another, or off the picture, is left to its line of words.
func sketch(f field.Field, marks []sketchMark) []string {
	grid := make([][]rune, sketchRows)
	for i := range grid {
		grid[i] = []rune(strings.Repeat(" ", sketchColumns))
	}
	column := func(x float64) int {
		return int(math.Round((x/f.LengthM + 0.5) * (sketchColumns - 1)))
	}
	row := func(y float64) int { return int(math.Round((1 - y/f.WidthM) * (sketchRows - 1))) }
	numbers := []rune(strings.Repeat(" ", sketchColumns+2))
	for yard := 0; yard <= f.MiddleYard; yard += 10 {
		for _, side := range []float64{-1, 1} {
			at := column(side * float64(f.MiddleYard-yard) * unit.YardM)
			if at < 0 || at >= sketchColumns {
				continue
			}
			for i := range grid {
				grid[i][at] = '.'
			}
			for _, hash := range []float64{f.FrontHashM(), f.BackHashM()} {
				grid[row(hash)][at] = '+'
			}
			copy(numbers[at:], []rune(fmt.Sprint(yard)))
		}
	}
	for _, edge := range []int{0, sketchRows - 1} {
		for i := range grid[edge] {
			grid[edge][i] = '-'
		}
	}
	for _, m := range marks {
		r, c := row(m.at.Y), column(m.at.X)
		if r >= 0 && r < sketchRows && c >= 0 && c < sketchColumns && !(grid[r][c] >= 'A' && grid[r][c] <= 'Z') {
			grid[r][c] = m.letter
		}
	}
	var lines []string
	for _, cells := range grid {
		lines = append(lines, strings.TrimRight(string(cells), " "))
	}
	return append(lines, strings.TrimRight(string(numbers), " "), fmt.Sprintf("side 1%*s", sketchColumns-6, "side 2"))
}
