package standby

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"hash/fnv"
	"time"

	"backfield/osc/journal"
)

// log is the journal as a laptop has it, as lines that are sent on as they are. A mark over all lines up to each tells
// whether two laptops have the same.
type log struct {
	before int    // entries that are left out before the first line
	mark   uint64 // over those
	lines  []notedValue
	others int // entries up to this number are the other laptop's, with times on its clock
}

// noMark is the mark of no journal.
const noMark = 1

type notedValue struct {
	text []byte
	mark uint64 // over all up to this one
}

// n is how many entries the journal has, those included that are left out.
func (l *log) n() int { return l.before + len(l.lines) }

func (l *log) markAt(n int) (mark uint64, ok bool) {
	switch i := n - l.before; {
	case i == 0:
		return l.mark, true
	case i < 0 || i > len(l.lines):
		return 0, false
	default:
		return l.lines[i-1].mark, true
	}
}

func (l *log) last() uint64 {
	mark, _ := l.markAt(l.n())
	return mark
}

func (l *log) add(text []byte) {
	h := fnv.New64a()
	var before [8]byte
	binary.BigEndian.PutUint64(before[:], l.last())
	h.Write(before[:])
	h.Write(text)
	l.lines = append(l.lines, notedValue{text, h.Sum64()})
}

// restart begins the log in the middle of a journal, after n entries with a mark.
func (l *log) restart(n int, mark uint64) { *l = log{before: n, mark: mark} }

// line is the line of the entry with an index.
func (l *log) line(i int) PairLine {
	return PairLine{Kind: Entry, N: l.before + i + 1, Mark: l.lines[i].mark, Entry: l.lines[i].text}
}

// samples is how many lines the difference between two clocks is taken from: some seconds of beats.
const samples = 64

// offset is how far this laptop's clock is before the other's. What a line took on its way counts for it: so the
// smallest of the last samples is the best. A line may be late; it cannot be early.
type offset struct {
	list [samples]time.Duration
	n    int
}

func (o *offset) note(line PairLine, now time.Time) {
	o.list[o.n%samples] = now.Sub(line.at())
	o.n++
}

func (o *offset) best() (d time.Duration) {
	for i := range min(o.n, samples) {
		if i == 0 || o.list[i] < d {
			d = o.list[i]
		}
	}
	return d
}

// steady is an instant as a clock would show it that nobody sets: one that is set in the middle of a show moves nothing.
func (l *Laptop) steady(t time.Time) time.Time { return l.base.Round(0).Add(t.Sub(l.base)) }

// local is a function from the other's times to this laptop's. Nothing that has come already lies ahead of now.
func (l *Laptop) local(now time.Time) func(time.Time) time.Time {
	d, here := l.clock.best(), l.steady(now)
	return func(t time.Time) time.Time {
		if t.IsZero() {
			return t
		}
		return now.Add(min(t.Add(d).Sub(here), 0))
	}
}

// entryIn reads an entry as the other laptop wrote it, with its times on this laptop's clock.
func entryIn(text []byte, local func(time.Time) time.Time) (journal.Entry, error) {
	var e journal.Entry
	if err := json.Unmarshal(text, &e); err != nil {
		return e, fmt.Errorf("an entry is not understood: %w", err)
	}
	e.At = local(e.At)
	if e.State != nil {
		state := e.State.WithTimes(local)
		e.State = &state
	}
	return e, nil
}

// Record takes an entry that this laptop has written in its journal, and sends it on.
func (l *Laptop) Record(e journal.Entry) {
	l.log.add(l.text(e))
	if e.State != nil {
		l.state = *e.State
	}
	if l.theirs != nil && l.mine {
		l.push(l.log.line(len(l.log.lines) - 1))
	}
}

// text is an entry as it is sent, with its times as steady has them.
func (l *Laptop) text(e journal.Entry) []byte {
	e.At = l.steady(e.At)
	if e.State != nil {
		state := e.State.WithTimes(l.steady)
		e.State = &state
	}
	return bytes.TrimSpace(e.Line())
}

// have says how far this laptop has the journal.
func (l *Laptop) have() { l.push(PairLine{Kind: Have, N: l.log.n(), Mark: l.log.last()}) }

// sync sends the other what it has not got of the journal: all that is new, or the state alone where the two differ.
func (l *Laptop) sync() {
	if !l.mine || l.theirs == nil {
		return
	}
	from := l.theirs.N
	if mark, ok := l.log.markAt(from); !ok || mark != l.theirs.Mark || from < l.log.others {
		state := journal.Entry{Kind: "state", State: &l.state}
		l.push(PairLine{Kind: Entry, Base: true, N: l.log.n(), Mark: l.log.last(), Entry: l.text(state)})
		return
	}
	for i := from - l.log.before; i < len(l.log.lines); i++ {
		l.push(l.log.line(i))
	}
}

// follow takes an entry of the other's journal.
func (l *Laptop) follow(line PairLine, now time.Time) {
	if l.mine || line.Term < l.term {
		return
	}
	if !line.Base && line.N != l.log.n()+1 {
		if line.N > l.log.n() { // some are missing: they are sent again
			l.have()
		}
		return
	}
	e, err := entryIn(line.Entry, l.local(now))
	if err != nil {
		return
	}
	if line.Base {
		l.log.restart(line.N, line.Mark)
	} else if l.log.add(line.Entry); l.log.last() != line.Mark { // another journal: its state is all that is needed
		l.log.restart(0, noMark)
		l.have()
		return
	}
	l.log.others = l.log.n()
	if e.State != nil {
		l.state = *e.State
	}
	l.hasLog = true
	l.entries = append(l.entries, e)
}

// Entries returns the entries that have come since the last time, with their times on this laptop's clock.
func (l *Laptop) Entries() []journal.Entry {
	list := l.entries
	l.entries = nil
	return list
}

// State is the state of the run, as far as this laptop has it.
func (l *Laptop) State() journal.RunState { return l.state }
