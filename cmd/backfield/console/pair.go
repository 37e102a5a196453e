package console

import (
	"fmt"
	"strings"

	"github.com/charmbracelet/x/ansi"
)

// pair says at the top of the screen that another laptop sends, and what the operator has to decide about it.
func (p painter) pair() partRows {
	v := p.v.Pair
	if v == nil {
		return partRows{}
	}
	var lines []textLine
	if !v.Sends {
		text := "░░░ " + clean(v.Headline) + " "
		text += strings.Repeat("░", max(p.width-ansi.StringWidth(text), 0))
		lines = append(lines, styled(text, bold).cut(p.width))
	}
	if v.Ask != "" {
		for _, line := range strings.Split(ansi.Wordwrap(clean(v.Ask)+".   t t", max(p.width-2, 10), ""), "\n") {
			lines = append(lines, styled(" "+line, loud).cut(p.width).fill(p.width, loud))
		}
	}
	return fixedRows(lines...)
}

// pairState says below the picture how the two laptops are.
func (p painter) pairState() partRows {
	v := p.v.Pair
	if v == nil {
		return partRows{}
	}
	behind := "up to date"
	if v.Missing > 0 {
		behind = fmt.Sprintf("%d behind", v.Missing)
	}
	text := fmt.Sprintf("term %d; journal %d entries, %s", v.Term, v.Entries, behind)
	if v.Sends && v.Headline != "" {
		text = clean(v.Headline)
	}
	return fixedRows(styled(text, plain).cut(p.width))
}
