package console

import (
	"fmt"
	"strings"

	"github.com/charmbracelet/x/ansi"

	"backfield/osc/glance"
)

// message is the answer to the last command, or what a second press would do. Its row stays when it is empty.
func (p painter) message() partRows {
	switch {
	case p.s.Armed != "":
		return fixedRows(styled(fmt.Sprintf(" Press again to %s ", pressMeaning[p.s.Armed]), loud))
	case p.s.Said == "":
		return fixedRows(nil)
	case !p.s.Wrong:
		return fixedRows(styled(clean(p.s.Said), bold))
	}
	refusal := func(most int) (lines []textLine) {
		for _, r := range wrap(clean(p.s.Said), max(p.width-2, 1), most) {
			lines = append(lines, styled(" "+r+" ", reverse))
		}
		return lines
	}
	return partRows{max(len(refusal(2)), 1), refusal}
}

// command is the line while a command is being typed.
func (p painter) command() partRows {
	if !p.s.Typing {
		return partRows{}
	}
	head, tail := " COMMAND, Esc cancels ", clean(p.s.Typed)
	if room := p.width - len(head) - 3; room > 0 {
		tail = ansi.TruncateLeft(tail, max(ansi.StringWidth(tail)-room, 0), "")
	}
	return fixedRows(textLine{{head, loud}, {" " + tail, bold}, {" ", reverse}})
}

// legend lists the keys, unless a command is being typed.
func (p painter) legend() partRows {
	if p.s.Typing {
		return partRows{}
	}
	clock, hush, command, gap := "start", "hush", "command", "   "
	if p.v.Running {
		clock = "stop"
	}
	if p.v.Hush && p.v.Only == "" {
		hush = "unhush"
	}
	if p.width < 78 {
		command, gap = "more", " "
	}
	keys := []struct{ key, what string }{
		{"SPACE", "go"}, {"bb", "back"}, {"hh", hush}, {"ss", clock}, {":", command}, {"?", "help"}, {"qq", "quit"},
	}
	if takes := keys[:0:0]; p.v.Follows() {
		takes = append(takes, struct{ key, what string }{"tt", "take over"})
		if keys = append(takes, keys[4:]...); p.v.Pair.Yielded { // the other one is well
			keys = append(keys[1:], keys[0])
		}
	} else if glance.Later(p.v) {
		keys[0].what = "go (later)"
	}
	var l textLine
	for _, k := range keys {
		l = append(l, styledText{k.key, bold}, styledText{" " + k.what + gap, plain})
	}
	l[len(l)-1].text = strings.TrimRight(l[len(l)-1].text, " ")
	return fixedRows(l)
}
