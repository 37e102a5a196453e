package wire

import (
	"bufio"
	"encoding/binary"
	"fmt"
	"io"
	"slices"
)

// Framing is how packets are marked off in a stream of bytes.
type Framing byte

const (
	// LengthPrefix is the OSC 1.0 stream: before each packet its length, a big-endian int32.
	LengthPrefix Framing = iota
	// SLIP is the OSC 1.1 stream (A. Freed, A. Schmeder, NIME 2009): RFC 1055 with END before and after each packet.
	SLIP
)

// The bytes of SLIP, from RFC 1055.
const (
	slipEnd    = 0xC0
	slipEsc    = 0xDB
	slipEscEnd = 0xDC // after slipEsc: the byte slipEnd
	slipEscEsc = 0xDD // after slipEsc: the byte slipEsc
)

// MaxPacket is the longest packet that is read, in bytes. A datagram is never longer.
const MaxPacket = 1 << 16

// Append appends a packet in its frame to a stream.
func (f Framing) Append(stream, packet []byte) []byte {
	if f == LengthPrefix {
		stream = binary.BigEndian.AppendUint32(stream, uint32(len(packet)))
		return append(stream, packet...)
	}
	stream = append(stream, slipEnd)
	for _, b := range packet {
		switch b {
		case slipEnd:
			stream = append(stream, slipEsc, slipEscEnd)
		case slipEsc:
			stream = append(stream, slipEsc, slipEscEsc)
		default:
			stream = append(stream, b)
		}
	}
	return append(stream, slipEnd)
}

// Frames reads packets from a stream. It is strict: once a packet's end is in doubt, the stream cannot be trusted any
// more. It uses the limit plus a few KiB of memory.
type Frames struct {
	in      *bufio.Reader
	framing Framing
	limit   int
	packet  []byte
	err     error // what the stream ended with
}

// NewFrames reads packets of at most limit bytes; a limit of 0 is MaxPacket.
func NewFrames(in io.Reader, f Framing, limit int) *Frames {
	if limit <= 0 {
		limit = MaxPacket
	}
	return &Frames{in: bufio.NewReader(in), framing: f, limit: limit}
}

// Next returns the next packet, which is valid until the next call. The error is io.EOF if the stream ends between
// packets and io.ErrUnexpectedEOF if it ends inside one. It says what is wrong if a length is not over 0, not a
// multiple of 4 or over the limit, if a byte after SLIP's ESC is not one of its two, or if a SLIP frame is over the
// limit or starts with a zero. Any other error is the reader's. After an error every call returns the same one. Empty
// SLIP frames are skipped. The END before a packet may be missing, since some senders (liblo) write only the one after
// it.
func (f *Frames) Next() ([]byte, error) {
	if f.err == nil {
		f.packet = f.packet[:0]
		if f.framing == SLIP {
			f.err = f.slip()
		} else {
			f.err = f.counted()
		}
	}
	if f.err != nil {
		return nil, f.err
	}
	return f.packet, nil
}

// badFrame is what is wrong with a stream.
type badFrame string

func (b badFrame) Error() string { return string(b) }

func bad(format string, args ...any) error { return badFrame(fmt.Sprintf(format, args...)) }

func (f *Frames) counted() error {
	var head [4]byte
	if _, err := io.ReadFull(f.in, head[:]); err != nil {
		return err // io.EOF before the first byte only
	}
	size := int32(binary.BigEndian.Uint32(head[:]))
	switch {
	case head[0] == slipEnd:
		return bad("it starts with SLIP's END byte: the sender uses slip://, not tcp://")
	case head[0] == '/' || head[0] == '#':
		return bad("a packet comes without its length, which tcp:// needs before each packet")
	case size <= 0:
		return bad("a packet length of %d bytes", size)
	case int(size) > f.limit:
		return bad("a packet length of %d bytes, over the limit of %d", size, f.limit)
	case size%4 != 0:
		return bad("a packet length of %d bytes, which is not a multiple of 4", size)
	}
	f.packet = slices.Grow(f.packet, int(size))[:size]
	_, err := io.ReadFull(f.in, f.packet)
	return within(err)
}

func (f *Frames) slip() error {
	for {
		b, err := f.in.ReadByte()
		switch {
		case err != nil && len(f.packet) > 0:
			return within(err)
		case err != nil:
			return err
		case b == slipEnd && len(f.packet) > 0:
			return nil
		case b == slipEnd:
			continue
		case b == slipEsc:
			switch b, err = f.in.ReadByte(); {
			case err != nil:
				return within(err)
			case b == slipEscEnd:
				b = slipEnd
			case b == slipEscEsc:
				b = slipEsc
			default:
				return bad("SLIP's ESC before the byte %02X; only DC and DD may follow it", b)
			}
		// Without this, a stream with lengths would be collected up to the limit before anyone heard of it.
		case b == 0 && len(f.packet) == 0:
			return bad("a packet starts with a zero byte: the sender uses tcp://, not slip://")
		}
		if len(f.packet) == f.limit {
			return bad("a packet of more than %d bytes", f.limit)
		}
		f.packet = append(f.packet, b)
	}
}

// within is the error of a read inside a packet.
func within(err error) error {
	if err == io.EOF {
		return io.ErrUnexpectedEOF
	}
	return err
}
