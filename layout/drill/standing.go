package drill

import (
	"backfield/layout/source"
	"backfield/layout/table"
)

// PlaceColumns are the columns of a sheet of standing places: one row for each player, with one place for the whole show.
var PlaceColumns = []table.Column{{Name: "player", Required: true}, {Name: "lateral"}, {Name: "depth"}, {Name: "x"},
	{Name: "y"}}

// ReadPlaces reads a sheet of standing places, in the words of the drill, by player.
func (d *Drill) ReadPlaces(f *source.File, p *source.Problems) (places map[string]Dot, whole bool) {
	places = map[string]Dot{}
	rows := table.ReadCSV(f, PlaceColumns, p)
	whole = table.Whole(f, p)
	if rows.Len() > 0 && !(rows.Has("lateral") && rows.Has("depth")) && !(rows.Has("x") && rows.Has("y")) {
		p.Add(noPlaceInSheet(f))
		return places, false
	}
	sheet := *d
	sheet.written, sheet.strangers = newDotText(f, d.Field), nil
	first := map[string]source.Span{}
	for row := range rows.All() {
		name := row.Cell("player")
		if name.Text == "" {
			p.Add(emptyCell(row.Span, "player"))
			continue
		}
		if at, twice := first[name.Text]; twice {
			p.Add(placeTwice(name, at))
			continue
		}
		first[name.Text] = name.Span
		if _, known := d.Player(name.Text); !known {
			p.Add(placeOfNobody(name, d.names()))
			continue
		}
		places[name.Text] = sheet.readDot(row, p)
	}
	sheet.reportStrangers(p)
	return places, whole
}

func (d *Drill) names() []string {
	var list []string
	for _, x := range d.Players {
		list = append(list, x.Name)
	}
	return list
}

// InSet is where everybody is in a set, by player. If a dot is missing, the player is on the last known one.
func (d *Drill) InSet(set int) map[string]Dot {
	places := map[string]Dot{}
	for i := range d.Players {
		x := &d.Players[i]
		if at := x.knownSet(set); at >= 0 {
			places[x.Name] = x.Dots[at]
		}
	}
	return places
}

// Standing is the drill without a step: everybody stands in their place for the whole show. Who has none stands where
// they begin.
func (d *Drill) Standing(places map[string]Dot) *Drill {
	c := d.With(d.Sets, d.Players)
	c.stands = true
	for i := range c.Players {
		x := &c.Players[i]
		dot, ok := places[x.Name]
		if at := x.knownSet(0); !ok && at >= 0 {
			dot, ok = x.Dots[at], true
		}
		for k := range x.Dots {
			if ok {
				x.Dots[k] = dot
			}
		}
	}
	return c
}

// knownSet is the set of the dot that a player is on in set i: the nearest known before it, or after it; -1 for none.
func (p *Marcher) knownSet(i int) int {
	for j := min(i, len(p.Dots)-1); j >= 0; j-- {
		if p.Dots[j].Known {
			return j
		}
	}
	for j := i + 1; j < len(p.Dots); j++ {
		if p.Dots[j].Known {
			return j
		}
	}
	return -1
}

// first is the drill up to its first set.
func (d *Drill) first() *Drill {
	c := d.With(d.Sets[:1], d.Players)
	c.stands = false
	for i := range c.Players {
		c.Players[i].Dots = c.Players[i].Dots[:1]
	}
	return c
}
