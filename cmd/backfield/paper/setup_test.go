package paper

import (
	"strings"
	"testing"

	"backfield/cmd/backfield/show"
	"backfield/layout/source"
)

// The sheet for setup and strike has every stack, every fixed mic and every input of the demo, with marks that were
// worked by hand: 24 m are 26 yd 0 ft 9 in, and a field mic on the 30 is 20 yards from the 50.
func TestSetupSheet(t *testing.T) {
	if testing.Short() {
		t.Skip("it compiles the demo")
	}
	var problems source.Problems
	s, err := show.Load(show.Disk{}, "../../../examples/harbor/show.toml", show.LoadOptions{}, &problems)
	if err != nil || s.Show == nil {
		t.Fatal(err, problems.All())
	}
	p, err := Gather(s, nil)
	if err != nil {
		t.Fatal(err)
	}
	b := p.setup()
	if len(b.Stacks) != 5 || len(b.Fixed) != 9 || len(b.Inputs) != len(s.Show.Cues[0].Channels) || b.Short == "" {
		t.Fatalf("%d stacks, %d fixed mics, %d inputs, %q", len(b.Stacks), len(b.Fixed), len(b.Inputs), b.Short)
	}
	left := b.Stacks[0]
	if left.Name != "outer left" || left.Across().Yards() != "26 yd 0 ft 9 in" || left.Side() != "side 1" ||
		left.Along().Feet() != "6 ft 7 in" || left.Feed != "left 100 %" {
		t.Errorf("%+v", left)
	}
	if mic := b.Fixed[0]; mic.Across().Yards() != "20 yd 0 ft 0 in" || mic.Across().Steps() != "32.0" ||
		mic.Along().Steps() != "2.0" {
		t.Errorf("%+v", mic)
	}
	handed := 0
	for _, x := range b.Inputs {
		if x.Who == "" || x.How == "receiver" && x.Pack == "" {
			t.Errorf("%+v", x)
		}
		handed += strings.Count(x.Who, ", then ")
	}
	if handed != len(p.Handovers) {
		t.Errorf("%d handovers on the patch list, %d in the show", handed, len(p.Handovers))
	}
	pages, err := p.SetupAlone()
	if err != nil || len(pages) != 1 {
		t.Fatal(err, len(pages))
	}
	html := string(pages[0].HTML)
	for _, want := range []string{"26 yd 0 ft 9 in", "Lightning", "Lifting", ">9–10<", "inner right, outer right"} {
		if !strings.Contains(html, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
}
