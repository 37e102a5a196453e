package console

import (
	"fmt"
	"strings"

	"backfield/osc/glance"
	"backfield/osc/run"
)

// How alarms look. A pattern says what it is where reverse is hard to see.
const (
	loudFill    = "█" // as solid as reverse, also where reverse is not seen
	standbyFill = "░"
	manualFill  = "▒"
	overdueFill = "▓"

	alarmIndent   = 4 // cells before the text of an alarm
	mostAlarmRows = 3 // that one may take
)

// alarms lists all alarms, the worst first: what the run says, and that the screen is old.
func (p painter) alarms() (list []glance.Alarm) {
	if p.s.ViewAgeS > oldViewS {
		text := fmt.Sprintf("NO ANSWER FROM THE RUN FOR %.0f s: this screen is old", p.s.ViewAgeS)
		list = append(list, glance.Alarm{Kind: glance.AlarmMixer, Text: text, Short: "NO ANSWER"})
	}
	for _, a := range glance.Alarms(p.v) {
		key := keyNames[a.Key]
		if p.s.Typing { // the keys type
			key = "Esc, then " + key
		}
		a.Text, a.Key = a.Pressing(key), ""
		list = append(list, a)
	}
	return list
}

// keyNames are the keys that an alarm may ask for.
var keyNames = map[run.Verb]string{run.Go: "SPACE", run.Unhush: "h h", run.Hush: "h h", run.TakeOver: "t t"}

// status is the top of the screen: the alarms, or that all is well. An alarm that is longer than a row goes on in the next
// ones, since it ends in what to do.
func (p painter) status() partRows {
	list := p.alarms()
	if len(list) == 0 {
		return p.calm()
	}
	most := 0
	for _, a := range list {
		most += len(p.alarm(a, mostAlarmRows))
	}
	return partRows{most, func(rows int) (lines []textLine) {
		spare := rows - len(list) // rows for the second and third row of an alarm
		for i, a := range list[:min(rows, len(list))] {
			if i == rows-1 && rows < len(list) { // the last row has the names of all that are left
				var rest []string
				for _, a := range list[i:] {
					rest = append(rest, a.Short)
				}
				a.Text, a.Type = strings.Join(rest, ", "), ""
			}
			drawn := p.alarm(a, min(1+max(spare, 0), mostAlarmRows))
			lines, spare = append(lines, drawn...), spare-len(drawn)+1
		}
		return lines
	}}
}

// alarm draws an alarm in at most so many rows.
func (p painter) alarm(a glance.Alarm, most int) (lines []textLine) {
	fill, how := loudFill, loud
	switch a.Kind {
	case glance.AlarmStandby:
		fill, how = standbyFill, bold
	case glance.AlarmManual:
		fill, how = manualFill, bold
	case glance.AlarmOverdue:
		fill, how = overdueFill, bold
	}
	said := a.Text
	if a.Type != "" {
		said += ". " + a.Type
	}
	for i, row := range wrapHint(clean(said), max(p.width-alarmIndent-1, 1), most) {
		if i > 0 && how != loud {
			fill = " "
		}
		l := textLine{{strings.Repeat(fill, alarmIndent-1), bold}, {" " + row + " ", how}}
		lines = append(lines, append(l, styledText{strings.Repeat(fill, max(p.width-l.width(), 0)), bold}).cut(p.width))
	}
	return lines
}

// calm is the status without an alarm: how the mixers are, and the tempo.
func (p painter) calm() partRows {
	if p.s.ViewAgeS < 0 || len(p.v.Mixers) == 0 || p.v.Follows() {
		return partRows{}
	}
	left := textLine{{"OK", bold}, {fmt.Sprintf("   %d mixers", len(p.v.Mixers)), plain}}
	if len(p.v.Mixers) == 1 {
		left = p.mixer(p.v.Mixers[0])
	}
	return fixedRows(sides(left, p.tempo(p.width-left.width()-2), p.width))
}
