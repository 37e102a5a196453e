package wire

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"net"
	"os"
	"strings"
	"syscall"
	"testing"
	"time"

	model "github.com/hypebeast/go-osc/osc"

	"backfield/layout/osctype"
	"backfield/osc"
)

// Whatever values follow each other, the packet is the one that go-osc's encoder makes.
func TestValuePacket(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	var values []osc.Arg
	for _, t := range osctype.All {
		switch t.Kind {
		case osctype.Number:
			for _, v := range []float64{0, -1, 7, 0.8, math.Pi, math.MaxFloat64, -math.MaxFloat64} {
				values = append(values, osc.Number(t.Tag, v))
			}
		case osctype.Text:
			for _, text := range []string{"", "on", "four", "a longer one"} {
				values = append(values, osc.Packed(t.Tag, 0, text))
			}
		case osctype.Bool:
			values = append(values, osc.Packed(t.Tag, 0, ""))
		}
	}
	values = append(values, osc.Float32(float32(math.Inf(-1))))
	for _, address := range []string{"/a", "/ab", "/abc", "/in/23/level"} {
		l := NewValuePacket(address)
		for i := range 2000 {
			v := values[r.IntN(len(values))]
			if v == osc.Float32(0) {
				v = osc.Float32(float32(r.NormFloat64()))
			}
			want, err := model.NewMessage(address, v.Any()).MarshalBinary()
			if err != nil {
				t.Fatal(err)
			}
			if got := l.With(v); !bytes.Equal(got, want) {
				t.Fatalf("value %d, %v: %x, go-osc has %x", i, v, got, want)
			}
		}
	}
}

func TestBatchIsPack(t *testing.T) {
	b := NewBatch(true, 100)
	for range 3 { // its memory is used again
		b.Reset()
		for _, m := range numbered(20) {
			if err := b.Add(Encode(m)); err != nil {
				t.Fatal(err)
			}
		}
		var got []osc.Message
		for _, p := range b.Packets() {
			ms, err := Decode(p)
			if err != nil || len(p) > 100 {
				t.Fatal(len(p), err)
			}
			got = append(got, ms...)
		}
		if text(got) != text(numbered(20)) {
			t.Errorf("%s", text(got))
		}
	}
	err := b.Add(Encode(osc.Message{Address: "/" + strings.Repeat("x", 90)}))
	if err == nil || !strings.HasPrefix(err.Error(), "the message to /xxx") || len(b.Packets()) == 0 {
		t.Errorf("%v", err)
	}
}

// TestWriteAll: all packets come once and in order over every kind of link, however many there are.
func TestWriteAll(t *testing.T) {
	ms := numbered(200)
	packets := pack(t, ms, false)
	for _, host := range []string{"127.0.0.1:0", "[::1]:0"} {
		addr, _ := net.ResolveUDPAddr("udp", host)
		conn, err := net.ListenUDP("udp", addr)
		if err != nil {
			t.Log("no IPv6 here: ", err)
			continue
		}
		defer conn.Close()
		l := open(t, conn.LocalAddr().String())
		for _, n := range []int{0, 1, 2, len(ms)} {
			if err := l.WriteAll(packets[:n]); err != nil {
				t.Fatal(err)
			}
			for i := range n {
				if got := receive(t, conn); text(got) != text(ms[i:i+1]) {
					t.Fatalf("%s: packet %d of %d is %v", host, i, n, got)
				}
			}
		}
	}
	for _, scheme := range []string{"tcp", "slip"} {
		at, accept := server(t)
		l := open(t, scheme+"://"+at)
		conn := accept()
		if err := l.WriteAll(packets); err != nil {
			t.Fatal(err)
		}
		framing := LengthPrefix
		if scheme == "slip" {
			framing = SLIP
		}
		in := NewFrames(conn, framing, 0)
		for i := range packets {
			if p, err := in.Next(); err != nil || !bytes.Equal(p, packets[i]) {
				t.Fatalf("%s: packet %d is %x, %v", scheme, i, p, err)
			}
		}
		l.Close()
		if err := l.WriteAll(packets); !errors.Is(err, ErrClosed) {
			t.Errorf("%s: after it was closed: %v", scheme, err)
		}
	}
}

// TestWriteAllToClosedPort: a batch to a closed port gives an error, and packets after that error are still sent.
func TestWriteAllToClosedPort(t *testing.T) {
	at := closedPort(t)
	l := open(t, at)
	packets := pack(t, numbered(30), false)
	if err := l.WriteAll(packets); !errors.Is(err, ErrRefused) {
		t.Errorf("30 packets to a closed port: %v", err)
	}
	l.Settle(50 * time.Millisecond)

	if err := l.Write(packets[0]); err != nil {
		t.Fatal(err)
	}
	time.Sleep(20 * time.Millisecond) // until the report of the closed port is there
	conn := listen(t, at)
	if err := l.WriteAll(packets[1:]); !errors.Is(err, ErrRefused) {
		t.Errorf("the report on the packet before: %v", err)
	}
	for _, m := range numbered(30)[1:] {
		if got := receive(t, conn); text(got) != text([]osc.Message{m}) {
			t.Fatalf("received %v, want %v", got, m)
		}
	}
	if err := l.WriteAll([][]byte{packets[0], make([]byte, 65508), packets[1]}); err == nil ||
		!strings.Contains(err.Error(), "65508 bytes") {
		t.Errorf("a packet that is too long: %v", err)
	}
	for _, m := range numbered(2) {
		if got := receive(t, conn); text(got) != text([]osc.Message{m}) {
			t.Fatalf("received %v, want %v", got, m)
		}
	}
}

// TestAlarm: it comes near the time, no earlier than Rest can wait for, and setting it again replaces the time before.
// How near depends on the computer; the benchmark measures it.
func TestAlarm(t *testing.T) {
	leakless(t)
	for name, a := range map[string]*WakeTimer{"the system's": NewWakeTimer(), "Go's timer": goAlarm()} {
		for _, within := range []time.Duration{0, 100 * time.Microsecond, time.Second} {
			for _, d := range []time.Duration{-time.Second, 0, time.Microsecond, 300 * time.Microsecond,
				5 * time.Millisecond} {
				a.Set(time.Now().Add(time.Hour), within)
				at := time.Now().Add(d)
				a.Set(at, within)
				select {
				case <-a.C:
				case <-time.After(10 * time.Second):
					t.Fatalf("%s does not come, set %v ahead within %v", name, d, within)
				}
				for a.Rest(); time.Until(at) > 0; a.Rest() {
					if early := time.Until(at); early > max(a.late, shortWait) || within > a.late && early > shortWait {
						t.Fatalf("%s, set %v ahead within %v, is %v early", name, d, within, early)
					}
					a.Set(at, within)
					<-a.C
				}
				select {
				case <-a.C:
					t.Errorf("%s comes twice", name)
				case <-time.After(3 * time.Millisecond):
				}
			}
		}
		a.Close()
	}
}

// When this computer has no room for a packet, the others are not tried: each would take 12 ms, with other mixers
// waiting. An error that only concerns one packet stops no others.
func TestOneByOne(t *testing.T) {
	packets := [][]byte{{0}, {1}, {2}, {3}}
	full := fmt.Errorf("full (%w)", os.ErrDeadlineExceeded)
	long := fmt.Errorf("long (%w)", syscall.EMSGSIZE)
	for _, c := range []struct {
		before error
		fails  map[byte]error
		want   error
		tried  int
	}{
		{nil, nil, nil, 4},
		{nil, map[byte]error{1: full}, full, 2},
		{ErrRefused, map[byte]error{1: full}, full, 2},
		{nil, map[byte]error{1: long, 3: full}, long, 4},
		{nil, map[byte]error{0: ErrRefused, 2: long}, long, 4},
	} {
		tried := 0
		err := oneByOne(packets, c.before, func(p []byte) error { tried++; return c.fails[p[0]] })
		if err != c.want || tried != c.tried {
			t.Errorf("%v: %v after %d packets, want %v after %d", c.fails, err, tried, c.want, c.tried)
		}
	}
}
