package help

import (
	"regexp"
	"slices"
	"strings"
	"testing"

	"backfield/layout/osctype"
)

// The pages of OSC and of the mixer's file have a row for every type of argument, which says what it is, and for no
// other.
func TestTypes(t *testing.T) {
	letter := regexp.MustCompile("`\"?([a-zA-Z])\"?`")
	for topic, heading := range map[string]string{"osc": "## What is supported", "mixer": "## Types"} {
		page, err := Page(topic)
		if err != nil {
			t.Fatal(err)
		}
		_, section, found := strings.Cut(page, heading+"\n")
		if !found {
			t.Fatalf("%s has no %s", topic, heading)
		}
		section, _, _ = strings.Cut(section, "\n## ")
		_, rows, _ := strings.Cut(section, "| --- |")
		rows, _, _ = strings.Cut(rows, "\n\n")
		var said []string
		for row := range strings.SplitSeq(rows, "\n") {
			cells := strings.Split(row, "|")
			if len(cells) < 4 || strings.Contains(row, "| never |") {
				continue
			}
			for _, m := range letter.FindAllStringSubmatch(cells[1], -1) {
				said = append(said, m[1])
				if x := osctype.Of(m[1][0]); x == nil || !strings.Contains(cells[2], x.Is) {
					t.Errorf("%s says of type %s:%s", topic, m[1], cells[2])
				}
			}
		}
		slices.Sort(said)
		known := osctype.Letters()
		slices.Sort(known)
		if !slices.Equal(said, known) {
			t.Errorf("%s has rows for the types %v; there are %v", topic, said, known)
		}
	}
}
