package wire

import (
	"encoding/binary"
	"net"
	"unsafe"

	"golang.org/x/net/ipv4"
	"golang.org/x/sys/unix"
)

// batcher sends many datagrams in one system call, sendmmsg(2). Datagrams of the same length in a row go through the
// kernel as one: UDP_SEGMENT of udp(7), Linux 4.18. The datagrams that leave the computer are the same.
type batcher struct {
	conn   *ipv4.PacketConn // works for an IPv6 socket too
	canCut bool             // the kernel can segment, and the network device has not failed so far
	ms     []ipv4.Message
}

const (
	maxCuts     = 64   // datagrams in one message: the lowest limit of any kernel
	maxCutBytes = 1200 // bytes of such a datagram; no network splits one this short
)

func newBatcher(conn *net.UDPConn) batcher {
	b := batcher{conn: ipv4.NewPacketConn(conn)}
	if raw, err := conn.SyscallConn(); err == nil {
		// A kernel that does not know the option would send all of it as one datagram.
		raw.Control(func(fd uintptr) {
			_, err := unix.GetsockoptInt(int(fd), unix.SOL_UDP, unix.UDP_SEGMENT)
			b.canCut = err == nil
		})
	}
	return b
}

// write returns how many datagrams were sent. With an error that is 0; what stops it after the first is not reported.
func (b *batcher) write(packets [][]byte) (sent int, err error) {
	runs := 0
	for at := 0; at < len(packets); runs++ {
		if runs == len(b.ms) {
			b.ms = append(b.ms, ipv4.Message{OOB: make([]byte, 0, unix.CmsgSpace(2))})
		}
		n := b.run(packets[at:])
		m := &b.ms[runs]
		m.Buffers, m.OOB = packets[at:at+n], m.OOB[:0]
		if n > 1 {
			m.OOB = cut(m.OOB, len(packets[at]))
		}
		at += n
	}
	n, err := b.conn.WriteBatch(b.ms[:runs], 0)
	if err != nil {
		b.canCut = b.canCut && (is(err, portClosed) || is(err, noBuffer)) // any other error may come from the device
		return 0, err
	}
	for _, m := range b.ms[:n] {
		sent += len(m.Buffers)
	}
	return sent, nil
}

// run counts how many of the first packets go in one message.
func (b *batcher) run(packets [][]byte) int {
	n := 1
	if size := len(packets[0]); b.canCut && size <= maxCutBytes && size > 0 {
		for n < min(len(packets), maxCuts, 60_000/size) && len(packets[n]) == size {
			n++
		}
	}
	return n
}

// cut makes the control message that tells the kernel to cut a message into datagrams of this size.
func cut(oob []byte, size int) []byte {
	oob = oob[:unix.CmsgSpace(2)]
	h := (*unix.Cmsghdr)(unsafe.Pointer(&oob[0]))
	h.Level, h.Type = unix.SOL_UDP, unix.UDP_SEGMENT
	h.SetLen(unix.CmsgLen(2))
	binary.NativeEndian.PutUint16(oob[unix.CmsgLen(0):], uint16(size))
	return oob
}
