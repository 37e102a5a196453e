package wire

import (
	"errors"
	"io"
	"net"
	"os"
	"time"
)

// datagrams is a Link over UDP. Its socket is connected, because only a connected one learns of a closed port.
type datagrams struct {
	conn *net.UDPConn
	to   string // for the errors
	in   []byte // holds any datagram
	out  batcher

	until time.Time // the deadline of writes
}

// readBufferBytes is the space for datagrams that are not read yet, in bytes. By default a socket holds 256 small ones.
// The system may give less.
const readBufferBytes = 1 << 20

func newDatagrams(conn *net.UDPConn, to string) *datagrams {
	conn.SetReadBuffer(readBufferBytes)
	return &datagrams{conn: conn, to: to, in: make([]byte, MaxPacket), out: newBatcher(conn)}
}

func (d *datagrams) Write(packet []byte) error {
	err := d.write(packet)
	if !is(err, portClosed) {
		return explain(err, d.to, len(packet))
	}
	// The error is about an earlier datagram, and this one was not sent. One more try is enough: if the error comes
	// again, the datagram would be lost at a closed port anyway.
	if err := d.write(packet); err != nil && !is(err, portClosed) {
		return explain(err, d.to, len(packet))
	}
	return refused(d.to)
}

// WriteAll gives the system many datagrams in one call where it has such a call. That call reports how many it sent,
// and not what stopped it: no room, or the report of a closed port. So the rest goes one at a time.
func (d *datagrams) WriteAll(packets [][]byte) error {
	sent := 0
	var worst error
	if len(packets) > 1 {
		err := push(d.conn, &d.until, func() (n int, err error) {
			n, err = d.out.write(packets)
			sent = n
			return n, err
		})
		switch {
		case is(err, portClosed):
			worst = refused(d.to)
		case is(err, noBuffer):
			return explain(err, d.to, len(packets[0]))
		}
	}
	return oneByOne(packets[sent:], worst, d.Write)
}

// oneByOne writes packets, and returns the worst error, an earlier one or one of its own. If there is no room for one
// packet, it does not try the others: each would wait as long, and other mixers would wait with it.
func oneByOne(packets [][]byte, worst error, write func(packet []byte) error) error {
	for _, p := range packets {
		err := write(p)
		if err != nil && (worst == nil || errors.Is(worst, ErrRefused)) {
			worst = err
		}
		if is(err, noBuffer) {
			break
		}
	}
	return worst
}

func (d *datagrams) write(packet []byte) error {
	return push(d.conn, &d.until, func() (int, error) { return d.conn.Write(packet) })
}

func (d *datagrams) Read(buffer []byte) (int, error) {
	for {
		n, err := d.conn.Read(d.in)
		switch {
		case err != nil:
			return 0, explain(err, d.to, 0)
		case n > len(buffer):
			return 0, io.ErrShortBuffer
		case n > 0:
			return copy(buffer, d.in[:n]), nil
		}
	}
}

func (d *datagrams) Settle(wait time.Duration) error {
	if err := d.conn.SetReadDeadline(Wall{}.Now().Add(wait)); err != nil {
		return explain(err, d.to, 0)
	}
	defer d.conn.SetReadDeadline(time.Time{})
	var refusal error
	for {
		switch _, err := d.conn.Read(d.in); {
		case errors.Is(err, os.ErrDeadlineExceeded):
			return refusal
		case is(err, portClosed):
			refusal = refused(d.to)
		case err != nil:
			return explain(err, d.to, 0)
		}
	}
}

func (d *datagrams) Close() error { return closeOnce(d.conn) }

// closeOnce closes a connection that may already be closed.
func closeOnce(c io.Closer) error {
	if err := c.Close(); err != nil && !errors.Is(err, net.ErrClosed) {
		return err
	}
	return nil
}
