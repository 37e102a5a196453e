package fifo

import "testing"

// Rows come out in the order in which they went in, while others go in, and the memory stays as small as what waits.
func TestRows(t *testing.T) {
	var q RowQueue
	in, out := 0, 0
	for range 1000 {
		for in < out+4 {
			q.Push(in)
			in++
		}
		for range 3 { // one still waits, so the queue never starts over
			if head := q.Head(); head != out || q.Pop() != out || q.Empty() {
				t.Fatalf("%d is next, want %d, and one more", head, out)
			}
			out++
		}
	}
	if cap(q.list) > 8 {
		t.Errorf("4 rows at most waited, and there is room for %d", cap(q.list))
	}
	q.Push(7)
	if q.Clear(); !q.Empty() {
		t.Error("cleared, and something waits")
	}
}
