package wire

import (
	"errors"
	"io"
	"net"
	"os"
	"time"
)

// datagrams is a Link over UDP: one connected socket, because only such a one is told of a closed port.
type datagrams struct {
	conn *net.UDPConn
	to   string // as the errors name it
	in   []byte // room for any datagram
	out  batcher

	until time.Time // the deadline of writes
}

// burst is the room for datagrams that nobody has read yet, in bytes: a socket has 256 small ones by
// default. The system may give less.
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
	// That is word of an earlier datagram; this one was not sent. Once more is enough: the word is taken, and
	// should there be a second one at once, all that is lost is lost at a closed port.
	if err := d.write(packet); err != nil && !is(err, portClosed) {
		return explain(err, d.to, len(packet))
	}
	return refused(d.to)
}

// WriteAll gives the system many datagrams in one call where it has such a call. What that leaves, because there was no
// room or because word of a closed port came instead, goes one at a time: such a call tells of the datagrams that it
// sent, and then not of what stopped it.
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

// oneByOne writes packets, and returns the worst error: one that was there before, or of a write. Where there is no
// room for one, the others are not tried: each would wait as long, and hold who has other mixers to see to.
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

// closing closes what may be closed already.
func closeOnce(c io.Closer) error {
	if err := c.Close(); err != nil && !errors.Is(err, net.ErrClosed) {
		return err
	}
	return nil
}
