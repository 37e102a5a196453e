package console

import (
	"fmt"

	"github.com/charmbracelet/x/ansi"
)

// players lists the open mics with their levels, in columns. An overlay replaces it.
func (p painter) players() partRows {
	if p.s.Sheet != nil || p.s.ViewAgeS < 0 {
		return partRows{}
	}
	cells, widest := p.open()
	if len(cells) == 0 {
		return fixedRows(textLine{{"OPEN  ", plain}, {"none", bold}})
	}
	const margin = 9
	room := max(p.width-margin, 1)
	column := min(widest+3, room)
	columns := max(room/column, 1)
	most := (len(cells) + columns - 1) / columns
	return partRows{most, func(rows int) (lines []textLine) {
		if rows < most { // too few rows for columns
			return packed(cells, p.width, rows)
		}
		for r := range rows {
			head := ""
			if r == 0 {
				head = fmt.Sprintf("OPEN %d", len(cells))
			}
			row := text(fmt.Sprintf("%-*s", margin, head))
			for _, cell := range cells[min(r*columns, len(cells)):min((r+1)*columns, len(cells))] {
				row = append(row, cell.fill(column, plain)...)
			}
			lines = append(lines, row)
		}
		return lines
	}}
}

// open lists the open channels, a piece of a line each, and how wide the widest is.
func (p painter) open() (cells []textLine, widest int) {
	for _, o := range p.v.Open {
		name := clean(o.Player)
		if name == "" {
			name = fmt.Sprintf("channel %d", o.Channel)
		}
		level := fmt.Sprintf(" %.1f", o.LevelDB)
		if o.Moving {
			level += "~"
		}
		cell := textLine{{ansi.Truncate(name, maxNameCells, "…"), bold}, {level, plain}}
		cells, widest = append(cells, cell), max(widest, cell.width())
	}
	return cells, widest
}

// packed puts players one after the other, and counts those that do not fit.
func packed(cells []textLine, width, rows int) (lines []textLine) {
	row := text(fmt.Sprintf("OPEN %d", len(cells)))
	for i, cell := range cells {
		more := styled(fmt.Sprintf("  and %d more", len(cells)-i), bold)
		room := width - row.width() - 2
		if len(lines) == rows-1 && i < len(cells)-1 {
			room -= more.width() // it must fit after this one
		}
		if cell.width() > room {
			if len(lines) == rows-1 {
				return append(lines, append(row, more...))
			}
			lines, row = append(lines, row), text("      ")
		}
		row = append(append(row, styledText{"  ", plain}), cell...)
	}
	return append(lines, row)
}

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
