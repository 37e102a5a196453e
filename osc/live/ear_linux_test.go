package live

import (
	"encoding/binary"
	"syscall"
	"testing"
	"time"

	"backfield/osc/wire"
)

// ear is a port of this computer at which the kernel stamps each datagram with the time of its arrival, so that who
// reads it, and when, is no part of what is timed. It is a bare socket: Go's poller, which would wake a thread for
// every datagram, does not know it.
type ear struct {
	fd   int
	port int
	in   []byte
	oob  []byte
}

func listenTo(b *testing.B) *ear {
	b.Helper()
	fd, err := syscall.Socket(syscall.AF_INET, syscall.SOCK_DGRAM|syscall.SOCK_CLOEXEC, 0)
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { syscall.Close(fd) })
	if err := syscall.SetsockoptInt(fd, syscall.SOL_SOCKET, syscall.SO_TIMESTAMPNS, 1); err != nil {
		b.Fatal(err)
	}
	if err := syscall.Bind(fd, &syscall.SockaddrInet4{Addr: [4]byte{127, 0, 0, 1}}); err != nil {
		b.Fatal(err)
	}
	at, err := syscall.Getsockname(fd)
	if err != nil {
		b.Fatal(err)
	}
	e := &ear{fd, at.(*syscall.SockaddrInet4).Port, make([]byte, wire.MaxPacket), make([]byte, 256)}
	e.room(4 << 20)
	return e
}

// room sets the size of the buffer, in bytes; the system may give less.
func (e *ear) room(bytes int) {
	syscall.SetsockoptInt(e.fd, syscall.SOL_SOCKET, syscall.SO_RCVBUF, bytes)
}

// hear reads messages until there are most of them or none has come for a while. It returns how many came, in how many
// datagrams, and when the last arrived.
func (e *ear) hear(b *testing.B, most int, quiet time.Duration) (messages, datagrams int, at time.Time) {
	b.Helper()
	wait := syscall.NsecToTimeval(quiet.Nanoseconds())
	if err := syscall.SetsockoptTimeval(e.fd, syscall.SOL_SOCKET, syscall.SO_RCVTIMEO, &wait); err != nil {
		b.Fatal(err)
	}
	for messages < most {
		n, oobn, _, _, err := syscall.Recvmsg(e.fd, e.in, e.oob, 0)
		if err == syscall.EAGAIN {
			break
		} else if err == syscall.EINTR {
			continue
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

// stamp reads a struct timespec, whose words are as wide as a long here.
func stamp(data []byte) time.Time {
	if len(data) < 16 {
		return time.Unix(
			int64(int32(binary.NativeEndian.Uint32(data))), int64(int32(binary.NativeEndian.Uint32(data[4:]))),
		)
	}
	return time.Unix(int64(binary.NativeEndian.Uint64(data)), int64(binary.NativeEndian.Uint64(data[8:])))
}
