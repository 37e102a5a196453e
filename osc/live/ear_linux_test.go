package live

import (
	"errors"
	"net"
	"os"
	"syscall"
	"testing"
	"time"

	"backfield/osc/wire"
)

// ear is a port of this computer at which the kernel stamps each datagram with the time of its arrival, so that who
// reads it, and when, is no part of what is timed.
type ear struct {
	conn *net.UDPConn
	port int
	in   []byte
	oob  []byte
}

func listenTo(b *testing.B) *ear {
	b.Helper()
	conn, err := net.ListenUDP("udp", &net.UDPAddr{IP: net.IPv4(127, 0, 0, 1)})
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { conn.Close() })
	conn.SetReadBuffer(4 << 20)
	raw, err := conn.SyscallConn()
	if err != nil {
		b.Fatal(err)
	}
	raw.Control(func(fd uintptr) {
		err = syscall.SetsockoptInt(int(fd), syscall.SOL_SOCKET, syscall.SO_TIMESTAMPNS, 1)
	})
	if err != nil {
		b.Fatal(err)
	}
	return &ear{conn, conn.LocalAddr().(*net.UDPAddr).Port, make([]byte, wire.MaxPacket), make([]byte, 256)}
}

// hear reads messages until there are most of them or none has come for a while. It returns how many came, in how many
// datagrams, and when the last arrived.
func (e *ear) hear(b *testing.B, most int, quiet time.Duration) (messages, datagrams int, at time.Time) {
	b.Helper()
	for messages < most {
		e.conn.SetReadDeadline(time.Now().Add(quiet))
		n, oobn, _, _, err := e.conn.ReadMsgUDP(e.in, e.oob)
		if errors.Is(err, os.ErrDeadlineExceeded) {
			break
		} else if err != nil {
			b.Fatal(err)
		}
		ms, err := wire.Decode(e.in[:n])
		if err != nil {
			b.Fatal(err)
		}
		messages, datagrams = messages+len(ms), datagrams+1
		stamps, err := syscall.ParseSocketControlMessage(e.oob[:oobn])
		if err != nil || len(stamps) == 0 || stamps[0].Header.Type != syscall.SCM_TIMESTAMPNS {
			b.Fatal("the kernel does not stamp: ", err)
		}
		at = stamp(stamps[0].Data)
	}
	return messages, datagrams, at
}
