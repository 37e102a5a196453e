package guess

import (
	"cmp"
	"slices"
	"strings"

	"backfield/layout/field"
	"backfield/layout/source"
	"backfield/layout/table"
)

// Strange lists the words in a file's dots that are none of those that are read, as first written, the most frequent
// first.
func Strange(f *source.File, ground field.Field) []string {
	var p source.Problems // whoever reads the file reports them
	counts, written := map[string]int{}, map[string]string{}
	var order []string
	note := func(word string) {
		key := strings.ToLower(word)
		if counts[key]++; counts[key] == 1 {
			order, written[key] = append(order, key), word
		}
	}
	for _, s := range table.ReadSheets(f, &p) {
		for _, cells := range s.Rows.All() {
			for _, c := range cells {
				word := plain(c.Text)
				isDot, _ := tryDot(ground.InWords(c.Text), ground)
				switch isName := depthName.MatchString(word) || xName.MatchString(word); {
				case isName: // of a column
				case isDot:
					for _, word := range ground.Strange(c.Text) {
						note(word)
					}
				case (word == "left" || word == "right") && ground.InWords(c.Text) == c.Text:
					note(c.Text) // a side in a column of its own
				}
			}
		}
	}
	slices.SortStableFunc(order, func(a, b string) int { return cmp.Compare(counts[b], counts[a]) })
	for i, key := range order {
		order[i] = written[key]
	}
	return order
}
