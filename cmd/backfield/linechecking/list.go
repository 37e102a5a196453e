package linechecking

import (
	"cmp"
	"slices"

	"backfield/cmd/backfield/show"
	"backfield/osc/linecheck"
)

// CheckList is the packs of a show on paper: what the latest line check found, or boxes for one by hand.
type CheckList struct {
	When string // of the latest check; empty without one
	Rows []CheckLine
}

// CheckLine is one pack: first those that failed and are not fixed, then those that nobody heard, then all others. Within
// each they are in the order in which people stand.
type CheckLine struct {
	linecheck.CheckedPack
	Found   string // what was found; empty for a pack that nobody heard
	Fix     string // the row of tonight.toml that answers it
	Fresh   string // when its batteries were last changed
	Failed  bool   // it failed, and nothing answers that
	Unheard bool   // it is still to be heard
}

// List is what the record says about the packs of a show.
func List(s *show.Loaded, r linecheck.Record) (list CheckList) {
	const at = "Jan 2, 15:04" // in the time zone of the laptop that wrote the record
	if r.Latest() != nil {
		list.When = r.At().Format(at)
	}
	judged, batteries := r.Judged(), r.Batteries()
	for _, p := range Packs(s, ByPlace) {
		line := CheckLine{CheckedPack: p, Unheard: true}
		i := slices.IndexFunc(judged, func(e linecheck.CheckEntry) bool { return e.Pack == p.ID() })
		if i >= 0 && judged[i].Result != linecheck.Skipped {
			e := judged[i]
			line.Found, line.Unheard = string(e.Result), false
			if e.Heard != "" {
				line.Found += ": " + e.Heard + " was heard"
			}
			line.Failed = e.Result.Failed() && !linecheck.Covered(r.Fixes(), e)
		}
		for _, f := range r.Fixes() {
			if slices.Contains(f.Packs, p.ID()) {
				line.Fix = f.String()
			}
		}
		if t, ok := batteries[p.ID()]; ok {
			line.Fresh = t.Format(at)
		}
		list.Rows = append(list.Rows, line)
	}
	slices.SortStableFunc(list.Rows, func(a, b CheckLine) int { return cmp.Compare(a.rank(), b.rank()) })
	return list
}

func (l CheckLine) rank() int {
	switch {
	case l.Failed:
		return 0
	case l.Unheard:
		return 1
	}
	return 2
}
