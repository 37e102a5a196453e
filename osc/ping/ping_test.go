package ping

import (
	"context"
	"errors"
	"fmt"
	"os"
	"sync"
	"testing"
	"time"

	"backfield/layout/source"
	"backfield/osc"
	"backfield/osc/mixer"
	"backfield/osc/virtual"
	"backfield/osc/waiting"
	"backfield/osc/wire"
)

func TestMain(m *testing.M) { os.Exit(waiting.Run(m)) }

const file = `channels = 8
[mute]
address = "/in/{channel}/mute"
[level]
address = "/in/{channel}/level"
scale = { table = [[-70, 0], [0, 1]] }
[query]
address = "{address}"
[[keepalive]]
address = "/alive"
every = "100 ms"
`

func read(t *testing.T) *mixer.Mixer {
	t.Helper()
	var p source.Problems
	d := mixer.Read(&source.File{Name: "mixer.toml", Text: file}, &p)
	if p.Errors() > 0 {
		t.Fatal(p.All()[0].What)
	}
	return d
}

// faultyLink is a link to a simulated mixer that loses packets both ways.
type faultyLink struct {
	mu      sync.Mutex
	mixer   *virtual.Device
	in, out *virtual.FaultyLink
	ready   [][]byte
	closed  bool
}

func (r *faultyLink) Write(packet []byte) error {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.in.Send(time.Now(), packet)
	return nil
}

func (r *faultyLink) WriteAll(packets [][]byte) error {
	for _, p := range packets {
		r.Write(p)
	}
	return nil
}

func (r *faultyLink) Read(buffer []byte) (int, error) {
	for {
		r.mu.Lock()
		now := time.Now()
		for _, p := range r.in.Deliver(now) {
			for _, reply := range r.mixer.Handle(now, "here", p) {
				r.out.Send(now, reply.Packet)
			}
		}
		r.ready = append(r.ready, r.out.Deliver(now)...)
		if len(r.ready) > 0 {
			defer r.mu.Unlock()
			n := copy(buffer, r.ready[0])
			r.ready = r.ready[1:]
			return n, nil
		}
		closed := r.closed
		r.mu.Unlock()
		if closed {
			return 0, wire.ErrClosed
		}
		time.Sleep(time.Millisecond)
	}
}

func (r *faultyLink) Settle(time.Duration) error { return nil }

func (r *faultyLink) Close() error {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.closed = true
	return nil
}

// Ask reports the loss, the time and the order of a faulty link as they are.
func TestAskMeasuresTheLink(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		faults   virtual.Faults
		lo, hi   int           // replies, of 40
		from, to time.Duration // the median round trip
	}{
		{virtual.Faults{}, 40, 40, 0, 50 * time.Millisecond},
		{virtual.Faults{Delay: 30 * time.Millisecond}, 40, 40, 60 * time.Millisecond, 150 * time.Millisecond},
		{virtual.Faults{Drop: 0.3}, 8, 30, 0, 50 * time.Millisecond}, // 0.7 * 0.7 = 0.49 of 40; 4 sigma is 12.6
		{virtual.Faults{Drop: 1}, 0, 0, 0, 0},
	} {
		t.Run(fmt.Sprint(c.faults), func(t *testing.T) {
			t.Parallel()
			d := read(t)
			link := &faultyLink{mixer: virtual.New(d), in: virtual.NewFaultyLink(c.faults, 1), out: virtual.NewFaultyLink(c.faults, 2)}
			defer link.Close()
			r, err := Ask(context.Background(), link, d, QueryPlan{Count: 40, Every: 5 * time.Millisecond,
				Wait: 400 * time.Millisecond})
			if err != nil || r.Asked != 40 || len(r.RoundTrips) < c.lo || len(r.RoundTrips) > c.hi {
				t.Errorf("%v: %d of %d have a reply", err, len(r.RoundTrips), r.Asked)
			}
			if m := r.Within(0.5); m < c.from || m > c.to {
				t.Errorf("the median round trip is %v", m)
			}
			lost := link.in.Lost + link.out.Lost
			if r.Lost() > lost || c.faults.Drop == 0 && r.Lost() != 0 {
				t.Errorf("%d lost, and the links lost %d", r.Lost(), lost)
			}
		})
	}
}

// Replies are matched to queries, without a clock.
func TestQueries(t *testing.T) {
	d := read(t)
	start := time.Unix(1000, 0)
	ms := func(n int) time.Time { return start.Add(time.Duration(n) * time.Millisecond) }
	all := controls(d)
	answer := func(i int) osc.Message {
		return osc.Message{Address: d.Address(all[i]), Args: []osc.Arg{osc.Int32(0)}}
	}
	a := newQueries(d, 100*time.Millisecond)
	for i := range 4 {
		if !a.ask(all[i], ms(10*i)) {
			t.Fatal("no query")
		}
	}
	if a.ask(all[0], ms(50)) {
		t.Error("a second query while a reply may still come")
	}
	a.reply(answer(2), ms(40)) // 20 ms, mute
	a.reply(answer(0), ms(50)) // 50 ms, mute, out of order
	a.reply(answer(0), ms(55))
	a.reply(osc.Message{Address: "/else", Args: []osc.Arg{osc.Int32(1)}}, ms(56))
	a.reply(osc.Message{Address: d.Address(all[1])}, ms(57)) // a query that comes back is not a reply
	a.reply(answer(1), ms(111))                              // too late
	if a.settled(ms(120)) || !a.settled(ms(131)) {
		t.Error("settled at the wrong time")
	}
	r := a.result()
	if r.Asked != 4 || r.Lost() != 2 || r.Duplicates != 1 || r.OutOfOrder != 1 || r.Other != 3 ||
		r.Within(0.5) != 20*time.Millisecond || r.Within(0.95) != 50*time.Millisecond {
		t.Errorf("%+v", r)
	}
	if len(r.NoReply) != 1 || r.NoReply[0] != "level" {
		t.Errorf("no reply for %v", r.NoReply)
	}
	if !a.ask(all[0], ms(200)) {
		t.Error("no second query after a reply")
	}
}

// A port that nothing listens at is reported closed; one that takes packets and stays silent is not.
func TestProbe(t *testing.T) {
	t.Parallel()
	d := read(t)
	l, err := wire.Listen("udp://127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	to := l.Addr().String()
	probe := func() bool {
		link, err := wire.Open(to)
		if err != nil {
			t.Fatal(err)
		}
		defer link.Close()
		closed, packets, err := Probe(context.Background(), link, d, 300*time.Millisecond)
		if err != nil || packets != 0 {
			t.Error(packets, err)
		}
		return closed
	}
	if probe() {
		t.Error("an open port is called closed")
	}
	l.Close()
	if !probe() {
		t.Error("a closed port is not noticed")
	}
	if ms, err := wire.Decode(emptyBundle); err != nil || len(ms) != 0 {
		t.Error(ms, err)
	}
	link := &faultyLink{mixer: virtual.New(d), in: virtual.NewFaultyLink(virtual.Faults{Drop: 1}, 1),
		out: virtual.NewFaultyLink(virtual.Faults{}, 2), closed: true}
	if _, err := Ask(context.Background(), link, d, QueryPlan{Count: 1, Every: time.Millisecond, Wait: time.Second}); !errors.Is(err,
		wire.ErrClosed) {
		t.Error(err)
	}
}
