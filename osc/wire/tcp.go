package wire

import (
	"errors"
	"fmt"
	"io"
	"net"
	"os"
	"sync"
	"time"
)

// stream is a Link over TCP. Write, Read and Close may each be called at any time.
type stream struct {
	conn    *net.TCPConn
	to      string // for the errors
	framing Framing
	in      *Frames

	writing sync.Mutex
	out     []byte // the frames being written

	mu   sync.Mutex
	over error // why the connection ended, nil while it is open
}

func newStream(conn *net.TCPConn, f Framing, to string) *stream {
	if raw, err := conn.SyscallConn(); err == nil {
		// Where the system has no such limit, its own default applies.
		raw.Control(func(fd uintptr) { dropAfter(fd, ackWait) })
	}
	return &stream{conn: conn, to: to, framing: f, in: NewFrames(conn, f, MaxPacket)}
}

func (s *stream) Write(packet []byte) error { return s.WriteAll([][]byte{packet}) }

func (s *stream) WriteAll(packets [][]byte) error {
	s.writing.Lock()
	defer s.writing.Unlock()
	s.out = s.out[:0]
	for _, p := range packets {
		s.out = s.framing.Append(s.out, p)
	}
	if err := push(s.conn, new(time.Time), func() (int, error) { return s.conn.Write(s.out) }); err != nil {
		return s.end(err)
	}
	return nil
}

// next returns the next packet, which is valid until the next call.
func (s *stream) next() ([]byte, error) {
	packet, err := s.in.Next()
	if err != nil {
		return nil, s.end(err)
	}
	return packet, nil
}

func (s *stream) Read(buffer []byte) (int, error) {
	packet, err := s.next()
	switch {
	case err != nil:
		return 0, err
	case len(packet) > len(buffer):
		return 0, io.ErrShortBuffer
	}
	return copy(buffer, packet), nil
}

func (s *stream) Settle(wait time.Duration) error {
	if err := errors.Join(s.conn.CloseWrite(), s.conn.SetReadDeadline(Wall{}.Now().Add(wait))); err != nil {
		return s.end(err)
	}
	// Closing a socket with unread data would reset the connection, and the mixer could lose what it has not read yet.
	if _, err := io.Copy(io.Discard, s.conn); err != nil && !errors.Is(err, os.ErrDeadlineExceeded) {
		return s.end(err)
	}
	return nil
}

func (s *stream) Close() error {
	s.end(net.ErrClosed)
	return nil
}

// end closes the connection for a reason and returns why it ended. The first reason counts.
func (s *stream) end(err error) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.over == nil {
		s.over = s.broken(err)
		s.conn.Close()
	}
	return s.over
}

// broken says in the user's words why the connection ended.
func (s *stream) broken(err error) error {
	var frame badFrame
	switch {
	case errors.Is(err, net.ErrClosed):
		return ErrClosed
	case errors.As(err, &frame):
		return linkError{fmt.Sprintf("%s sends something other than an OSC stream: %v", s.to, frame), ErrBroken}
	case errors.Is(err, io.EOF):
		return linkError{s.to + " closed the connection", ErrBroken}
	case errors.Is(err, io.ErrUnexpectedEOF):
		return linkError{s.to + " closed the connection in the middle of a packet", ErrBroken}
	case errors.Is(err, os.ErrDeadlineExceeded):
		return linkError{s.to + " accepts no more data", ErrBroken}
	case is(err, timedOut):
		return linkError{s.to + " stopped replying", ErrBroken}
	}
	return fmt.Errorf("%s: %w (%w)", s.to, err, ErrBroken)
}
