// Package rows turns sheets of dots and of sets, whatever their layout, into rows of Backfield's own layout: one per
// player and set, and one per set. It finds the columns and the sheets that the score names, and reads no place and no
// number.
package rows

import (
	"fmt"
	"slices"
	"strings"

	"backfield/layout/source"
	"backfield/layout/table"
	"backfield/layout/unit"
)

// Columns says how a sheet of dots in another layout gives them: [drill.columns] of the score. A text is the name of a
// column as the sheet's header row has it. {set} in it is where a set's label goes: then there is a column for each
// set; in Sheet, a sheet for each set. Block is the title above each part of a sheet. {player} in it or in Sheet is where
// a player's name goes. Fill "down" takes a blank set or player for that of the row above. DepthFrom is the line that
// depths of a number alone count from, XFrom that of coordinates x.
type Columns struct {
	table.Where
	sheetKeys
	Set    table.Text `key:"set"`
	Player NamesKey   `key:"player"`
	Fill   fillKey    `key:"fill"`
	Block  table.Text `key:"block"`
	dotColumns
	Unit      table.Text `key:"unit"`
	DepthFrom table.Text `key:"depth_from"`
	XFrom     table.Text `key:"x_from"`
	setColumns
	Sets *SetsColumns `key:"sets"`
}

// SetsColumns says the same of a sheet of sets: [drill.columns.sets]. Only such a sheet has Facing: in a sheet of dots it
// would look like that of one player.
type SetsColumns struct {
	table.Where
	sheetKeys
	Set table.Text `key:"set"`
	setColumns
	Facing table.Text `key:"facing"`
}

// sheetKeys are which sheet of a workbook is meant, and its rows: the one that names the columns, and the last.
// Transposed says that its columns are to be taken for rows.
type sheetKeys struct {
	Sheet      table.Text `key:"sheet"`
	Transposed table.Flag `key:"transposed"`
	Header     HeaderKey  `key:"header"`
	Last       table.Int  `key:"last"`
}

// dotColumns are the columns of a place, in the order of the keys below.
type dotColumns struct {
	Dot        table.Text `key:"dot"`
	Lateral    table.Text `key:"lateral"`
	Depth      table.Text `key:"depth"`
	Side       table.Text `key:"side"`
	Steps      table.Text `key:"steps"`
	Inside     table.Text `key:"inside"`
	Yard       table.Text `key:"yard"`
	DepthSteps table.Text `key:"depth_steps"`
	Behind     table.Text `key:"behind"`
	Line       table.Text `key:"line"`
	X          table.Text `key:"x"`
	Y          table.Text `key:"y"`
}

// setColumns are the columns that say how long a set is; HoldAfter says that its counts are those of the walk alone,
// CountsAre that they are those from the movement's first set on.
type setColumns struct {
	Movement  MovementKey `key:"movement"`
	Counts    table.Text  `key:"counts"`
	Hold      table.Text  `key:"hold"`
	HoldAfter table.Flag  `key:"hold_after"`
	CountsAre countsKey   `key:"counts_are"`
}

// MovementKey is the column of the movement, or a number that holds for every set.
type MovementKey struct {
	table.Text
	All table.Int
}

// DecodeNode reads the name of a column, or a movement's number.
func (m *MovementKey) DecodeNode(n *table.Node, p *source.Problems) {
	if n.Kind == table.Number {
		m.All.DecodeNode(n, p)
		return
	}
	m.Text.DecodeNode(n, p)
}

// cell is the number that holds for every set, as if each row had it.
func (m *MovementKey) cell() table.Cell {
	return table.Cell{Text: fmt.Sprint(m.All.V), Span: m.All.Span}
}

// The placeholders of a set's label in the name of a column, a sheet or a block, and of a player's in that of a sheet or
// a block.
const (
	setSlot    = "{set}"
	playerSlot = "{player}"
)

// Keys of a place, in the order of a row that is made.
const (
	dotKey = iota
	lateralKey
	depthKey
	sideKey
	stepsKey
	insideKey
	yardKey
	depthStepsKey
	behindKey
	lineKey
	xKey
	yKey
	placeKeys
)

var placeNames = table.Keys(dotColumns{})

// Words are the names of the columns of a row that give a place in words, and not as x and y.
var Words = placeNames[lateralKey:xKey]

// places are the columns that say where a player is: those that are named, or Backfield's own where none is.
func (c *Columns) places() [placeKeys]table.Text {
	list := [placeKeys]table.Text{c.Dot, c.Lateral, c.Depth, c.Side, c.Steps, c.Inside, c.Yard, c.DepthSteps, c.Behind,
		c.Line, c.X, c.Y}
	if !slices.ContainsFunc(list[:], func(t table.Text) bool { return t.Set }) {
		for _, key := range []int{lateralKey, depthKey, xKey, yKey} {
			list[key] = table.Text{V: placeNames[key]}
		}
	}
	return list
}

// XAcross reports whether x gives the half across the field alone: the other half is a depth.
func (c *Columns) XAcross() bool {
	return c.X.Set && !c.Y.Set && !c.Lateral.Set && !c.Yard.Set && !c.Dot.Set
}

// layout is how a sheet of dots is laid out.
type layout int

// The layouts.
const (
	perDot  layout = iota // one row per player and set
	perSet                // one row per player, a column or several for each set
	perPage               // one sheet for each set, one row per player
)

// layout is the one that the names imply.
func (c *Columns) layout() layout {
	for _, t := range c.places() {
		if strings.Contains(t.V, setSlot) {
			return perSet
		}
	}
	if c.apart(setSlot) {
		return perPage
	}
	return perDot
}

// apart reports whether each sheet or each block is of one set, or of one player.
func (c *Columns) apart(slot string) bool {
	return strings.Contains(c.Sheet.V, slot) || strings.Contains(c.Block.V, slot)
}

// check finds names that do not go together.
func (c *Columns) check(p *source.Problems) bool {
	before := p.Errors()
	list := c.places()
	c.checkTwice(list, p)
	c.checkHalves(list, p)
	c.checkSets(list, p)
	c.checkApart(p)
	c.Fill.check(p)
	c.CountsAre.check(p)
	if c.Unit.Set {
		if _, err := unit.Length.Read("1 " + c.Unit.V); err != nil {
			p.Add(unknownUnit(c.Unit))
		}
	}
	return p.Errors() == before
}

// checkTwice finds columns that give the same part of a dot.
func (c *Columns) checkTwice(list [placeKeys]table.Text, p *source.Problems) {
	either := func(a int, others ...int) {
		for _, b := range others {
			if list[a].Set && list[b].Set {
				p.Add(sameOfDot(list[b].Span, placeNames[a], placeNames[b]))
			}
		}
	}
	either(dotKey, lateralKey, depthKey, sideKey, stepsKey, insideKey, yardKey, depthStepsKey, behindKey, lineKey)
	either(lateralKey, stepsKey, insideKey, yardKey) // its side may have a column
	either(depthKey, depthStepsKey, behindKey, lineKey)
}

// checkHalves checks that the columns give both halves of a dot, each one whole.
func (c *Columns) checkHalves(list [placeKeys]table.Text, p *source.Problems) {
	along := list[depthKey].V != "" || list[lineKey].V != ""
	byX := along && c.XAcross()
	across := list[lateralKey].V != "" || list[yardKey].V != "" || byX
	switch {
	case list[dotKey].Set:
	case byX && list[sideKey].Set && !list[stepsKey].Set && !list[insideKey].Set: // the side of an x without a sign
	case list[yardKey].V == "" && (list[sideKey].Set && !list[lateralKey].Set ||
		list[stepsKey].Set || list[insideKey].Set):
		p.Add(noYardColumn(first(list[sideKey], list[stepsKey], list[insideKey]).Span))
	case list[lineKey].V == "" && (list[depthStepsKey].Set || list[behindKey].Set):
		p.Add(noLineColumn(first(list[depthStepsKey], list[behindKey]).Span))
	case across != along:
		p.Add(halfADot(c.placeOf(first(list[:]...))))
	case list[xKey].Set != list[yKey].Set && !byX:
		p.Add(xWithoutY(first(list[xKey], list[yKey]).Span))
	}
}

// checkSets checks that the sets are listed in one way: in rows, in columns or in sheets.
func (c *Columns) checkSets(list [placeKeys]table.Text, p *source.Problems) {
	var each [placeKeys]bool // whether it is a column for one set
	for key, t := range list {
		switch n := strings.Count(t.V, setSlot); {
		case n > 1:
			p.Add(setSlotTwice(c.placeOf(t)))
		case n == 1:
			each[key] = true
		}
	}
	per := slices.Contains(each[:], true)
	for key, t := range list {
		if per && t.Set && !each[key] {
			p.Add(notPerSet(t.Span, placeNames[key]))
		}
	}
	switch {
	case strings.Contains(c.Player.V, setSlot) || strings.Contains(c.Set.V, setSlot):
		p.Add(setSlotMisplaced(c.placeOf(first(c.Set, c.Player.Text))))
	case per && c.Set.Set:
		p.Add(rowsAndColumns(c.Set.Span))
	case c.apart(setSlot) && (per || c.Set.Set):
		p.Add(sheetsAndRows(first(c.Sheet, c.Block).Span))
	case strings.Count(c.Sheet.V, setSlot) > 1:
		p.Add(setSlotTwice(c.Sheet.Span))
	}
}

// checkApart checks that sheets and blocks are of one set or one player in one way only.
func (c *Columns) checkApart(p *source.Problems) {
	if t := c.Block; t.Set {
		text := strings.NewReplacer(setSlot, "", playerSlot, "").Replace(t.V)
		if strings.Count(t.V, "{set}")+strings.Count(t.V, playerSlot) != 1 || strings.TrimSpace(text) == "" {
			p.Add(badBlock(t))
		}
	}
	if c.apart(playerSlot) && c.Player.Set {
		p.Add(playerTwice(c.Player.Span))
	}
	for _, slot := range []string{setSlot, playerSlot} {
		if strings.Contains(c.Sheet.V, slot) && strings.Contains(c.Block.V, slot) {
			p.Add(apartTwice(c.Block.Span, slot))
		}
	}
}

// placeOf is where a key was written, or where the table was.
func (c *Columns) placeOf(t table.Text) source.Span {
	if t.Set {
		return t.Span
	}
	return c.Where.Span
}

// first is the first that is set.
func first(list ...table.Text) table.Text {
	for _, t := range list {
		if t.Set {
			return t
		}
	}
	return table.Text{}
}

// TOML is the table as it is written into a score.
func (c *Columns) TOML() string {
	text := "[drill.columns]\n" + given(c)
	if c.Sets != nil {
		text += "\n[drill.columns.sets]\n" + given(c.Sets)
	}
	return text
}

// given lists the keys that are set, one a line, in their order.
func given(columns any) string {
	var b strings.Builder
	table.Each(columns, func(key string, value any) {
		switch v := value.(type) {
		case *table.Text:
			if v.Set {
				fmt.Fprintf(&b, "%-11s = %s\n", key, table.Quote(v.V))
			}
		case *table.Int:
			if v.Set {
				fmt.Fprintf(&b, "%-11s = %d\n", key, v.V)
			}
		case *NamesKey:
			if v.Set {
				fmt.Fprintf(&b, "%-11s = %s\n", key, v.toml())
			}
		case *HeaderKey:
			if v.Set {
				fmt.Fprintf(&b, "%-11s = %s\n", key, v.toml())
			}
		case *fillKey:
			if v.Set {
				fmt.Fprintf(&b, "%-11s = %s\n", key, table.Quote(v.V))
			}
		case *countsKey:
			if v.Set {
				fmt.Fprintf(&b, "%-11s = %s\n", key, table.Quote(v.V))
			}
		case *table.Flag:
			if v.Set {
				fmt.Fprintf(&b, "%-11s = %t\n", key, v.V)
			}
		case *MovementKey:
			if v.Text.Set {
				fmt.Fprintf(&b, "%-11s = %s\n", key, table.Quote(v.V))
			}
			if v.All.Set {
				fmt.Fprintf(&b, "%-11s = %d\n", key, v.All.V)
			}
		}
	})
	return b.String()
}
