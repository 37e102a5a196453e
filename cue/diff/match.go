package diff

import (
	"cmp"
	"slices"

	"backfield/cue"
)

// cuePair is a cue's index in both shows, -1 if one does not have it.
type cuePair struct{ old, new int }

// match pairs cues by id, the nth with the nth of the same id. The result is in the new show's order, with each removed
// cue after the one that it followed.
func match(old, new []cue.Snapshot) []cuePair {
	type name struct {
		id  string
		nth int
	}
	count := map[string]int{}
	at := map[name]int{}
	for j := range new {
		at[name{new[j].ID, count[new[j].ID]}] = j
		count[new[j].ID]++
	}
	clear(count)
	partner := slices.Repeat([]int{-1}, len(new))
	removedAfter := map[int][]cuePair{} // by the new index of the last matched cue before, -1 for none
	last := -1
	for i := range old {
		j, ok := at[name{old[i].ID, count[old[i].ID]}]
		count[old[i].ID]++
		if ok {
			partner[j], last = i, j
		} else {
			removedAfter[last] = append(removedAfter[last], cuePair{i, -1})
		}
	}
	pairs := slices.Clone(removedAfter[-1])
	for j := range new {
		pairs = append(pairs, cuePair{partner[j], j})
		pairs = append(pairs, removedAfter[j]...)
	}
	return pairs
}

// outOfOrder marks the fewest matched cues that must have moved if the others kept their order: those outside a longest
// increasing sequence of old indices.
func outOfOrder(pairs []cuePair) []bool {
	moved := make([]bool, len(pairs))
	before := make([]int, len(pairs)) // the pair before this one in its sequence, -1 for none
	var ends []int                    // per length, the pair with the lowest old index that ends such a sequence
	for i, p := range pairs {
		if p.old < 0 || p.new < 0 {
			continue
		}
		n, _ := slices.BinarySearchFunc(ends, p.old, func(e, x int) int { return cmp.Compare(pairs[e].old, x) })
		before[i] = -1
		if n > 0 {
			before[i] = ends[n-1]
		}
		if n == len(ends) {
			ends = append(ends, i)
		} else {
			ends[n] = i
		}
		moved[i] = true
	}
	if len(ends) > 0 {
		for i := ends[len(ends)-1]; i >= 0; i = before[i] {
			moved[i] = false
		}
	}
	return moved
}
