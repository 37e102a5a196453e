package wire

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math"

	"backfield/osc"
)

// deepest is how many bundles may stand inside each other. Real senders use one or two.
const deepest = 8

// Decode reads a packet: one message, or a bundle and what it holds, in order. Time tags are passed over: a
// desk acts at once. It is strict: sizes must add up, padding must be zero, an address must be one, and a
// type tag that osc.Message has no argument for is an error that names it. A message without type tags has
// no arguments. Memory is bounded by a small multiple of the packet.
func Decode(packet []byte) ([]osc.Message, error) {
	return element(nil, &reader{packet, 0, len(packet)}, 1)
}

// element reads a message or a bundle that fills r, and adds its messages to out.
func element(out []osc.Message, r *reader, depth int) ([]osc.Message, error) {
	switch {
	case r.end == r.at:
		return nil, r.wrong("nothing stands here")
	case (r.end-r.at)%4 != 0:
		return nil, r.wrong("%d bytes are no multiple of 4", r.end-r.at)
	case r.data[r.at] == '/':
		m, err := r.message()
		if err != nil {
			return nil, err
		}
		return append(out, m), nil
	case !bytes.HasPrefix(r.data[r.at:r.end], []byte(bundleHead[:8])):
		return nil, r.wrong("neither a message nor a bundle: it begins with neither \"/\" nor \"#bundle\"")
	case depth > deepest:
		return nil, r.wrong("bundles stand in each other more than %d deep", deepest)
	case r.end-r.at < len(bundleHead):
		return nil, r.wrong("a bundle without a time tag")
	}
	r.at += len(bundleHead)
	for r.at < r.end {
		size := int64(binary.BigEndian.Uint32(r.data[r.at:])) // there: all sizes are multiples of 4
		if size > int64(r.end-r.at-4) {
			return nil, r.wrong("an element of %d bytes, where %d are left", size, r.end-r.at-4)
		}
		r.at += 4
		inner := &reader{r.data, r.at, r.at + int(size)}
		var err error
		if out, err = element(out, inner, depth+1); err != nil {
			return nil, err
		}
		r.at = inner.end
	}
	return out, nil
}

// reader walks data from at to end.
type reader struct {
	data    []byte
	at, end int
}

func (r *reader) wrong(format string, args ...any) error {
	return fmt.Errorf("byte %d: %s", r.at, fmt.Sprintf(format, args...))
}

func (r *reader) message() (m osc.Message, err error) {
	start := r.at
	if m.Address, err = r.text(); err != nil {
		return m, err
	}
	for i := range len(m.Address) {
		if c := m.Address[i]; c <= ' ' || c > '~' {
			r.at = start + i
			return m, r.wrong("the byte %02X may not stand in an address", c)
		}
	}
	if m.Args, err = r.arguments(); err != nil {
		return m, fmt.Errorf("%s: %w", m.Address, err)
	}
	return m, nil
}

func (r *reader) arguments() ([]any, error) {
	if r.at == r.end {
		return nil, nil // old senders leave the type tags out
	}
	if r.data[r.at] != ',' {
		return nil, r.wrong("the type tags must begin with a comma")
	}
	tags, err := r.text()
	if err != nil {
		return nil, err
	}
	var args []any
	for _, tag := range []byte(tags[1:]) {
		a, err := r.argument(tag)
		if err != nil {
			return nil, err
		}
		args = append(args, a)
	}
	if r.at != r.end {
		return nil, r.wrong("%d bytes are left over", r.end-r.at)
	}
	return args, nil
}

func (r *reader) argument(tag byte) (any, error) {
	size := 4
	switch tag {
	case 'T':
		return true, nil
	case 'F':
		return false, nil
	case 's':
		return r.text()
	case 'i', 'f':
	case 'h', 'd':
		size = 8
	default:
		return nil, r.wrong("arguments of type %q are not read here; only i f s T F d h", tag)
	}
	if r.end-r.at < size {
		return nil, r.wrong("an argument of type %q is cut off", tag)
	}
	raw := r.data[r.at : r.at+size]
	r.at += size
	switch tag {
	case 'i':
		return int32(binary.BigEndian.Uint32(raw)), nil
	case 'h':
		return int64(binary.BigEndian.Uint64(raw)), nil
	case 'f':
		return math.Float32frombits(binary.BigEndian.Uint32(raw)), nil
	}
	return math.Float64frombits(binary.BigEndian.Uint64(raw)), nil
}

// text reads a string: its bytes, a NUL, and NULs up to a multiple of four.
func (r *reader) text() (string, error) {
	rest := r.data[r.at:r.end]
	n := bytes.IndexByte(rest, 0)
	if n < 0 {
		return "", r.wrong("a string is cut off")
	}
	padded := (n/4 + 1) * 4 // within rest: all starts and ends are multiples of 4
	for i := n; i < padded; i++ {
		if rest[i] != 0 {
			r.at += i
			return "", r.wrong("a string's padding is not zero")
		}
	}
	r.at += padded
	return string(rest[:n]), nil
}
