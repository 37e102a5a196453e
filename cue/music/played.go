package music

import (
	"fmt"
	"sort"

	"backfield/cue/notes"
)

// played is the piece with its measures in the order in which they are played, nil after an error. The second time of
// measure 5 is "5(2)", and so are marks. The tempo of a place is the one that is written there, whatever was played
// before.
func (x *partwise) played(order []int) *piece {
	written := x.c
	course := notes.PlayedOrder{Order: order}
	for _, b := range written.bars {
		course.Starts, course.Lengths = append(course.Starts, b.from), append(course.Lengths, b.length)
	}
	c := &piece{name: written.name, numbered: written.numbered}
	times := make([]int, len(written.bars))
	for i, at := range order {
		b := written.bars[at]
		times[at]++
		course.PlayedAt = append(course.PlayedAt, c.most)
		jumped, to := i > 0 && order[i-1] != at-1, b.from+b.length
		if i == len(order)-1 {
			to += 1e-6 // what is written at the last barline
		}
		shift := c.most - b.from
		tempos := written.tempos[from(written.tempos, b.from, fileTempo.place):]
		if held := len(written.tempos) - len(tempos) - 1; jumped && (len(tempos) == 0 || tempos[0].at > b.from+1e-9) {
			t := written.tempos[held]
			t.at = c.most
			c.tempos = append(c.tempos, t)
		}
		for _, t := range tempos[:from(tempos, to, fileTempo.place)] {
			t.at += shift
			c.tempos = append(c.tempos, t)
		}
		marks := written.marks[from(written.marks, b.from, fileMark.place):]
		for _, m := range marks[:from(marks, to, fileMark.place)] {
			c.marks = append(c.marks, fileMark{nthTime(m.name, times[at]), m.at + shift})
		}
		fermatas := written.fermatas[from(written.fermatas, b.from, fermata.place):]
		for _, f := range fermatas[:from(fermatas, to, fermata.place)] {
			f.from, f.to = f.from+shift, f.to+shift
			c.fermatas = append(c.fermatas, f)
		}
		b.number, b.from, b.pickup = nthTime(b.number, times[at]), c.most, b.pickup && i == 0
		c.bars = append(c.bars, b)
		if c.most += b.length; c.most > mostQuarters || len(c.tempos)+len(c.marks)+len(c.fermatas) > mostSigns {
			x.bad("is too long with its repeats", "check the repeats")
			return nil
		}
	}
	c.least = c.most
	var err error
	if c.parts, err = x.notes.Finish(course); err != nil {
		x.bad("has "+err.Error()+" with its repeats", "check the repeats")
		return nil
	}
	return c
}

func (t fileTempo) place() float64 { return t.at }
func (m fileMark) place() float64  { return m.at }
func (f fermata) place() float64   { return f.from }

// from is the index of the first of a list in order that is not before a place.
func from[T any](list []T, at float64, place func(T) float64) int {
	return sort.Search(len(list), func(i int) bool { return place(list[i]) > at-1e-9 })
}

// nthTime is the name of a measure or mark that is played for the nth time.
func nthTime(name string, n int) string {
	if n == 1 || name == "" {
		return name
	}
	return fmt.Sprintf("%s(%d)", name, n)
}
