package work

import (
	"slices"
	"testing"

	"backfield/layout"
	"backfield/layout/sound"
	"backfield/layout/stands"
)

// What a worker keeps is bounded in bytes: the most seats that a rig may have must not take the whole laptop. What is
// kept is heard again as it was, in any order and as often as one likes.
func TestKeptNeeds(t *testing.T) {
	system := &sound.System{SpeedMPS: 340, Stacks: []sound.Loudspeaker{
		{At: layout.Point{X: -20, Z: 3}, Left: 1, Trim: 1}, {At: layout.Point{X: 20, Z: 3}, Right: 1, Trim: 1},
	}}
	for _, count := range []int{10, 100_000} {
		seats := make([]stands.Seat, count)
		for i := range seats {
			seats[i] = stands.Seat{At: layout.Point{X: float64(i % 100), Y: -10 - float64(i/100%40), Z: 5}, Weight: 1}
		}
		l := stands.New(seats, layout.Point{Y: -30, Z: 15}, system, 10)
		x := &pathSolver{
			CompileSetup: &CompileSetup{System: system, Listeners: l},
			scratch:      &scratch{needs: l.SeatNeeds()}, q: &stretchInput{},
		}
		p := &StretchPath{}
		for k := range 100 {
			x.q.Samples = append(x.q.Samples, sampleInput{At: layout.Point{X: float64(k), Y: 20}})
			p.Want = append(p.Want, 0)
			x.hear(p, k)
			x.keep(k)
		}
		bytes := 0
		for i := range x.kept {
			bytes += 2 * 8 * count
			if x.kept[i].sample != i {
				t.Fatalf("kept %d is of sample %d", i, x.kept[i].sample)
			}
		}
		if bytes > 32<<20 || len(x.kept) == 0 || count == 10 && len(x.kept) != 100 {
			t.Errorf("%d seats: %d places kept, in %d bytes", count, len(x.kept), bytes)
		}
		for _, k := range []int{3, 0, 3, len(x.kept) - 1, 4, 4, 2, 99} {
			x.hear(p, k)
			fresh := l.SeatNeeds()
			if fresh.Hear(system.Gains(0), x.q.Samples[k].At); !slices.Equal(fresh.MS, x.needs.MS) {
				t.Fatalf("%d seats: the needs at sample %d are of another", count, k)
			}
			// as the next stretch on this worker would
			if x.needs.Hear(system.Gains(0), x.q.Samples[k].At); !slices.Equal(fresh.MS, x.needs.MS) {
				t.Fatalf("%d seats: heard again at sample %d, the needs are of another", count, k)
			}
		}
	}
}
