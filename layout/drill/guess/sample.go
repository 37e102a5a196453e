package guess

import (
	"math"
	"slices"

	"backfield/layout/drill"
)

// Shown is one dot, by the indices of its set and player.
type Shown struct{ Set, Player int }

// Sample picks up to n dots of a drill, spread over its sets and players.
func Sample(d *drill.Drill, n int) []Shown {
	const golden = 0.6180339887 // turns of it come nowhere near one another
	var list []Shown
	for i := range d.Sets {
		for j, x := range d.Players {
			if x.Dots[i].Known && !x.Dots[i].Bad && len(list) <= n {
				list = append(list, Shown{i, j})
			}
		}
	}
	if len(list) <= n {
		return list
	}
	list = nil
	for k := range n {
		set := 0
		if n > 1 {
			set = k * (len(d.Sets) - 1) / (n - 1)
		}
		_, turn := math.Modf(float64(k) * golden)
		for i := range d.Players {
			s := Shown{set, (int(turn*float64(len(d.Players))) + i) % len(d.Players)}
			if dot := d.Players[s.Player].Dots[s.Set]; dot.Known && !dot.Bad && !slices.Contains(list, s) {
				list = append(list, s)
				break
			}
		}
	}
	return list
}
