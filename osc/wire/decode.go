package wire

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"strings"

	"backfield/layout/osctype"
	"backfield/osc"
)

// maxDepth is how deep bundles may be nested. Real senders use one or two levels.
const maxDepth = 8

// Decode reads a packet: one message, or a bundle's messages in order. Time tags are ignored, since a mixer acts at
// once. It is strict: sizes must add up, padding must be zero, an address must be valid, and a type tag that is not in
// osctype.All is an error that names it. A message without type tags has no arguments. It uses a small multiple of the
// packet's size in memory.
func Decode(packet []byte) ([]osc.Message, error) {
	return element(nil, &packetReader{packet, 0, len(packet)}, 1)
}

// element reads a message or a bundle that fills r, and adds its messages to out.
func element(out []osc.Message, r *packetReader, depth int) ([]osc.Message, error) {
	switch {
	case r.end == r.at:
		return nil, r.wrong("an element is empty")
	case (r.end-r.at)%4 != 0:
		return nil, r.wrong("%d bytes are not a multiple of 4", r.end-r.at)
	case r.data[r.at] == '/':
		m, err := r.message()
		if err != nil {
			return nil, err
		}
		return append(out, m), nil
	case !bytes.HasPrefix(r.data[r.at:r.end], []byte(bundleHead[:8])):
		return nil, r.wrong("not OSC: it starts with neither \"/\" nor \"#bundle\"")
	case depth > maxDepth:
		return nil, r.wrong("bundles are nested more than %d deep", maxDepth)
	case r.end-r.at < len(bundleHead):
		return nil, r.wrong("a bundle without a time tag")
	}
	r.at += len(bundleHead)
	for r.at < r.end {
		size := int64(binary.BigEndian.Uint32(r.data[r.at:])) // within the data, because all sizes are multiples of 4
		if size > int64(r.end-r.at-4) {
			return nil, r.wrong("an element of %d bytes, but only %d are left", size, r.end-r.at-4)
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
			return m, r.wrong("the byte %02X is not allowed in an address", c)
		}
	}
	if m.Args, err = r.arguments(); err != nil {
		return m, fmt.Errorf("%s: %w", m.Address, err)
	}
	return m, nil
}

func (r *packetReader) arguments() ([]osc.Arg, error) {
	if r.at == r.end {
		return nil, nil // old senders omit the type tags
	}
	if r.data[r.at] != ',' {
		return nil, r.wrong("the type tags must start with a comma")
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
		return osc.Arg{}, r.wrong("arguments of type %q are not supported; only %s", tag, known)
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
