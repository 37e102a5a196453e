package standby_test

import (
	"bytes"
	"errors"
	"io"
	"strings"
	"testing"
	"testing/iotest"

	"backfield/osc/journal"
	"backfield/osc/standby"
)

func TestReaderLimits(t *testing.T) {
	long := standby.PairLine{Kind: standby.Entry, Text: strings.Repeat("x", 2000)}
	in := standby.NewReader(bytes.NewReader(long.Bytes()))
	if _, err := in.Next(); !errors.Is(err, standby.ErrLong) {
		t.Errorf("a long greeting: %v", err)
	}
	in = standby.NewReader(iotest.OneByteReader(bytes.NewReader(append(long.Bytes(), `{"kind":"be`...))))
	in.Admitted()
	if l, err := in.Next(); err != nil || l.Text != long.Text {
		t.Errorf("a long line: %v", err)
	}
	if _, err := in.Next(); !errors.Is(err, io.EOF) {
		t.Errorf("a line that is cut off: %v", err)
	}
	endless := standby.NewReader(io.MultiReader(strings.NewReader(`{"kind":"`), iotest.DataErrReader(zeros{})))
	endless.Admitted()
	if _, err := endless.Next(); !errors.Is(err, standby.ErrLong) {
		t.Errorf("a line without an end: %v", err)
	}
}

// zeros is an endless stream.
type zeros struct{}

func (zeros) Read(b []byte) (int, error) { return len(b), nil }

// Whatever comes over the link: it is read or refused, and no Laptop, Door or Caller is disturbed by it.
func FuzzLink(f *testing.F) {
	entry := journal.Entry{Kind: "step", Step: "q1", State: &journal.RunState{Step: "q1", Clock: journal.PlayClock{Rate: 1}}}
	for _, l := range []standby.PairLine{
		{Kind: standby.Hello, Version: standby.Version, Nonce: make([]byte, standby.NonceBytes)},
		{Kind: standby.Answer, Nonce: make([]byte, standby.NonceBytes), Proof: make([]byte, 32)},
		{Kind: standby.Welcome, Proof: make([]byte, 32), Run: "a", Show: "b"},
		{Kind: standby.Have, N: 3, Mark: 7},
		{Kind: standby.Entry, N: 1, Mark: 9, Term: 1, Entry: bytes.TrimSpace(entry.Line())},
		{Kind: standby.Entry, N: 5, Term: 1, Base: true, Entry: bytes.TrimSpace(entry.Line())},
		{Kind: standby.Beat, Term: 1, AtNS: 1, Sending: true, DeafMS: 700},
		{Kind: standby.TakeOver, Term: 2}, {Kind: standby.Silent, Term: 2}, {Kind: standby.Ask, N: 1},
		{Kind: standby.Reply, N: 1}, {Kind: standby.Bye},
	} {
		f.Add(l.Bytes(), true)
		f.Add(l.Bytes(), false)
	}
	f.Add([]byte("{}\n{\"kind\":\"entry\",\"base\":true,\"n\":9223372036854775807,\"entry\":null}\n"), false)
	f.Fuzz(func(t *testing.T, text []byte, first bool) {
		in := standby.NewReader(bytes.NewReader(text))
		in.Admitted()
		l := standby.New(standby.LaptopOptions{First: first, Echo: true, Mixers: 1}, start)
		l.Linked(start)
		door, caller := standby.NewDoor("ABCD-EFGH-JKLM", "run", "show"), standby.NewCaller("ABCD-EFGH-JKLN")
		now := start
		for {
			line, err := in.Next()
			if err != nil {
				break
			}
			if _, ok := door.Admit("192.0.2.1", make([]byte, standby.NonceBytes), line); ok {
				t.Fatal("admitted without the key")
			}
			if _, err := caller.Answer(line, make([]byte, standby.NonceBytes)); err == nil && caller.Welcomed(line) == nil {
				t.Fatal("welcomed by who does not know the key")
			}
			now = now.Add(beat)
			l.Receive(line, now)
			l.Advance(now)
			for _, out := range l.Take(now) {
				back := standby.NewReader(bytes.NewReader(out.Bytes()))
				back.Admitted()
				if _, err := back.Next(); err != nil {
					t.Fatalf("a line of ours is not read: %v", err)
				}
			}
			l.Record(entry)
			l.Entries()
			l.View(now)
		}
	})
}
