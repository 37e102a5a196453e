package blocks_test

import (
	"fmt"
	"math"
	"testing"

	"backfield/cmd/backfield/show"
	"backfield/cue"
	"backfield/cue/blocks"
	"backfield/cue/clock"
	"backfield/layout/source"
)

func load(t *testing.T, path string) *show.Loaded {
	t.Helper()
	var p source.Problems
	s, err := show.Load(show.Disk{}, path, show.LoadOptions{}, &p)
	if err != nil || s.Show == nil {
		t.Fatal(err, p.All())
	}
	return s
}

// counts is the length of a show.
func counts(s *show.Loaded) (sum float64) {
	for _, m := range s.Clock.Movements {
		sum += m.Counts
	}
	return sum
}

func never() bool { return false }

// TestBlocks divides the stands: every seat is in one block, and the blocks go from side 1 to side 2.
func TestBlocks(t *testing.T) {
	s := load(t, "../../examples/harbor/show.toml")
	seats := s.Rig.Seats()
	list := blocks.Of(s.Rig)
	if len(list) != 8 {
		t.Fatalf("%d blocks", len(list))
	}
	in := make([]int, len(seats))
	last := math.Inf(-1)
	for _, b := range list {
		least, most := math.Inf(1), math.Inf(-1)
		for i, n := range b.Seats {
			in[n]++
			least, most = min(least, seats[n].At.X), max(most, seats[n].At.X)
			if b.Weights[i] != seats[n].Weight {
				t.Errorf("seat %d has weight %g, not %g", n, b.Weights[i], seats[n].Weight)
			}
		}
		if least < last || most-least > 95.0/8 { // the widest row is 95 m
			t.Errorf("%s goes from %.1f to %.1f, after %.1f", b.Name, least, most, last)
		}
		last = most
	}
	for n, times := range in {
		if times != 1 {
			t.Errorf("seat %d is in %d blocks", n, times)
		}
	}
	// An eighth of 95 m from the 50: the middle seat of the outermost eighth is at 41.6 m, 45 yards, opposite the 5.
	for i, want := range map[int]string{0: "home side lower, side 1, at the 5", 7: "home side lower, side 2, at the 5", 4: "home side lower, side 2, at the 45"} {
		if list[i].Name != want {
			t.Errorf("block %d is %q, not %q", i, list[i].Name, want)
		}
	}
}

// TestLaneOfOne compares the lane of one player with what the seats hear of that mic, seat by seat, as /seats of the page
// does.
func TestLaneOfOne(t *testing.T) {
	s := load(t, "../../examples/harbor/show.toml")
	lane, ok := blocks.Compute(s.Result, counts(s), "Tpt 3", never)
	if !ok {
		t.Fatal("it stopped")
	}
	compared := 0
	for n := range lane.Shares[0] {
		at, movement := float64(n)*lane.StepCounts, 1
		for at >= s.Clock.Movements[movement-1].Counts {
			at -= s.Clock.Movements[movement-1].Counts
			movement++
		}
		moment := clock.Moment{Movement: movement, Elapsed: at}
		id := ""
		for i := range s.Cues {
			if !moment.Before(s.Cues[i].At) {
				id = s.Cues[i].Cue.ID.V
			}
		}
		open := lane.Shares[0][n] != blocks.None
		d, _, closed, err := s.Explain(id, "Tpt 3")
		if id == "" || err != nil || closed {
			if open {
				t.Errorf("at %d:%g the mic is closed in cue %q, and the lane has %d %%", movement, at, id, lane.Shares[0][n])
			}
			continue
		}
		if !open || n%7 > 0 { // some of them
			continue
		}
		place, _ := s.Where("Tpt 3", moment)
		place.Z = d.Place.Start.Z
		heard, ok := s.HeardAt(d, moment, place)
		if !ok {
			t.Fatalf("at %d:%g nothing is heard", movement, at)
		}
		for b, block := range lane.Parts {
			inTime := 0
			for _, seat := range block.Seats {
				if gap := heard.GapsMS[seat]; gap > -1e-9 && gap < s.Score.WindowMS+1e-9 {
					inTime++
				}
			}
			want := 100 * float64(inTime) / float64(len(block.Seats))
			if math.Abs(float64(lane.Shares[b][n])-want) > 0.501 {
				t.Errorf("at %d:%g %s has %d %%, not %.2f %%", movement, at, block.Name, lane.Shares[b][n], want)
			}
		}
		compared++
	}
	if compared < 5 {
		t.Errorf("%d moments compared: the demo no longer tests this", compared)
	}
}

// TestLaneOfAll is the mean of the lanes of all players who are open.
func TestLaneOfAll(t *testing.T) {
	s := load(t, "../../testdata/loud/ringing/show.toml")
	all, ok := blocks.Compute(s.Result, counts(s), "", never)
	if !ok || len(all.Parts) == 0 {
		t.Fatal("no stands")
	}
	players := map[string]bool{}
	for i := range s.Show.Cues {
		for _, ch := range s.Show.Cues[i].Channels {
			players[ch.Player] = players[ch.Player] || ch.Open && ch.Kind == cue.Worn
		}
	}
	sums, mics := map[string]float64{}, map[int]int{}
	for name, worn := range players {
		if !worn {
			continue
		}
		one, _ := blocks.Compute(s.Result, counts(s), name, never)
		for b := range one.Shares {
			for n, share := range one.Shares[b] {
				if share != blocks.None {
					sums[fmt.Sprint(b, n)] += float64(share)
					if b == 0 {
						mics[n]++
					}
				}
			}
		}
	}
	for b := range all.Shares {
		for n, share := range all.Shares[b] {
			switch {
			case share == blocks.None && mics[n] > 0 || share != blocks.None && mics[n] == 0:
				t.Errorf("at step %d %d mics are open, and the lane has %d", n, mics[n], share)
			case mics[n] > 0 && math.Abs(float64(share)-sums[fmt.Sprint(b, n)]/float64(mics[n])) > 1:
				t.Errorf("at step %d %s has %d %%, not %.1f", n, all.Parts[b].Name, share, sums[fmt.Sprint(b, n)]/float64(mics[n]))
			}
		}
	}
}

// TestStops gives up when it is asked to. Without stands there are no blocks.
func TestStops(t *testing.T) {
	s := load(t, "../../testdata/loud/ringing/show.toml")
	if _, ok := blocks.Compute(s.Result, counts(s), "", func() bool { return true }); ok {
		t.Error("it goes on")
	}
	s = load(t, "../../examples/tiny/show.toml")
	if lane, ok := blocks.Compute(s.Result, counts(s), "", never); !ok || len(lane.Parts)+len(lane.Shares) > 0 {
		t.Errorf("without stands: %+v", lane)
	}
}
