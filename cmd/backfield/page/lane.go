package page

import (
	"cmp"
	"encoding/json"
	"net/http"
	"slices"
)

// serveLane answers with how many seats of each part of the stands are in time over the whole show that the page draws. It
// takes up to seconds, so the page asks for it after it has drawn all else.
func (t *Site) serveLane(w http.ResponseWriter, r *http.Request) {
	s, l, ok := t.drawnShow(w)
	if !ok {
		return
	}
	lane, ok := t.lanes.Get(s.Result, l.v.Counts, r.FormValue("player"), func() bool {
		t.mu.Lock()
		defer t.mu.Unlock()
		return t.good != s
	})
	if !ok {
		http.Error(w, "a newer version of the show is there", http.StatusConflict)
		return
	}
	w.Header().Set("Content-Type", "application/json")
	json.NewEncoder(w).Encode(lane)
}

// handovers lists the packs that go from one player to another, in order of time.
func (l *viewBuilder) handovers() {
	for _, line := range l.s.Lines.List {
		for i := 1; i < len(line.Wears); i++ {
			from, to := &line.Wears[i-1], &line.Wears[i]
			h := HandoverView{l.count(to.From), line.Channel, to.Pack, from.Player, to.Player}
			l.v.Handovers = append(l.v.Handovers, h)
		}
	}
	slices.SortStableFunc(l.v.Handovers, func(a, b HandoverView) int { return cmp.Compare(a.At, b.At) })
}
