package wire

import (
	"bufio"
	"encoding/binary"
	"fmt"
	"io"
	"slices"
)

// Framing is how packets stand in a stream of bytes.
type Framing byte

const (
	// LengthPrefix is the stream of OSC 1.0: each packet after its length, an int32, big-endian.
	LengthPrefix Framing = iota
	// SLIP is the stream of OSC 1.1 (A. Freed, A. Schmeder, NIME 2009): RFC 1055 with END before each packet
	// and after it.
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

// Frames takes packets out of a stream. It is strict: a stream in which a packet's end is in doubt cannot be
// trusted from there on. Its memory is the limit and some KiB.
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

// Next returns the next packet, which is valid until Next is called again. The error is io.EOF if the stream
// ends between packets and io.ErrUnexpectedEOF if it ends within one; it says what is wrong if a length is
// not over 0, not a multiple of 4 or over the limit, if a byte after SLIP's ESC is none of its two, if a SLIP
// frame is over the limit or begins with a zero; anything else is the reader's. Once there was an error it
// stays the same. Empty SLIP frames are passed over, and an END before a packet may be missing: some senders
// (liblo) write only the one after it.
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
		return bad("where a packet's length must stand there is SLIP's END: the other side speaks slip://, not tcp://")
	case head[0] == '/' || head[0] == '#':
		return bad("a packet without its length before it, which tcp:// must have")
	case size <= 0:
		return bad("a packet of %d bytes is announced", size)
	case int(size) > f.limit:
		return bad("a packet of %d bytes is announced, over the limit of %d", size, f.limit)
	case size%4 != 0:
		return bad("a packet of %d bytes is announced, which is no multiple of 4", size)
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
				return bad("SLIP's ESC before the byte %02X, where only DC and DD may stand", b)
			}
		case b == 0 && len(f.packet) == 0: // else lengths and packets would be gathered up to the limit, in silence
			return bad("a packet begins with a zero byte: the other side speaks tcp://, not slip://")
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
