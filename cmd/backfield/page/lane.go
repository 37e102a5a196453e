package page

import (
	"cmp"
	"encoding/json"
	"net/http"
	"slices"

	"backfield/cmd/backfield/show"
	"backfield/cue/blocks"
)

// StandsLane is how many seats of each part of the stands are in time over the whole show.
type StandsLane struct {
	Step   float64  `json:"step"` // from one share to the next, in counts
	Blocks []string `json:"blocks"`
	Shares [][]int  `json:"shares"` // in percent, by block; -1 where no worn mic is open
}

// standsLane computes the lane of a show, for all worn mics or for one player's. It is nil if the page draws another show
// by then.
func (t *Site) standsLane(s *show.Loaded, counts float64, player string) *StandsLane {
	lane, ok := blocks.Compute(s.Result, counts, player, func() bool {
		t.mu.Lock()
		defer t.mu.Unlock()
		return t.good != s
	})
	if !ok {
		return nil
	}
	out := &StandsLane{Step: lane.StepCounts, Blocks: []string{}, Shares: lane.Shares}
	for _, b := range lane.Blocks {
		out.Blocks = append(out.Blocks, b.Name)
	}
	if out.Shares == nil {
		out.Shares = [][]int{}
	}
	return out
}

// serveLane answers with the lane of the version that the page draws. It takes up to seconds, so the page asks for it after
// it has drawn all else, and once for each version.
func (t *Site) serveLane(w http.ResponseWriter, r *http.Request) {
	s, l, ok := t.drawnShow(w)
	if !ok {
		return
	}
	t.laning.Lock() // pages that are open side by side wait for one lane, not each for its own
	defer t.laning.Unlock()
	player := r.FormValue("player")
	if t.lanes.of != s {
		t.lanes = lanesOf{s, map[string]*StandsLane{}}
	}
	lane := t.lanes.by[player]
	if lane == nil {
		if lane = t.standsLane(s, l.v.Counts, player); lane == nil {
			http.Error(w, "a newer version of the show is there", http.StatusConflict)
			return
		}
		if player == "" || slices.ContainsFunc(l.v.Players, func(p PlayerView) bool { return p.Name == player }) {
			t.lanes.by[player] = lane
		}
	}
	w.Header().Set("Content-Type", "application/json")
	json.NewEncoder(w).Encode(lane)
}

// lanesOf are the lanes of a show that were asked for, by player.
type lanesOf struct {
	of *show.Loaded
	by map[string]*StandsLane
}

// swaps lists the packs that go from one player to another, in order of time.
func (l *viewBuilder) swaps() {
	for _, line := range l.s.Lines.List {
		for i := 1; i < len(line.Wears); i++ {
			from, to := &line.Wears[i-1], &line.Wears[i]
			l.v.Swaps = append(l.v.Swaps, SwapView{
				At: l.count(to.From), Channel: line.Channel, Pack: to.Pack, From: from.Player, To: to.Player,
			})
		}
	}
	slices.SortStableFunc(l.v.Swaps, func(a, b SwapView) int { return cmp.Compare(a.At, b.At) })
}
