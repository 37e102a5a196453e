package sheet

import "testing"

// A show may have fewer packs than full handovers would need, if one of its own is quicker. The summary says why.
func TestFewest(t *testing.T) {
	x := Sharing{HandoverS: 30, Packs: make([][]PackNeed, 21), Meetings: make([]Meeting, 1)}
	for has, want := range map[int]string{
		21: "fewest packs that would do: 21, with 1 handover of 30 s",
		20: "with 30 s for each handover the show would need 21 packs; it does with 20, since a handover of its own is quicker",
	} {
		if got := x.Fewest(has); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}
