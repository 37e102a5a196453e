// Package setlist collects what the rows of a sheet of dots say about the sets: their order, and how long each is.
package setlist

import (
	"slices"

	"backfield/layout/source"
	"backfield/layout/table"
)

// Listing is what a sheet of dots says about the sets: in which order they come, and how long each is.
type Listing struct {
	Labels []table.Cell             // by first appearance
	seen   map[string]bool          // of labels
	cells  map[string][3]table.Cell // movement, counts and hold by label
	last   map[string]string        // the label of each player's last row
	before map[string][]string      // the labels that come right before each, for one player or another
}

// New is an empty listing.
func New() Listing {
	return Listing{seen: map[string]bool{}, cells: map[string][3]table.Cell{}, last: map[string]string{},
		before: map[string][]string{}}
}

// Of is what the sheet says about a set: the cells of SetKeys.
func (t *Listing) Of(label string) [3]table.Cell { return t.cells[label] }

// SetKeys are what a sheet of dots may say about a set.
var SetKeys = [3]string{"movement", "counts", "hold"}

// Note keeps what a sheet says about a set, and refuses two different entries.
func (t *Listing) Note(label table.Cell, i int, cell table.Cell, p *source.Problems) {
	is := t.cells[label.Text]
	if is[i].Text != "" && is[i].Text != cell.Text {
		p.Add(listedTwice(SetKeys[i], label.Text, is[i], cell))
		return
	}
	if is[i].Text == "" {
		is[i] = cell
		t.cells[label.Text] = is
	}
}

// List notes a set at its first appearance.
func (t *Listing) List(label table.Cell) {
	if !t.seen[label.Text] {
		t.seen[label.Text] = true
		t.Labels = append(t.Labels, label)
	}
}

// Meet notes that a player comes to a set next.
func (t *Listing) Meet(player string, label table.Cell) {
	t.List(label)
	if last, ok := t.last[player]; ok && last != label.Text && !slices.Contains(t.before[label.Text], last) {
		t.before[label.Text] = append(t.before[label.Text], last)
	}
	t.last[player] = label.Text
}

// Sort puts the labels into the one order in which every player meets them.
func (t *Listing) Sort(p *source.Problems) bool {
	var order []table.Cell
	left := slices.Clone(t.Labels)
	done := map[string]bool{}
	for len(left) > 0 {
		var next []int
		for i, label := range left {
			if !slices.ContainsFunc(t.before[label.Text], func(b string) bool { return !done[b] }) {
				next = append(next, i)
			}
		}
		switch {
		case len(next) == 0:
			p.Add(ordersDisagree(left[0]))
			return false
		case len(next) > 1:
			p.Add(orderUnknown(left[next[0]], left[next[1]]))
			return false
		}
		done[left[next[0]].Text] = true
		order = append(order, left[next[0]])
		left = slices.Delete(left, next[0], next[0]+1)
	}
	t.Labels = order
	return true
}
