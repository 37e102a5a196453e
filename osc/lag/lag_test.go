package lag

import (
	"testing"
	"time"
)

var start = time.Unix(1_700_000_000, 0)

const ms = time.Millisecond

// after has a reply take some time, once one is due. It returns when it came.
func (m *ReplyTimer) after(now time.Time, took time.Duration) time.Time {
	if !m.Has(3) {
		m.Asked(3, now)
	}
	for _, ok := m.Due(now); !ok; _, ok = m.Due(now) {
		now = now.Add(100 * ms)
	}
	m.Asked(3, now)
	now = now.Add(took)
	m.Reply(3, now)
	return now
}

// Two replies that take a second are slow, and so the mixer stays until they are prompt. One late reply among prompt ones is
// not slow, but counts as the longest for a minute.
func TestSlow(t *testing.T) {
	var m ReplyTimer
	now := m.after(start, 1200*ms)
	if m.Slow() != 0 || m.Longest() != 1200*ms {
		t.Errorf("after one reply: slow %v, longest %v", m.Slow(), m.Longest())
	}
	if now = m.after(now, 2000*ms); m.Slow() != 1400*ms { // 1200 + (2000-1200)/4
		t.Errorf("after two: slow %v", m.Slow())
	}
	if now = m.after(now, 100*ms); m.Slow() != 1075*ms {
		t.Errorf("after a prompt one: slow %v", m.Slow())
	}
	if now = m.after(now, 100*ms); m.Slow() == 0 { // 831.25 ms: not slow, not prompt
		t.Error("it is prompt at once")
	}
	if now = m.after(now, 100*ms); m.Slow() != 0 { // 648 ms
		t.Errorf("after prompt ones: slow %v", m.Slow())
	}
	for range 20 {
		now = m.after(now, 100*ms)
	}
	if now = m.after(now, 3000*ms); m.Slow() != 0 || m.Longest() != 3000*ms {
		t.Errorf("after one late reply: slow %v, longest %v", m.Slow(), m.Longest())
	}
	now = m.after(now.Add(55*time.Second), 100*ms)
	if m.Longest() != 3000*ms {
		t.Errorf("within a minute the longest is %v", m.Longest())
	}
	if m.after(now.Add(6*time.Second), 100*ms); m.Longest() != 100*ms {
		t.Errorf("after a minute the longest is %v", m.Longest())
	}
}

// Only a reply that can be about no other question counts: of the chosen row, after it has rested, and within 5 s.
func TestWhatCounts(t *testing.T) {
	var m ReplyTimer
	at := func(d time.Duration) time.Time { return start.Add(d) }
	m.Reply(0, at(0))
	m.Asked(3, at(0)) // chosen, and may have been asked for before
	m.Asked(4, at(100*ms))
	m.Reply(3, at(200*ms))
	m.Reply(4, at(300*ms))
	if _, due := m.Due(at(Most - ms)); due || !m.Has(3) || m.Has(4) || m.Longest() != 0 {
		t.Errorf("before it has rested: due %v, longest %v", due, m.Longest())
	}
	m.First(400*ms, at(time.Second))
	m.AtLeast(Most+ms, at(time.Second))
	if m.Longest() != 400*ms {
		t.Errorf("before a reply is timed, the first counts: longest %v", m.Longest())
	}
	if row, due := m.Due(at(Most)); !due || row != 3 {
		t.Errorf("row %d is due: %v", row, due)
	}
	m.Asked(3, at(Most))
	m.Asked(4, at(Most+100*ms))
	m.Reply(3, at(2*Most+ms))
	if m.Longest() != 400*ms {
		t.Errorf("a reply after 5 s counts: %v", m.Longest())
	}
	m.Asked(3, at(2*Most+2*ms))
	m.Reply(3, at(2*Most+902*ms))
	m.First(4*time.Second, at(11*time.Second))
	if m.Longest() != 900*ms {
		t.Errorf("longest %v", m.Longest())
	}
	m.Asked(3, at(11*time.Second)) // not due: of this one and the next, nobody knows which is replied to
	m.Asked(5, at(11*time.Second))
	if m.Has(3) || !m.Has(5) {
		t.Error("a row that is asked for once more stays chosen")
	}
	if m.Drop(5); m.Has(5) {
		t.Error("a row that is dropped stays chosen")
	}
	if m.AtLeast(3600*ms, at(12*time.Second)); m.Longest() != 3600*ms {
		t.Errorf("longest %v", m.Longest())
	}
	if m.AtLeast(3601*ms, at(12*time.Second)); m.Longest() != 3600*ms { // four times the average
		t.Errorf("a lost message counts as late: longest %v", m.Longest())
	}
}
