// Package fifo is a queue of row numbers, first in, first out. A run queues rows thousands of times a second, so the memory
// is reused.
package fifo

// RowQueue is a queue of row numbers. The zero value is empty.
type RowQueue struct {
	list []int
	head int
}

// Empty reports whether nothing waits.
func (q *RowQueue) Empty() bool { return q.head == len(q.list) }

// Push has a row wait behind the others.
func (q *RowQueue) Push(i int) {
	if q.head > 0 && len(q.list) == cap(q.list) {
		q.list, q.head = q.list[:copy(q.list, q.list[q.head:])], 0
	}
	q.list = append(q.list, i)
}

// Head is the row that waits longest. The queue may not be empty.
func (q *RowQueue) Head() int { return q.list[q.head] }

// Pop takes the row that waits longest. The queue may not be empty.
func (q *RowQueue) Pop() (i int) {
	i = q.list[q.head]
	q.head++
	if q.Empty() {
		q.Clear()
	}
	return i
}

// Clear drops all rows.
func (q *RowQueue) Clear() { q.list, q.head = q.list[:0], 0 }
