package wire

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"strings"

	"backfield/layout/osctype"
	"backfield/osc"
)

// deepest is how many bundles may stand inside each other. Real senders use one or two.
const maxDepth = 8

// Decode reads a packet: one message, or a bundle and what it holds, in order. Time tags are passed over: a
// mixer acts at once. It is strict: sizes must add up, padding must be zero, an address must be one, and a
// type tag that osctype.All has not is an error that names it. A message without type tags has
// no arguments. Memory is bounded by a small multiple of the packet.
func Decode(packet []byte) ([]osc.Message, error) {
	return element(nil, &packetReader{packet, 0, len(packet)}, 1)
}

// element reads a message or a bundle that fills r, and adds its messages to out.
func element(out []osc.Message, r *packetReader, depth int) ([]osc.Message, error) {
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
	case depth > maxDepth:
		return nil, r.wrong("bundles stand in each other more than %d deep", maxDepth)
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
		inner := &packetReader{r.data, r.at, r.at + int(size)}
		var err error
		if out, err = element(out, inner, depth+1); err != nil {
			return nil, err
		}
		r.at = inner.end
	}
	return out, nil
}

// reader walks data from at to end.
type packetReader struct {
	data    []byte
	at, end int
}

func (r *packetReader) wrong(format string, args ...any) error {
	return fmt.Errorf("byte %d: %w", r.at, fmt.Errorf(format, args...))
}

func (r *packetReader) message() (m osc.Message, err error) {
	start := r.at
	if m.Address, err = r.text(osctype.ReadText); err != nil {
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

func (r *packetReader) arguments() ([]osc.Arg, error) {
	if r.at == r.end {
		return nil, nil // old senders leave the type tags out
	}
	if r.data[r.at] != ',' {
		return nil, r.wrong("the type tags must begin with a comma")
	}
	tags, err := r.text(osctype.ReadText)
	if err != nil {
		return nil, err
	}
	var args []osc.Arg
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

func (r *packetReader) argument(tag byte) (osc.Arg, error) {
	t := osctype.Of(tag)
	switch {
	case t == nil:
		known := strings.Join(osctype.Letters(), " ")
		return osc.Arg{}, r.wrong("arguments of type %q are not read here; only %s", tag, known)
	case t.Kind == osctype.Text:
		text, err := r.text(t.Read)
		return osc.Packed(tag, 0, text), err
	case r.end-r.at < t.Size:
		return osc.Arg{}, r.wrong("an argument of type %q is cut off", tag)
	}
	bits := uint64(0)
	for _, b := range r.data[r.at : r.at+t.Size] {
		bits = bits<<8 | uint64(b)
	}
	r.at += t.Size
	return osc.Packed(tag, bits, ""), nil
}

// text reads a text of some type.
func (r *packetReader) text(read func(rest []byte) (text string, size int, err error)) (string, error) {
	text, size, err := read(r.data[r.at:r.end])
	r.at += size
	if err != nil {
		return "", r.wrong("%w", err)
	}
	return text, nil
}
