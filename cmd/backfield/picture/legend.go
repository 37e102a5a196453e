package picture

import "fmt"

// entry is one sign of the legend and its word.
type entry struct {
	draw func(at Point)
	text string
	wide float64 // of the sign
}

// legend says below the field what the signs mean: the sections that are there, the roles, the lines.
func (sc *scene) legend() {
	d := sc.d
	var rows [][]entry
	var marks []entry
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
			marks = append(marks, entry{func(at Point) { d.player(at, n, false) }, name, d.mm(2)})
		}
	}
	if there[-1] {
		marks = append(marks, entry{func(at Point) { d.player(at, -1, false) }, "in no section", d.mm(2)})
	}
	if closed {
		marks = append(marks, entry{func(at Point) { d.player(at, sc.wearer(), true) }, "wears a closed mic", d.mm(2)})
	}
	rows = append(rows, marks)
	var signs []entry
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
			signs = append(signs, entry{func(at Point) { d.open(at, -1, n) }, text, d.mm(6)})
		}
	}
	if len(used) > 0 {
		signs = append(signs, entry{func(p Point) {
			d.line("ray", Warm, d.mm(0.45), 0, Point{p.X - d.mm(3), p.Y}, Point{p.X + d.mm(3), p.Y})
			d.area("ray", Warm, Paper, d.mm(0.15), around(Point{p.X + d.mm(3), p.Y}, d.mm(0.75), turned(12, 0, 1))...)
		}, "to where it will seem to come from", d.mm(7)})
	}
	if moves {
		text := "walks, until the end"
		if sc.next != nil {
			text = "walks, until cue " + sc.next.ID
		}
		arrow := func(p Point) { d.arrow(Point{p.X - d.mm(3), p.Y}, Point{p.X + d.mm(3), p.Y}) }
		signs = append(signs, entry{arrow, text, d.mm(7)})
	}
	rows = append(rows, signs)
	d.rows(rows)
}

// wearer is the section of somebody who wears a closed mic.
func (sc *scene) wearer() int {
	for i := range sc.people {
		if p := &sc.people[i]; p.mic != nil && !p.open() {
			return p.section
		}
	}
	return -1
}

func (d *Drawing) arrow(from, to Point) {
	head := d.mm(1.5)
	d.line("walk", Dark, d.mm(0.25), 0, from, Point{to.X - head, to.Y})
	d.area("walk", Dark, NoInk, 0, to, Point{to.X - head, to.Y + head*0.38}, Point{to.X - head, to.Y - head*0.38})
}

// rows sets entries below the drawing, each row broken where it is full, and makes the drawing as much higher.
func (d *Drawing) rows(rows [][]entry) {
	left, right, size := d.Min.X+d.mm(edgeMM), d.Min.X+d.W-d.mm(edgeMM), d.mm(smallMM)
	type put struct {
		entry
		at Point
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
			w := e.wide + d.mm(1.2) + wide(e.text, size, false)
			if x > left && x+w > right {
				x, y = left, y+line
			}
			list = append(list, put{e, Point{x, y}})
			x += w + d.mm(4.5)
		}
	}
	d.H = y + d.mm(2.5) - d.Min.Y
	d.band(foot, d.Min.Y+d.H)
	for _, p := range list {
		p.draw(Point{p.at.X + p.wide/2, p.at.Y - ascent*size/2})
		d.word("legend", Dark, size, false, -1, p.at.X+p.wide+d.mm(1.2), p.at.Y, p.text)
	}
}
