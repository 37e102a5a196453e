package virtual

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"testing"
	"time"

	"backfield/osc"
	"backfield/osc/wire"
)

// sendOver sends n packets over a link, one every gap, and returns their numbers in order of arrival, and the times.
func sendOver(f Faults, seed uint64, n int, gap time.Duration) (r *FaultyLink, numbers []int, at []time.Duration) {
	r = NewFaultyLink(f, seed)
	take := func(until time.Time) {
		for {
			next, ok := r.Next()
			if !ok || next.After(until) {
				return
			}
			for _, p := range r.Deliver(next) {
				i, _ := strconv.Atoi(string(p))
				numbers, at = append(numbers, i), append(at, next.Sub(start))
			}
		}
	}
	buffer := make([]byte, 0, 16)
	for i := range n {
		now := start.Add(time.Duration(i) * gap)
		take(now)
		buffer = strconv.AppendInt(buffer[:0], int64(i), 10) // one buffer for all, since the link keeps its own copy
		r.Send(now, buffer)
	}
	take(start.Add(time.Hour))
	return r, numbers, at
}

func TestLinkWithoutFaults(t *testing.T) {
	r, numbers, at := sendOver(Faults{Delay: 20 * time.Millisecond}, 1, 1000, time.Millisecond)
	for i := range 1000 {
		if numbers[i] != i || at[i] != time.Duration(i+20)*time.Millisecond {
			t.Fatalf("packet %d is number %d and arrives at %v", i, numbers[i], at[i])
		}
	}
	if len(numbers) != 1000 || r.Lost+r.Duplicated+r.Reordered > 0 {
		t.Errorf("%d packets, %+v", len(numbers), r)
	}
	if _, ok := r.Next(); ok || r.Deliver(start.Add(time.Hour)) != nil {
		t.Error("an empty link delivers something")
	}
}

func TestJitterKeepsTheOrder(t *testing.T) {
	for _, gap := range []time.Duration{time.Millisecond, 40 * time.Millisecond} {
		_, numbers, at := sendOver(Faults{Delay: 5 * time.Millisecond, Jitter: 30 * time.Millisecond}, 2, 2000, gap)
		if len(numbers) != 2000 || !slices.IsSorted(numbers) || !slices.IsSorted(at) {
			t.Error("jitter loses or reorders")
		}
		least, most := time.Hour, time.Duration(0)
		for i, d := range at {
			least, most = min(least, d-time.Duration(i)*gap), max(most, d-time.Duration(i)*gap)
		}
		if least < 5*time.Millisecond || most > 35*time.Millisecond || most < 34*time.Millisecond ||
			gap > 30*time.Millisecond && least > 6*time.Millisecond {
			t.Errorf("packets take %v to %v", least, most)
		}
	}
}

// The shares of faults are right, within four standard deviations of a binomial count.
func TestShareOfFaults(t *testing.T) {
	const n = 20_000
	near := func(what string, got int, share float64) {
		t.Helper()
		if sigma := math.Sqrt(n * share * (1 - share)); math.Abs(float64(got)-n*share) > 4*sigma {
			t.Errorf("%s: %d of %d, for a share of %v", what, got, n, share)
		}
	}
	for _, share := range []float64{0, 0.01, 0.3, 0.9, 1} {
		r, numbers, _ := sendOver(Faults{Drop: share}, 3, n, time.Millisecond)
		if near("lost", r.Lost, share); len(numbers) != n-r.Lost || !slices.IsSorted(numbers) {
			t.Errorf("%d arrive, %d are lost", len(numbers), r.Lost)
		}
		r, numbers, _ = sendOver(Faults{Duplicate: share}, 4, n, time.Millisecond)
		if near("doubled", r.Duplicated, share); len(numbers) != n+r.Duplicated {
			t.Errorf("%d arrive, %d are duplicated", len(numbers), r.Duplicated)
		}
		seen := map[int]int{}
		for _, i := range numbers {
			if seen[i]++; seen[i] > 2 {
				t.Fatalf("packet %d arrives more than twice", i)
			}
		}
		r, numbers, _ = sendOver(Faults{Reorder: share}, 5, n, time.Millisecond)
		near("overtaken", r.Reordered, share)
		behind := 0
		for i := 1; i < len(numbers); i++ {
			if numbers[i] < numbers[i-1] {
				behind++
			}
		}
		if len(numbers) != n || share > 0 && behind < r.Reordered/20 || share == 0 && behind > 0 {
			t.Errorf("of %d packets %d are reordered, and %d arrive after a later one", len(numbers), r.Reordered,
				behind)
		}
	}
}

func TestLinkIsDeterministic(t *testing.T) {
	f := Faults{0.3, 0.2, 0.2, 20 * time.Millisecond, 10 * time.Millisecond}
	_, a, aAt := sendOver(f, 7, 5000, time.Millisecond)
	_, b, bAt := sendOver(f, 7, 5000, time.Millisecond)
	if !slices.Equal(a, b) || !slices.Equal(aAt, bAt) {
		t.Error("the same seed has other faults")
	}
	if _, c, _ := sendOver(f, 8, 5000, time.Millisecond); slices.Equal(a, c) {
		t.Error("another seed has the same faults")
	}
	// Which packets are lost does not depend on the other faults.
	_, only, _ := sendOver(Faults{Drop: 0.3}, 7, 5000, time.Millisecond)
	slices.Sort(a)
	if !slices.Equal(slices.Compact(a), only) {
		t.Error("with other faults, other packets are lost")
	}
}

func TestLinkIsBounded(t *testing.T) {
	r := NewFaultyLink(Faults{Delay: time.Second, Duplicate: 1}, 1)
	for range 2 * maxInFlight {
		r.Send(start, []byte("x"))
	}
	if len(r.queue) > maxInFlight+1 || r.Lost < maxInFlight {
		t.Errorf("%d are in flight, %d lost", len(r.queue), r.Lost)
	}
}

// Over a link that loses a third both ways, repeating what was not echoed gets every value to the mixer.
func TestRepeatsGetThrough(t *testing.T) {
	d := read(t, talking)
	x := New(d)
	f := Faults{Drop: 0.33, Duplicate: 0.1, Reorder: 0.2, Delay: 15 * time.Millisecond, Jitter: 5 * time.Millisecond}
	out, back := NewFaultyLink(f, 21), NewFaultyLink(f, 22)
	sentValues := map[string]osc.Message{}
	var order []string
	for c := 1; c <= d.Channels; c++ {
		for _, m := range []osc.Message{m(fmt.Sprintf("/in/%d/mute", c), osc.Int32(0)),
			m(fmt.Sprintf("/in/%d/level", c), osc.Float32(float32(-c)))} {
			sentValues[m.Address] = m
			order = append(order, m.Address)
		}
	}
	open := map[string]bool{}
	for _, a := range order {
		open[a] = true
	}
	sent := 0
	now := start
	for round := 0; len(open) > 0; round++ {
		if round > 100 {
			t.Fatalf("after %d rounds %v are not confirmed", round, open)
		}
		for _, a := range order {
			if open[a] {
				sent++
				out.Send(now, wire.Encode(sentValues[a]))
			}
		}
		for range 100 {
			now = now.Add(time.Millisecond)
			for _, p := range out.Deliver(now) {
				for _, r := range x.Handle(now, "run", p) {
					back.Send(now, r.Packet)
				}
			}
			for _, p := range back.Deliver(now) {
				list, err := wire.Decode(p)
				if err != nil {
					t.Fatal(err)
				}
				if want, ok := sentValues[list[0].Address]; ok && list[0].Same(want, d.Echo.Tolerance) {
					delete(open, list[0].Address)
				}
			}
		}
	}
	if sent <= len(order) || out.Lost == 0 || back.Lost == 0 {
		t.Errorf("%d sent for %d values: nothing was lost", sent, len(order))
	}
	var got []string
	for _, a := range x.State().Addresses {
		got = append(got, a.Address)
		if a.Value != sentValues[a.Address].Args[0] {
			t.Errorf("%s is held as %v, sent was %v", a.Address, a.Value, sentValues[a.Address])
		}
	}
	slices.Sort(order)
	if !slices.Equal(got, order) {
		t.Errorf("the mixer holds %v", got)
	}
}
