package drill

import (
	"fmt"
	"slices"
	"strings"

	"backfield/layout/source"
	"backfield/layout/table"
	"backfield/layout/unit"
)

// Columns says how a sheet of dots that is not laid out as ours tells them: [drill.columns] of the score. A text is
// the name of a column as the sheet's header row has it. {set} in it stands for a set's label: then there is a column
// for each set; in Sheet, a sheet for each set.
type Columns struct {
	table.Where
	Sheet      table.Text   `key:"sheet"`
	Header     table.Int    `key:"header"`
	Last       table.Int    `key:"last"`
	Set        table.Text   `key:"set"`
	Player     table.Text   `key:"player"`
	Dot        table.Text   `key:"dot"`
	Lateral    table.Text   `key:"lateral"`
	Depth      table.Text   `key:"depth"`
	Side       table.Text   `key:"side"`
	Steps      table.Text   `key:"steps"`
	Inside     table.Text   `key:"inside"`
	Yard       table.Text   `key:"yard"`
	DepthSteps table.Text   `key:"depth_steps"`
	Behind     table.Text   `key:"behind"`
	Line       table.Text   `key:"line"`
	X          table.Text   `key:"x"`
	Y          table.Text   `key:"y"`
	Unit       table.Text   `key:"unit"`
	Movement   MovementKey  `key:"movement"`
	Counts     table.Text   `key:"counts"`
	Hold       table.Text   `key:"hold"`
	HoldAfter  table.Flag   `key:"hold_after"`
	Sets       *SetsColumns `key:"sets"`
}

// SetsColumns says the same of a sheet of sets: [drill.columns.sets].
type SetsColumns struct {
	table.Where
	Sheet     table.Text  `key:"sheet"`
	Header    table.Int   `key:"header"`
	Last      table.Int   `key:"last"`
	Set       table.Text  `key:"set"`
	Movement  MovementKey `key:"movement"`
	Counts    table.Text  `key:"counts"`
	Hold      table.Text  `key:"hold"`
	HoldAfter table.Flag  `key:"hold_after"`
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

// forEach is what stands for the label of a set in a name of a column or sheet.
const forEach = "{set}"

// Keys of a place, in the order of a row that layouts make.
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

var placeNames = [placeKeys]string{"dot", "lateral", "depth", "side", "steps", "inside", "yard", "depth_steps", "behind", "line", "x", "y"}

// places are the columns that tell where a player stands: those that are named, or our own where none is.
func (c *Columns) places() [placeKeys]table.Text {
	list := [placeKeys]table.Text{c.Dot, c.Lateral, c.Depth, c.Side, c.Steps, c.Inside, c.Yard, c.DepthSteps, c.Behind, c.Line, c.X, c.Y}
	if !slices.ContainsFunc(list[:], func(t table.Text) bool { return t.Set }) {
		for _, key := range []int{lateralKey, depthKey, xKey, yKey} {
			list[key] = table.Text{V: placeNames[key]}
		}
	}
	return list
}

// Layout is how a sheet of dots is laid out.
type Layout int

// The layouts.
const (
	Rows    Layout = iota // one row per player and set
	PerSet                // one row per player, a column or several for each set
	PerPage               // one sheet for each set, one row per player
)

// Layout is the one that the names tell of.
func (c *Columns) Layout() Layout {
	for _, t := range c.places() {
		if strings.Contains(t.V, forEach) {
			return PerSet
		}
	}
	if strings.Contains(c.Sheet.V, forEach) {
		return PerPage
	}
	return Rows
}

// check finds names that do not go together.
func (c *Columns) check(p *source.Problems) bool {
	before := p.Errors()
	wrong := func(t table.Text, what, do string) { p.Add(badColumns(c.placeOf(t), what, do)) }
	list := c.places()
	either := func(a int, others ...int) {
		for _, b := range others {
			if list[a].Set && list[b].Set {
				wrong(list[b], fmt.Sprintf("%s and %s tell the same of a dot", placeNames[a], placeNames[b]), "keep the one that the sheet has filled in")
			}
		}
	}
	either(dotKey, lateralKey, depthKey, sideKey, stepsKey, insideKey, yardKey, depthStepsKey, behindKey, lineKey)
	either(lateralKey, sideKey, stepsKey, insideKey, yardKey)
	either(depthKey, depthStepsKey, behindKey, lineKey)
	across, along := c.across(list), c.along(list)
	switch {
	case list[dotKey].Set:
	case list[yardKey].V == "" && (list[sideKey].Set || list[stepsKey].Set || list[insideKey].Set):
		wrong(first(list[sideKey], list[stepsKey], list[insideKey]), "the column of the yard line is missing", `name it: yard = "..."`)
	case list[lineKey].V == "" && (list[depthStepsKey].Set || list[behindKey].Set):
		wrong(first(list[depthStepsKey], list[behindKey]), "the column of the hash or sideline is missing", `name it: line = "..."`)
	case across != along:
		wrong(first(list[:]...), "the columns tell only one half of a dot", "name those of both: across (lateral; or side, steps, inside, yard) and along (depth; or depth_steps, behind, line)")
	case list[xKey].Set != list[yKey].Set:
		wrong(first(list[xKey], list[yKey]), "x and y go together", "name both columns")
	}
	per := 0
	for key, t := range list {
		switch n := strings.Count(t.V, forEach); {
		case n > 1:
			wrong(t, "{set} stands twice", "keep one")
		case n == 1:
			per |= 1 << key
		}
	}
	for key, t := range list {
		if per != 0 && t.Set && per&(1<<key) == 0 {
			wrong(t, fmt.Sprintf("other columns stand for one set each, and %s does not", placeNames[key]), "write {set} where the set's label stands in its name")
		}
	}
	switch {
	case strings.Contains(c.Player.V, forEach) || strings.Contains(c.Set.V, forEach):
		wrong(first(c.Set, c.Player), "{set} does not belong here", "write it into the name of the columns of the dots, or of the sheet")
	case per != 0 && c.Set.Set:
		wrong(c.Set, "a column of sets, and {set} in the columns of the dots", "keep what the sheet has: a row per player and set, or a column per set")
	case strings.Contains(c.Sheet.V, forEach) && (per != 0 || c.Set.Set):
		wrong(c.Sheet, "{set} in the sheet, and sets within it", "keep one: a sheet per set, a column per set or a column of sets")
	case strings.Count(c.Sheet.V, forEach) > 1:
		wrong(c.Sheet, "{set} stands twice", "keep one")
	}
	if c.Unit.Set {
		if _, err := unit.Length.Read("1 " + c.Unit.V); err != nil {
			p.Add(unknownUnit(c.Unit))
		}
	}
	return p.Errors() == before
}

func (c *Columns) across(list [placeKeys]table.Text) bool {
	return list[lateralKey].V != "" || list[yardKey].V != ""
}

func (c *Columns) along(list [placeKeys]table.Text) bool {
	return list[depthKey].V != "" || list[lineKey].V != ""
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
	var b strings.Builder
	b.WriteString("[drill.columns]\n")
	text := func(key string, t table.Text) {
		if t.Set {
			fmt.Fprintf(&b, "%-11s = %s\n", key, table.Quote(t.V))
		}
	}
	number := func(key string, n table.Int) {
		if n.Set {
			fmt.Fprintf(&b, "%-11s = %d\n", key, n.V)
		}
	}
	flag := func(key string, f table.Flag) {
		if f.Set {
			fmt.Fprintf(&b, "%-11s = %t\n", key, f.V)
		}
	}
	text("sheet", c.Sheet)
	number("header", c.Header)
	number("last", c.Last)
	text("set", c.Set)
	text("player", c.Player)
	for key, t := range c.places() {
		text(placeNames[key], t)
	}
	text("unit", c.Unit)
	text("movement", c.Movement.Text)
	number("movement", c.Movement.All)
	text("counts", c.Counts)
	text("hold", c.Hold)
	flag("hold_after", c.HoldAfter)
	if s := c.Sets; s != nil {
		b.WriteString("\n[drill.columns.sets]\n")
		text("sheet", s.Sheet)
		number("header", s.Header)
		number("last", s.Last)
		text("set", s.Set)
		text("movement", s.Movement.Text)
		number("movement", s.Movement.All)
		text("counts", s.Counts)
		text("hold", s.Hold)
		flag("hold_after", s.HoldAfter)
	}
	return b.String()
}
