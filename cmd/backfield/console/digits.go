package console

import (
	"fmt"
	"math"
	"strings"
)

const digitRows = 5

// digits are drawn of full and half blocks, two cells a stroke, so that a stroke is about as wide as it is high.
var digits = map[rune][digitRows]string{
	'0': {"██████", "██  ██", "██  ██", "██  ██", "██████"},
	'1': {"  ██  ", "████  ", "  ██  ", "  ██  ", "██████"},
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

// bigCounts is how many counts are still to come, counted as a drum major does: 1 is the last. Those that are overdue
// stand behind a plus.
func bigCounts(counts float64) [digitRows]string {
	text := ""
	switch whole := math.Ceil(counts - 1e-6); {
	case counts <= -1:
		text = fmt.Sprintf("+%.0f", math.Min(math.Floor(1e-6-counts), 999))
	case whole < 0 || whole != whole:
		text = "0"
	default:
		text = fmt.Sprintf("%.0f", math.Min(math.Abs(whole), 9999))
	}
	var rows [digitRows]string
	for r := range rows {
		var parts []string
		for _, c := range text {
			parts = append(parts, digits[c][r])
		}
		rows[r] = " " + strings.Join(parts, "  ")
	}
	return rows
}
