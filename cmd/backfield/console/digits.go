package console

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

const digitRows = 5

// digits are drawn with full blocks, two cells a stroke, so that a stroke is about as wide as it is high.
var digits = map[rune][digitRows]string{
	'0': {"██████", "██  ██", "██  ██", "██  ██", "██████"},
	'1': {"  ██  ", "████  ", "  ██  ", "  ██  ", "  ██  "}, // with a foot, 11 reads as 19
	'2': {"██████", "    ██", "██████", "██    ", "██████"},
	'3': {"██████", "    ██", " █████", "    ██", "██████"},
	'4': {"██  ██", "██  ██", "██████", "    ██", "    ██"},
	'5': {"██████", "██    ", "██████", "    ██", "██████"},
	'6': {"██████", "██    ", "██████", "██  ██", "██████"},
	'7': {"██████", "    ██", "   ██ ", "  ██  ", "  ██  "},
	'8': {"██████", "██  ██", "██████", "██  ██", "██████"},
	'9': {"██████", "██  ██", "██████", "    ██", "██████"},
	'+': {"    ", " ██ ", "████", " ██ ", "    "},
}

// bigCounts draws how many counts are left, as a drum major counts: 1 is the last. Overdue counts have a plus before
// them. The digits are scale times as large as digits.
func bigCounts(counts float64, scale int) []string {
	text := ""
	switch whole := math.Ceil(counts - 1e-6); {
	case counts <= -1:
		text = fmt.Sprintf("+%.0f", math.Min(math.Floor(1e-6-counts), 999))
	case whole < 0 || whole != whole:
		text = "0"
	default:
		text = fmt.Sprintf("%.0f", math.Min(math.Abs(whole), 9999))
	}
	var rows []string
	for r := range digitRows {
		row := " "
		for i, c := range text {
			if i > 0 {
				row += "  "
			}
			for _, cell := range digits[c][r] {
				row += strings.Repeat(string(cell), scale)
			}
		}
		rows = append(rows, slices.Repeat([]string{row}, scale)...)
	}
	return rows
}
