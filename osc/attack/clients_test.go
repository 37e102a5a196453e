package attack

import (
	"encoding/binary"
	"fmt"
	"math/rand/v2"
	"net"
	"net/netip"
	"runtime"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"backfield/osc"
	"backfield/osc/run"
	"backfield/osc/trigger"
	"backfield/osc/wire"
)

// Unknown clients open connections to the port for commands, hold them, send rubbish, and come back. The machine that
// is named is bad at closing its own connections. Each press of its footswitch must be carried out all the same, and
// hush at once.
func TestUnknownClients(t *testing.T) {
	for _, scheme := range []string{"tcp", "slip"} {
		t.Run(scheme, func(t *testing.T) {
			seeds(t, 1, func(seed uint64) error { return pressAmidClients(t, scheme, seed) })
		})
	}
}

func pressAmidClients(t *testing.T, scheme string, seed uint64) error {
	var done atomic.Int64
	before := heap()
	home := netip.MustParseAddr("127.0.0.1")
	port, err := trigger.Listen(scheme+"://127.0.0.1:0", []netip.Addr{home}, nil, func(run.Command, string) (string, error) {
		done.Add(1)
		return "done", nil
	}, func(string, bool) {})
	if err != nil {
		return err
	}
	defer port.Close()
	var clients sync.WaitGroup
	stop := make(chan struct{})
	for n := range 10 {
		clients.Go(func() { unknownClient(port.Addr().HostPort, rand.New(rand.NewPCG(seed, uint64(n))), stop) })
	}
	defer clients.Wait()
	defer close(stop)

	random := rand.New(rand.NewPCG(seed, 99))
	var forgotten []wire.Link
	defer func() {
		for _, l := range forgotten {
			l.Close()
		}
	}()
	for press := range 15 {
		footswitch, err := wire.Open(port.Addr().String())
		if err != nil {
			return fmt.Errorf("press %d: %w", press, err)
		}
		forgotten = append(forgotten, footswitch)
		want := done.Load() + 1
		address := []string{"/backfield/hush", "/backfield/go"}[random.IntN(2)]
		if err := footswitch.Write(wire.Encode(osc.Message{Address: address})); err != nil {
			return fmt.Errorf("press %d: %w", press, err)
		}
		for began := time.Now(); done.Load() < want; time.Sleep(time.Millisecond) {
			if time.Since(began) > 3*time.Second {
				return fmt.Errorf("press %d of %s is not carried out within 3 s", press, address)
			}
		}
		time.Sleep(60 * time.Millisecond) // fewer than 20 in a second
	}
	if grown := int64(heap()) - int64(before); grown > 64<<20 {
		return fmt.Errorf("the memory has grown by %d MiB", grown>>20)
	}
	return nil
}

func heap() uint64 {
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return m.HeapAlloc
}

// unknownClient connects again and again from an address that is not named, holds the connection, and sends something.
func unknownClient(to string, random *rand.Rand, stop <-chan struct{}) {
	d := net.Dialer{LocalAddr: &net.TCPAddr{IP: net.IPv4(127, 0, 0, 2)}, Timeout: time.Second}
	for {
		select {
		case <-stop:
			return
		case <-time.After(time.Duration(random.IntN(20)) * time.Millisecond):
		}
		conn, err := d.Dial("tcp", to)
		if err != nil {
			continue
		}
		switch random.IntN(4) {
		case 0: // idle
		case 1:
			conn.Write(wire.LengthPrefix.Append(nil, wire.Encode(osc.Message{Address: "/backfield/go"})))
		case 2:
			conn.Write(binary.BigEndian.AppendUint32(nil, random.Uint32()))
		case 3:
			conn.Write(make([]byte, 1+random.IntN(1000)))
		}
		time.Sleep(time.Duration(random.IntN(50)) * time.Millisecond)
		conn.Close()
	}
}
