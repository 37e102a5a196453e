package console

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/charmbracelet/x/ansi"

	"backfield/osc/feed"
	"backfield/osc/run"
)

// alarm is something at the top of the screen. Its look does not depend on reverse alone: the worst are solid, the others
// have a pattern.
type alarm struct {
	text  string
	short string // where the alarms have too few rows
	fill  string // the pattern
}

const (
	solidFill   = "█" // what is heard is not what the show wants, or cannot be known
	manualFill  = "▒"
	overdueFill = "▓"
)

// alarms lists all alarms, the worst first.
func (p painter) alarms() (list []alarm) {
	add := func(fill, short, format string, args ...any) {
		list = append(list, alarm{clean(fmt.Sprintf(format, args...)), clean(short), fill})
	}
	if p.s.ViewAgeS > oldViewS {
		add(solidFill, "NO ANSWER", "NO ANSWER FROM THE RUN FOR %.0f s: this screen is old", p.s.ViewAgeS)
	}
	if p.v.Pair == nil || p.v.Pair.Sends { // otherwise they are the other laptop's
		list = append(list, p.mixerAlarm()...)
	}
	if p.v.Hush {
		add(solidFill, "HUSHED", "HUSHED: all worn mics closed. h h opens them again")
	}
	if text := p.manualWords(); text != "" {
		short, _, _ := strings.Cut(text, ":")
		add(manualFill, short, "%s", text)
	}
	if n := p.v.Next; n != nil && !n.Auto && n.Counts <= -1 {
		late := -math.Ceil(n.Counts)
		short := fmt.Sprintf("OVERDUE by %.0f", late)
		add(overdueFill, short, "OVERDUE by %s: press SPACE for cue %s", plural(late, "count"), n.ID)
	}
	return list
}

func plural(n float64, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%.0f %ss", n, what)
}

// mixerAlarm is the worst mixer's problem; none if all are well.
func (p painter) mixerAlarm() []alarm {
	bad := slices.DeleteFunc(slices.Clone(p.v.Mixers), func(d run.MixerView) bool { return !d.Alarm() })
	if len(bad) == 0 {
		return nil
	}
	slices.SortStableFunc(bad, func(a, b run.MixerView) int { return mixerUrgency(a) - mixerUrgency(b) })
	d, name := bad[0], "MIXER"
	if len(p.v.Mixers) > 1 {
		name += " " + d.To
	}
	var text, short string
	switch {
	case !d.Up && d.Reason == "":
		text, short = name+" NOT CONNECTED YET", "MIXER NOT CONNECTED"
	case !d.Up:
		text, short = name+" DOWN: "+d.Reason, "MIXER DOWN"
	case d.NoReply && d.ReplyAgoS >= 0:
		text = fmt.Sprintf("NO REPLY FROM %s for %s: check power and cable", name, ago(d.ReplyAgoS))
		short = "NO REPLY"
	case d.NoReply:
		text, short = "NO REPLY FROM "+name+": check power and cable", "NO REPLY"
	default:
		text = d.String()
		short, _, _ = strings.Cut(text, ":")
		if len(p.v.Mixers) > 1 {
			text = strings.Replace(text, "MIXER", name, 1)
		}
	}
	if len(bad) > 1 {
		text += fmt.Sprintf(" (and %d more)", len(bad)-1)
	}
	return []alarm{{clean(text), clean(short), solidFill}}
}

// mixerUrgency puts the mixer first that the operator must look at first.
func mixerUrgency(d run.MixerView) int {
	switch {
	case d.Contested:
		return 0
	case !d.Up:
		return 1
	case d.NoReply:
		return 2
	}
	return 3
}

// manualWords says which channels someone moved at a mixer: "2 MANUAL: ch 2 down, ch 14 still open".
func (p painter) manualWords() string {
	var words []string
	for _, r := range p.manualRows() {
		what := "moved"
		switch level, show := float64(r.LevelDB), float64(r.ShowDB); {
		case r.Sign == feed.ChannelMuted:
			what = "muted"
		case r.Sign == feed.ChannelStillOpen:
			what = "still open"
		case r.LevelKnown && level < show-levelToleranceDB:
			what = "down"
		case r.LevelKnown && level > show+levelToleranceDB:
			what = "up"
		}
		words = append(words, fmt.Sprintf("ch %d %s", r.Channel, what))
	}
	if len(words) == 0 {
		return ""
	}
	return fmt.Sprintf("%d MANUAL: %s", len(words), strings.Join(words, ", "))
}

// manualRows are the channels that someone moved at a mixer and that the operator has not acknowledged.
func (p painter) manualRows() []run.ChannelRow {
	return slices.DeleteFunc(slices.Clone(p.v.Rows), func(r run.ChannelRow) bool {
		return r.Sign.Rank() < feed.ChannelManual.Rank() || r.Sign == feed.ChannelStillOpen && r.Acked
	})
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
					rest = append(rest, a.short)
				}
				a.text = strings.Join(rest, ", ")
			}
			lines = append(lines, a.line(p.width))
		}
		return lines
	}}
}

func (a alarm) line(width int) textLine {
	text := strings.Repeat(a.fill, 3) + " " + a.text + " "
	text += strings.Repeat(a.fill, max(width-ansi.StringWidth(text), 0))
	if a.fill == solidFill { // in reverse its blanks are as solid as its pattern
		return textLine{{"    " + a.text + " ", loud}}.cut(width).fill(width, loud)
	}
	return styled(text, bold).cut(width)
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
