package virtual

import (
	"bytes"
	"container/heap"
	"math/rand/v2"
	"time"
)

// Faults are what a faulty link does to packets. The shares are probabilities, 0 to 1.
type Faults struct {
	Drop      float64       // share of packets that are lost
	Duplicate float64       // share that arrives twice
	Reorder   float64       // share that arrives after packets that were sent later
	Delay     time.Duration // how long every packet takes
	Jitter    time.Duration // how much longer some take, at most
}

const (
	maxInFlight = 100_000               // packets in flight; more are lost, as in any full queue
	maxLag      = 20 * time.Millisecond // how late a reordered or duplicated packet is, at most
)

// FaultyLink is one direction of a bad network. It keeps packets in order, even with jitter, except those that it
// reorders or duplicates. The same packets at the same times with the same seed always have the same faults. What
// happens to a packet does not depend on which other faults are on. One goroutine at a time may use it.
type FaultyLink struct {
	Lost, Duplicated, Reordered int // packets so far

	faults Faults
	random *rand.Rand
	last   time.Time // when the last packet in order arrives
	queue  packetQueue
	sent   int
}

// NewFaultyLink returns a link with no packets in flight.
func NewFaultyLink(f Faults, seed uint64) *FaultyLink {
	return &FaultyLink{faults: f, random: rand.New(rand.NewPCG(seed, 0))}
}

// Send puts a packet on the link. The caller may reuse its memory.
func (r *FaultyLink) Send(now time.Time, packet []byte) {
	var u [6]float64
	for i := range u { // always all, so that one fault does not shift the others
		u[i] = r.random.Float64()
	}
	due := now.Add(r.faults.Delay + share(u[0], r.faults.Jitter))
	switch {
	case u[1] < r.faults.Drop || len(r.queue) >= maxInFlight:
		r.Lost++
		return
	case u[2] < r.faults.Reorder:
		r.Reordered++
		due = due.Add(time.Millisecond + share(u[3], maxLag))
	case due.Before(r.last):
		due = r.last
		fallthrough
	default:
		r.last = due
	}
	packet = bytes.Clone(packet)
	r.put(due, packet)
	if u[4] < r.faults.Duplicate {
		r.Duplicated++
		r.put(due.Add(share(u[5], maxLag)), packet)
	}
}

func share(u float64, d time.Duration) time.Duration { return time.Duration(u * float64(d)) }

func (r *FaultyLink) put(due time.Time, packet []byte) {
	r.sent++
	heap.Push(&r.queue, inFlight{due, r.sent, packet})
}

// Next returns when the next packet arrives; ok is false if none is in flight.
func (r *FaultyLink) Next() (at time.Time, ok bool) {
	if len(r.queue) == 0 {
		return time.Time{}, false
	}
	return r.queue[0].due, true
}

// Deliver returns the packets that have arrived by now, in the order in which they arrive.
func (r *FaultyLink) Deliver(now time.Time) [][]byte {
	var out [][]byte
	for len(r.queue) > 0 && !r.queue[0].due.After(now) {
		out = append(out, heap.Pop(&r.queue).(inFlight).packet)
	}
	return out
}

// inFlight is a packet on the link. number orders packets that arrive at the same time.
type inFlight struct {
	due    time.Time
	number int
	packet []byte
}

type packetQueue []inFlight

func (q packetQueue) Len() int { return len(q) }

func (q packetQueue) Less(i, j int) bool {
	if !q[i].due.Equal(q[j].due) {
		return q[i].due.Before(q[j].due)
	}
	return q[i].number < q[j].number
}

func (q packetQueue) Swap(i, j int) { q[i], q[j] = q[j], q[i] }

func (q *packetQueue) Push(x any) { *q = append(*q, x.(inFlight)) }

func (q *packetQueue) Pop() any {
	last := len(*q) - 1
	x := (*q)[last]
	(*q)[last] = inFlight{} // release the packet
	*q = (*q)[:last]
	return x
}
