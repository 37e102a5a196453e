package picture

import (
	"fmt"

	"backfield/cmd/backfield/letters"
)

// legendEntry is one sign of the legend and its text.
type legendEntry struct {
	draw func(at XY)
	text string
	wide float64 // width of the sign
}

// legend explains the signs below the field: the sections, the roles and the lines of this picture.
func (sc *cueScene) legend() {
	d := sc.d
	var rows [][]legendEntry
	var marks []legendEntry
	there := map[int]bool{}
	closed := false
	moves := false
	for i := range sc.people {
		p := &sc.people[i]
		there[p.section] = true
		closed = closed || p.mic != nil && !p.open()
		moves = moves || p.walks()
	}
	for n, name := range Sections(sc.s) {
		if there[n] {
			marks = append(marks, legendEntry{func(at XY) { d.player(at, n, false) }, name, d.mm(2)})
		}
	}
	if there[-1] {
		marks = append(marks, legendEntry{func(at XY) { d.player(at, -1, false) }, "no section", d.mm(2)})
	}
	if closed {
		mark := func(at XY) { d.player(at, sc.wearer(), true) }
		marks = append(marks, legendEntry{mark, "wears a closed mic", d.mm(2)})
	}
	rows = append(rows, marks)
	var signs []legendEntry
	used := map[string]bool{}
	for i := range sc.people {
		if p := &sc.people[i]; p.open() {
			used[p.mic.Role] = true
		}
	}
	for n, role := range sc.roles {
		if used[role] {
			text := "open, " + role
			if r, ok := sc.s.Score.Role(role); ok {
				text += fmt.Sprintf(" (%s dB)", number(r.LevelDB))
			}
			signs = append(signs, legendEntry{func(at XY) { d.open(at, -1, n) }, text, d.mm(6)})
		}
	}
	if len(used) > 0 {
		signs = append(signs, legendEntry{func(p XY) {
			d.line("ray", Warm, d.mm(0.45), 0, XY{p.X - d.mm(3), p.Y}, XY{p.X + d.mm(3), p.Y})
			d.area("ray", Warm, Paper, d.mm(0.15), around(XY{p.X + d.mm(3), p.Y}, d.mm(0.75), turned(12, 0, 1))...)
		}, "to where the sound will seem to come from", d.mm(7)})
	}
	if moves {
		text := "path to the end"
		if sc.next != nil {
			text = "path to cue " + sc.next.ID
		}
		arrow := func(p XY) { d.arrow(XY{p.X - d.mm(3), p.Y}, XY{p.X + d.mm(3), p.Y}) }
		signs = append(signs, legendEntry{arrow, text, d.mm(7)})
	}
	rows = append(rows, signs)
	d.rows(rows)
}

// wearer is the section of a player with a closed mic.
func (sc *cueScene) wearer() int {
	for i := range sc.people {
		if p := &sc.people[i]; p.mic != nil && !p.open() {
			return p.section
		}
	}
	return -1
}

func (d *Drawing) arrow(from, to XY) {
	head := d.mm(1.5)
	d.line("walk", Dark, d.mm(0.25), 0, from, XY{to.X - head, to.Y})
	d.area("walk", Dark, NoInk, 0, to, XY{to.X - head, to.Y + head*0.38}, XY{to.X - head, to.Y - head*0.38})
}

// rows puts entries below the drawing, wraps rows that are too long, and makes the drawing higher by that much.
func (d *Drawing) rows(rows [][]legendEntry) {
	left, right, size := d.Min.X+d.mm(edgeMM), d.Min.X+d.W-d.mm(edgeMM), d.text(smallMM)
	type put struct {
		legendEntry
		at XY
	}
	line, foot := d.mm(5.4), d.Min.Y+d.H
	y := foot + d.mm(0.6)
	var list []put
	for _, row := range rows {
		if len(row) == 0 {
			continue
		}
		y += line
		x := left
		for _, e := range row {
			w := e.wide + d.mm(1.2) + letters.Wide(e.text, size, false)
			if x > left && x+w > right {
				x, y = left, y+line
			}
			list = append(list, put{e, XY{x, y}})
			x += w + d.mm(4.5)
		}
	}
	d.H = y + d.mm(2.5) - d.Min.Y
	d.band(foot, d.Min.Y+d.H)
	for _, p := range list {
		p.draw(XY{p.at.X + p.wide/2, p.at.Y - letters.Ascent*size/2})
		d.word("legend", Dark, size, false, -1, p.at.X+p.wide+d.mm(1.2), p.at.Y, p.text)
	}
}
