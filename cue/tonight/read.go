// Package tonight lays one night over a show: who is ill and who takes over, which packs are dead, what is cut, and where
// everybody stands in the rain. The show's own files stay as they are.
package tonight

import (
	"backfield/layout/rig"
	"backfield/layout/source"
	"backfield/layout/table"
)

// NightKeys are the keys of tonight.toml.
type NightKeys struct {
	Absent     []table.Text               `key:"absent"`
	Substitute table.Map[substituteValue] `key:"substitute"`
	Cut        []table.Text               `key:"cut"`
	From       table.Text                 `key:"from"`
	Standing   table.Text                 `key:"standing"`
	Dead       []deadEntry                `key:"dead"`
	Swapped    []packPair                 `key:"swapped"`
	Air        table.Quantity             `key:"air"`
	Levels     rig.LevelsTable            `key:"levels"`
	Notes      noteLines                  `key:"notes"`
}

// NightPlan is one night, as its file says it.
type NightPlan struct {
	File        *source.File
	Absent      []table.Text // players, and sections with @
	Substitutes []Substitute
	Cuts        []table.Text
	From        table.Text
	Standing    table.Text // a set, or a sheet of places
	Dead        []DeadPack
	Swapped     []PackSwap
	Air         table.Quantity
	Notes       []table.Text

	Over   *table.Node  // what it lays over the rig; nil for nothing
	Places *source.File // the sheet that Standing names, as far as the caller could open it
}

// Substitute is a player who plays for another.
type Substitute struct {
	For, By table.Text
	Pack    table.Flag // whether they take the other's pack; unset: if they have none
	Dots    table.Text // "theirs": they walk the other's dots
}

// DeadPack is a pack that does not work, and the channel of a spare one.
type DeadPack struct {
	Pack  table.Text
	Spare table.Int
}

// PackSwap is two packs that hang on each other's players.
type PackSwap struct{ A, B table.Text }

// substituteValue is a player's name, or a table with more.
type substituteValue struct {
	name  table.Text
	table *substituteTable
}

type substituteTable struct {
	Player table.Text `key:"player,required"`
	Pack   table.Flag `key:"pack"`
	Dots   whoseDots  `key:"dots"`
}

type whoseDots struct{ table.Text }

const (
	theirs  = "theirs"
	theyOwn = "own"
)

// Words are whose dots a substitute can walk.
func (whoseDots) Words() []string { return []string{theyOwn, theirs} }

// DecodeNode reads a name or the table.
func (v *substituteValue) DecodeNode(n *table.Node, p *source.Problems) {
	if n.Kind == table.Table {
		v.table = &substituteTable{}
		table.Decode(n, v.table, p)
		return
	}
	v.name.DecodeNode(n, p)
}

// deadEntry is a pack, or packs that have a spare: "P05", { P07 = 21 }.
type deadEntry struct{ list []DeadPack }

// DecodeNode reads a name, or a table of names and channels.
func (d *deadEntry) DecodeNode(n *table.Node, p *source.Problems) {
	switch n.Kind {
	case table.String:
		var name table.Text
		name.DecodeNode(n, p)
		d.list = append(d.list, DeadPack{Pack: name})
	case table.Table:
		var spares table.Map[table.Int]
		spares.DecodeNode(n, p)
		for _, e := range spares.Entries {
			d.list = append(d.list, DeadPack{e.Name, e.Value})
		}
	default:
		table.WrongType(n, `a pack such as "P07", or { P07 = 21 } with the channel of a spare`, p)
	}
}

// packPair is two packs.
type packPair struct{ PackSwap }

// DecodeNode reads a list of two names.
func (x *packPair) DecodeNode(n *table.Node, p *source.Problems) {
	isText := func(x *table.Node) bool { return x.Kind == table.String }
	if n.Kind != table.Array || len(n.Items) != 2 || !isText(n.Items[0]) || !isText(n.Items[1]) {
		table.WrongType(n, `two packs such as ["P03", "P07"]`, p)
		return
	}
	x.A.DecodeNode(n.Items[0], p)
	x.B.DecodeNode(n.Items[1], p)
}

// noteLines is a text or a list of texts.
type noteLines struct{ list []table.Text }

// DecodeNode reads either.
func (l *noteLines) DecodeNode(n *table.Node, p *source.Problems) {
	items := []*table.Node{n}
	if n.Kind == table.Array {
		items = n.Items
	}
	for _, x := range items {
		if x.Kind != table.String {
			table.WrongType(x, "a note in quotes, or a list of notes", p)
			continue
		}
		l.list = append(l.list, table.Text{V: x.Text, Span: x.Span, Set: true})
	}
}

// Keys lists every key of tonight.toml, with a dot for nested ones.
func Keys() []string { return table.Keys(NightKeys{}) }

// Read reads tonight.toml. It is never nil, and as full as it could be made.
func Read(f *source.File, p *source.Problems) *NightPlan {
	t := &NightPlan{File: f}
	var keys NightKeys
	root := table.ReadTOML(f, p)
	// What is wrong in these is said where the rig is read.
	t.Over = root.Only("air", "levels")
	table.Decode(root.Without("air").Without("levels"), &keys, p)
	if n := root.Get("air"); n != nil {
		var later source.Problems
		t.Air.DecodeNode(n, &later)
	}
	t.Absent, t.Cuts, t.From, t.Standing = set(keys.Absent), set(keys.Cut), keys.From, keys.Standing
	t.Notes = keys.Notes.list
	for _, x := range keys.Dead {
		t.Dead = append(t.Dead, x.list...)
	}
	for _, e := range keys.Substitute.Entries {
		s := Substitute{For: e.Name, By: e.Value.name}
		if x := e.Value.table; x != nil {
			s.By, s.Pack, s.Dots = x.Player, x.Pack, x.Dots.Text
			if s.Dots.Set && s.Dots.V != theirs && s.Dots.V != theyOwn {
				p.Add(unknownDots(s.Dots))
			}
		}
		if s.By.Set { // else reported
			t.Substitutes = append(t.Substitutes, s)
		}
	}
	for _, x := range keys.Swapped {
		if x.A.Set && x.B.Set {
			t.Swapped = append(t.Swapped, x.PackSwap)
		}
	}
	return t
}

// set are the texts that could be read.
func set(list []table.Text) (good []table.Text) {
	for _, x := range list {
		if x.Set {
			good = append(good, x)
		}
	}
	return good
}
