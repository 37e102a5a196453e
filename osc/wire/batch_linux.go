package wire

import (
	"net"

	"golang.org/x/net/ipv4"
)

// batcher sends many datagrams in one call of the system: sendmmsg(2).
type batcher struct {
	conn *ipv4.PacketConn // of an IPv6 socket as well: nothing here is IPv4's own
	ms   []ipv4.Message
}

func newBatcher(conn *net.UDPConn) batcher { return batcher{conn: ipv4.NewPacketConn(conn)} }

// write returns how many datagrams were sent. On an error that is none; what comes after the first is not told.
func (b *batcher) write(packets [][]byte) (int, error) {
	for len(b.ms) < len(packets) {
		b.ms = append(b.ms, ipv4.Message{Buffers: make([][]byte, 1)})
	}
	for i, p := range packets {
		b.ms[i].Buffers[0] = p
	}
	n, err := b.conn.WriteBatch(b.ms[:len(packets)], 0)
	return max(n, 0), err
}
