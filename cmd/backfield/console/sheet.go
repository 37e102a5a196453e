package console

import (
	"fmt"

	"github.com/charmbracelet/x/ansi"
)

// sheet is a long text instead of the players, with a QR code below it.
func (p painter) sheet() partRows {
	if p.s.Sheet == nil {
		return partRows{}
	}
	var all []string
	for _, s := range p.s.Sheet {
		if s = clean(s); ansi.StringWidth(s) <= p.width { // keep its columns
			all = append(all, s)
		} else {
			all = append(all, wrap(s, p.width, 4)...)
		}
	}
	code := p.s.Code
	if len(code) > 0 && ansi.StringWidth(code[0]) > p.width {
		code = nil
	}
	return partRows{len(all) + len(code) + 1, func(rows int) (lines []textLine) {
		if len(code) > rows-2 { // half a code cannot be read
			code = nil
		}
		for _, s := range all[:max(min(rows-1-len(code), len(all)), 0)] {
			lines = append(lines, text(s))
		}
		hidden := len(all) - len(lines)
		for _, s := range code {
			lines = append(lines, styled(s, paper))
		}
		end := "Esc closes this"
		if code == nil && p.s.Code != nil {
			end += "; a larger window shows the QR code"
		}
		if hidden > 0 {
			end += fmt.Sprintf("; %d more lines do not fit", hidden)
		}
		return append(lines, styled(end, bold))
	}}
}
