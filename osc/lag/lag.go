// Package lag measures how late a mixer's replies are. A reply that is late says what the mixer held some time ago, so it
// must not be taken for what someone did there. It does no I/O and reads no clock.
package lag

import "time"

const (
	// Most is the longest lag. A reply later than that counts as lost.
	Most   = 5 * time.Second
	lasts  = time.Minute            // how long the longest lag counts
	every  = time.Second            // from a reply to the next question
	slow   = time.Second            // replies that take as long on average are slow
	prompt = 700 * time.Millisecond // replies that take less are no longer slow
	weight = 4                      // the last reply's part in the average is 1/weight
	enough = 2                      // replies for an average
	lost   = 4                      // a message was lost where a reply seems to take so many times the average
)

// ReplyTimer measures one mixer. It times the replies of one row at a time, which must not be asked for or sent otherwise: of two
// questions under way, nobody knows which one a reply is about. The zero value knows nothing.
type ReplyTimer struct {
	chosen  bool
	row     int
	timed   bool      // a question is under way, and no other
	askedAt time.Time // when that was asked
	dueAt   time.Time // when the next one is asked
	replies int       // timed so far

	longest   time.Duration
	longestAt time.Time
	average   time.Duration
	slow      bool
}

// Asked notes that a row is asked for, or sent once more. If no row is chosen, it is this one: once it has rested so long
// that no reply is under way, it is timed. If it was chosen, it is no longer, except where the question is the one that
// is due.
func (m *ReplyTimer) Asked(row int, now time.Time) {
	if !m.chosen {
		m.chosen, m.timed, m.row, m.dueAt = true, false, row, now.Add(Most)
		return
	}
	if due, ok := m.Due(now); ok && due == row {
		m.timed, m.askedAt, m.dueAt = true, now, now.Add(Most)
		return
	}
	m.Drop(row)
}

// Due is the row that is to be asked for now; ok is false for none.
func (m *ReplyTimer) Due(now time.Time) (row int, ok bool) {
	return m.row, m.chosen && !now.Before(m.dueAt)
}

// Has reports whether a row is the chosen one, which is asked for when it is due and at no other time.
func (m *ReplyTimer) Has(row int) bool { return m.chosen && m.row == row }

// Drop is for a row that is not good for this any more, such as one that changes.
func (m *ReplyTimer) Drop(row int) {
	if m.Has(row) {
		m.chosen, m.timed = false, false
	}
}

// Reply notes what the mixer says of a row.
func (m *ReplyTimer) Reply(row int, now time.Time) {
	if !m.Has(row) || !m.timed || now.Sub(m.askedAt) > Most {
		return
	}
	took := now.Sub(m.askedAt)
	m.timed, m.dueAt = false, now.Add(every)
	m.note(took, now)
	if m.replies++; m.replies == 1 {
		m.average = took
	}
	m.average += (took - m.average) / weight
	switch {
	case m.average < prompt:
		m.slow = false
	case m.average >= slow && m.replies >= enough:
		m.slow = true
	}
}

// First notes how long the first reply with a new value took. Some message may have been lost before, so it counts only
// until a reply has been timed.
func (m *ReplyTimer) First(took time.Duration, now time.Time) {
	if m.replies == 0 {
		m.note(took, now)
	}
}

// AtLeast notes that some reply was as late, at least, unless a message was lost: where replies have been timed, one that
// is later than a few times their average did not take so long.
func (m *ReplyTimer) AtLeast(took time.Duration, now time.Time) {
	if m.replies == 0 || took <= lost*m.average {
		m.note(took, now)
	}
}

func (m *ReplyTimer) note(took time.Duration, now time.Time) {
	if took > Most {
		return
	}
	if took >= m.longest || now.Sub(m.longestAt) > lasts {
		m.longest, m.longestAt = took, now
	}
}

// Longest is the longest lag of the last minute.
func (m *ReplyTimer) Longest() time.Duration { return m.longest }

// Slow is how long replies take on average, if that is long; else 0.
func (m *ReplyTimer) Slow() time.Duration {
	if m.slow {
		return m.average
	}
	return 0
}
