package console

import (
	"fmt"
	"strings"

	"github.com/charmbracelet/x/ansi"

	"backfield/osc/glance"
)

// How alarms look. A pattern says what it is where reverse is hard to see.
const (
	manualFill  = "▒"
	overdueFill = "▓"
)

// alarms lists all alarms, the worst first: what the run says, and that the screen is old.
func (p painter) alarms() (list []glance.Alarm) {
	if p.s.ViewAgeS > oldViewS {
		text := fmt.Sprintf("NO ANSWER FROM THE RUN FOR %.0f s: this screen is old", p.s.ViewAgeS)
		list = append(list, glance.Alarm{Kind: glance.AlarmMixer, Text: text, Short: "NO ANSWER"})
	}
	return append(list, glance.Alarms(p.v)...)
}

// status is the top of the screen: the alarms, or that all is well.
func (p painter) status() partRows {
	list := p.alarms()
	if len(list) == 0 {
		return p.calm()
	}
	return partRows{len(list), func(rows int) (lines []textLine) {
		for i, a := range list[:min(rows, len(list))] {
			if i == rows-1 && rows < len(list) { // the last row has the names of all that are left
				var rest []string
				for _, a := range list[i:] {
					rest = append(rest, a.Short)
				}
				a.Text = strings.Join(rest, ", ")
			}
			lines = append(lines, alarmLine(a, p.width))
		}
		return lines
	}}
}

func alarmLine(a glance.Alarm, width int) textLine {
	fill := ""
	switch a.Kind {
	case glance.AlarmManual:
		fill = manualFill
	case glance.AlarmOverdue:
		fill = overdueFill
	default:
		return styled("    "+clean(a.Text)+" ", loud).cut(width).fill(width, loud)
	}
	text := strings.Repeat(fill, 3) + " " + clean(a.Text) + " "
	return styled(text+strings.Repeat(fill, max(width-ansi.StringWidth(text), 0)), bold).cut(width)
}

// calm is the status without an alarm: how the mixers are, and the tempo.
func (p painter) calm() partRows {
	if p.s.ViewAgeS < 0 || len(p.v.Mixers) == 0 || p.v.Pair != nil && !p.v.Pair.Sends {
		return partRows{}
	}
	left := textLine{{"OK", bold}, {fmt.Sprintf("   %d mixers", len(p.v.Mixers)), plain}}
	if len(p.v.Mixers) == 1 {
		left = mixer(p.v.Mixers[0])
	}
	return fixedRows(sides(left, p.tempo(), p.width))
}

func plural(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}
