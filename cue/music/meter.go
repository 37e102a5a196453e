package music

import (
	"fmt"
	"strconv"
	"strings"

	"backfield/cue/notes"
)

// meter is a time signature: "6/8" has groups {6}, "3+2+2/8" {3, 2, 2}. Without groups there is none.
type meter struct {
	groups []int
	unit   int
}

func (m meter) String() string {
	text := ""
	for i, g := range m.groups {
		if i > 0 {
			text += "+"
		}
		text += fmt.Sprint(g)
	}
	return fmt.Sprintf("%s/%d", text, m.unit)
}

// quarters is the length of a bar.
func (m meter) quarters() float64 {
	n := 0
	for _, g := range m.groups {
		n += g
	}
	return 4 * float64(n) / float64(m.unit)
}

// beats are the lengths of the beats that the meter is beaten in: three eighths of a 6/8, 9/8 or 12/8, the groups
// of eighths where the music gives them, else its unit: 3+2/4 has five beats. (Compound meters: common practice.)
func (m meter) beats() []float64 {
	if len(m.groups) == 0 {
		return []float64{1}
	}
	unit := 4 / float64(m.unit)
	if len(m.groups) > 1 && m.unit >= 8 {
		list := make([]float64, len(m.groups))
		for i, g := range m.groups {
			list[i] = unit * float64(g)
		}
		return list
	}
	if m.unit >= 8 && m.groups[0] > 3 && m.groups[0]%3 == 0 {
		return []float64{3 * unit}
	}
	return []float64{unit}
}

// readMeter reads a time signature: "3+2" over 8, or several side by side, whose groups add up.
func readMeter(e *notes.Element) (m meter, err error) {
	if e.Kid("senza-misura") != nil {
		return meter{}, nil
	}
	over, under := e.All("beats"), e.All("beat-type")
	if len(over) == 0 || len(over) != len(under) {
		return m, fmt.Errorf("a time signature without beats and beat-type")
	}
	units := make([]int, len(over))
	for i := range under {
		unit, err := strconv.Atoi(strings.TrimSpace(under[i].Text))
		if err != nil || unit < 1 || unit > 128 || unit&(unit-1) != 0 {
			return m, fmt.Errorf("a time signature over %q", clip(under[i].Text))
		}
		units[i], m.unit = unit, max(m.unit, unit)
	}
	for i, unit := range units {
		for _, text := range strings.Split(over[i].Text, "+") {
			n, err := strconv.Atoi(strings.TrimSpace(text))
			if err != nil || n < 1 || n > 255 {
				return m, fmt.Errorf("a time signature of %q", clip(over[i].Text))
			}
			group := n
			switch { // side by side each is beaten as it would be alone
			case len(over) == 1:
			case unit < 8 && m.unit >= 8: // 2/4 + 3/8 is 2+2+3/8
				group = 1
			case unit >= 8 && n > 3 && n%3 == 0: // 6/8 + 2/4 is 3+3+2+2/8
				group = 3
			}
			for range n / group {
				m.groups = append(m.groups, group*m.unit/unit)
			}
			if len(m.groups) > 16 {
				return m, fmt.Errorf("a time signature of %q", clip(over[i].Text))
			}
		}
	}
	return m, nil
}
