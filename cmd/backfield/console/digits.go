package console

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"backfield/osc/run"
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

// bigCounts draws how many counts are left to a cue, as a drum major counts: 1 is the last. Overdue counts have a plus before
// them. In a wait, where no counts are left but time is, it draws the seconds, with their unit. The digits are scale times
// as large as digits.
func bigCounts(n *run.NextCue, scale int) []string {
	counts, text, unit := n.Counts, "", ""
	switch whole := math.Ceil(counts - run.CountSlack); {
	case n.InWait():
		text, unit = fmt.Sprintf("%.0f", math.Min(math.Ceil(n.InS), 9999)), " s"
	case counts <= -1:
		text = fmt.Sprintf("+%.0f", math.Min(math.Floor(run.CountSlack-counts), 999))
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
	blank := strings.Repeat(" ", len(unit))
	for r := range rows[1:] {
		rows[r] += blank
	}
	rows[len(rows)-1] += unit // in plain size: a large s reads as a 5
	return rows
}
