package wire

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"testing/iotest"
)

// frames reads all packets of a stream, and returns the error at the end.
func frames(t testing.TB, in io.Reader, f Framing, limit int) (packets [][]byte, end error) {
	t.Helper()
	r := NewFrames(in, f, limit)
	for {
		packet, err := r.Next()
		if err != nil {
			if again, err2 := r.Next(); packet != nil || again != nil || err2 != err {
				t.Fatalf("after the error %v: %x, %x, %v", err, packet, again, err2)
			}
			return packets, err
		}
		packets = append(packets, bytes.Clone(packet))
	}
}

func TestFrames(t *testing.T) {
	for _, c := range []struct {
		framing    Framing
		stream     string
		want, over string // packets, and the error
	}{
		{LengthPrefix, "", "", "EOF"},
		{LengthPrefix, "\x00\x00\x00\x04/go\x00\x00\x00\x00\x08/go\x00,\x00\x00\x00",
			`"/go\x00" "/go\x00,\x00\x00\x00"`, "EOF"},
		{LengthPrefix, "\x00\x00\x00\x04/go\x00\x00", `"/go\x00"`, "unexpected EOF"},
		{LengthPrefix, "\x00\x00\x00\x04", "", "unexpected EOF"},
		{LengthPrefix, "\x00\x00\x00\x04/go", "", "unexpected EOF"},
		{LengthPrefix, "\x00\x00\x00\x00", "", "a packet length of 0 bytes"},
		{LengthPrefix, "\xff\xff\xff\xfc/go\x00", "", "a packet length of -4 bytes"},
		{LengthPrefix, "\x80\x00\x00\x00/go\x00", "", "a packet length of -2147483648 bytes"},
		{LengthPrefix, "\x00\x00\x00\x05/go\x00\x00", "",
			"a packet length of 5 bytes, which is not a multiple of 4"},
		{LengthPrefix, "\x00\x00\x00\x10" + strings.Repeat("/", 16), `"////////////////"`, "EOF"},
		{LengthPrefix, "\x00\x00\x00\x14" + strings.Repeat("/", 20), "",
			"a packet length of 20 bytes, over the limit of 16"},
		{LengthPrefix, "\x7f\xff\xff\xfc/go\x00", "",
			"a packet length of 2147483644 bytes, over the limit of 16"},
		{LengthPrefix, "\xc0/go\x00\xc0", "",
			"it starts with SLIP's END byte: the sender uses slip://, not tcp://"},
		{LengthPrefix, "/go\x00", "", "a packet comes without its length, which tcp:// needs before each packet"},
		{LengthPrefix, "#bundle\x00", "", "a packet comes without its length, which tcp:// needs before each packet"},

		{SLIP, "", "", "EOF"},
		{SLIP, "\xc0\xc0\xc0", "", "EOF"},
		{SLIP, "\xc0/go\x00\xc0\xc0/a\x00\x00\xc0", `"/go\x00" "/a\x00\x00"`, "EOF"},
		{SLIP, "/go\x00\xc0/a\x00\x00\xc0", `"/go\x00" "/a\x00\x00"`, "EOF"}, // liblo
		{SLIP, "\xc0/go\x00\xc0/a\x00\x00\xc0", `"/go\x00" "/a\x00\x00"`, "EOF"},
		{SLIP, "\xc0/\xdb\xdc\xdb\xdd\xc0", `"/\xc0\xdb"`, "EOF"},
		{SLIP, "\xc0/go", "", "unexpected EOF"},
		{SLIP, "\xc0\xdb", "", "unexpected EOF"},
		{SLIP, "\xc0/\xdb", "", "unexpected EOF"},
		{SLIP, "\xc0/\xdb\xc0", "", "SLIP's ESC before the byte C0; only DC and DD may follow it"},
		{SLIP, "\xc0/\xdb\xdb\xdc\xc0", "", "SLIP's ESC before the byte DB; only DC and DD may follow it"},
		{SLIP, strings.Repeat("/", 16) + "\xc0", `"////////////////"`, "EOF"},
		{SLIP, strings.Repeat("/", 17) + "\xc0", "", "a packet of more than 16 bytes"},
		{SLIP, strings.Repeat("/", 15) + "\xdb\xdd\xc0", `"///////////////\xdb"`, "EOF"},
		{SLIP, strings.Repeat("/", 16) + "\xdb\xdd\xc0", "", "a packet of more than 16 bytes"},
		{SLIP, "\x00\x00\x00\x04/go\x00", "",
			"a packet starts with a zero byte: the sender uses tcp://, not slip://"},
	} {
		packets, err := frames(t, strings.NewReader(c.stream), c.framing, 16)
		var got []string
		for _, p := range packets {
			got = append(got, fmt.Sprintf("%q", p))
		}
		if strings.Join(got, " ") != c.want || err.Error() != c.over {
			t.Errorf("%q: %s, %v, want %s, %s", c.stream, got, err, c.want, c.over)
		}
		var frame badFrame
		if strings.Contains(c.over, "EOF") == errors.As(err, &frame) {
			t.Errorf("%q: %v is of type %T", c.stream, err, err)
		}
	}
	broken := errors.New("broken")
	for framing, heads := range map[Framing][]string{LengthPrefix: {"", "\x00\x00", "\x00\x00\x00\x04/g"},
		SLIP: {"", "\xc0", "/g", "/\xdb"}} {
		for _, head := range heads {
			if _, err := frames(t, io.MultiReader(strings.NewReader(head), iotest.ErrReader(broken)), framing,
				0); err != broken {
				t.Errorf("framing %d, %q before an error: %v", framing, head, err)
			}
		}
	}
}

// TestFramesLimit: the limit is MaxPacket unless given, and it limits the memory too.
func TestFramesLimit(t *testing.T) {
	for _, f := range []Framing{LengthPrefix, SLIP} {
		for _, c := range []struct {
			size int
			fits bool
		}{{MaxPacket, true}, {MaxPacket + 4, false}} {
			packet := bytes.Repeat([]byte("/\xc0\xdb."), c.size/4)
			packets, err := frames(t, bytes.NewReader(f.Append(nil, packet)), f, 0)
			if (err == io.EOF) != c.fits || len(packets) == 1 != c.fits || c.fits && !bytes.Equal(packets[0], packet) {
				t.Errorf("framing %d, %d bytes: %d packets, %v", f, c.size, len(packets), err)
			}
		}
		endless := io.MultiReader(strings.NewReader("\x00\x00\x00\x04"[:4*(1-int(f))]), forever('/'))
		r := NewFrames(endless, f, 64)
		var err error
		for err == nil {
			_, err = r.Next()
		}
		if cap(r.packet) > 256 {
			t.Errorf("framing %d: room for %d bytes with a limit of 64", f, cap(r.packet))
		}
	}
}

type forever byte

func (b forever) Read(p []byte) (int, error) {
	for i := range p {
		p[i] = byte(b)
	}
	return len(p), nil
}

// cutAnyhow reads a stream in pieces of random sizes.
type cutAnyhow struct {
	in *bytes.Reader
	r  *rand.Rand
}

func (c cutAnyhow) Read(p []byte) (int, error) {
	return c.in.Read(p[:min(len(p), 1+c.r.IntN(5))])
}

// plainLengthPrefix and plainSLIP do the same as Frames in the simplest way, on a whole stream. clean is whether the
// stream ends between packets.
func plainLengthPrefix(stream []byte, limit int) (packets [][]byte, clean bool) {
	for len(stream) >= 4 {
		n := int(int32(binary.BigEndian.Uint32(stream)))
		if n <= 0 || n > limit || n%4 != 0 || n > len(stream)-4 {
			return packets, false
		}
		packets = append(packets, stream[4:4+n])
		stream = stream[4+n:]
	}
	return packets, len(stream) == 0
}

func plainSLIP(stream []byte, limit int) (packets [][]byte, clean bool) {
	parts := bytes.Split(stream, []byte{0xC0})
	for i, part := range parts {
		var packet []byte
		for j := 0; j < len(part); j++ {
			b := part[j]
			if b == 0xDB {
				j++
				switch {
				case j < len(part) && part[j] == 0xDC:
					b = 0xC0
				case j < len(part) && part[j] == 0xDD:
				default:
					return packets, false
				}
			}
			packet = append(packet, b)
		}
		switch {
		case i == len(parts)-1:
			return packets, len(packet) == 0
		case len(packet) > limit || len(packet) > 0 && packet[0] == 0:
			return packets, false
		case len(packet) > 0:
			packets = append(packets, packet)
		}
	}
	return packets, true
}

func fuzzFrames(f *testing.F, framing Framing, plain func([]byte, int) ([][]byte, bool)) {
	for _, raw := range published(f) {
		f.Add(raw, uint64(1))
		f.Add(framing.Append(framing.Append(nil, raw), raw), uint64(len(raw)))
	}
	for _, s := range []string{"\xc0\xc0/\xdb\xdc\xdb\xdd\xc0", "\xc0/\xdb\xc0",
		"\x00\x00\x00\x04/go\x00\x00\x00\x00\x05", "\x00\x00\x00\x00"} {
		f.Add([]byte(s), uint64(2))
	}
	f.Fuzz(func(t *testing.T, stream []byte, seed uint64) {
		r := rand.New(rand.NewPCG(seed, 1))
		limit := 4 * (1 + r.IntN(32))
		got, err := frames(t, cutAnyhow{bytes.NewReader(stream), r}, framing, limit)
		want, clean := plain(stream, limit)
		if !slices.EqualFunc(got, want, bytes.Equal) || (err == io.EOF) != clean {
			t.Fatalf("%x, at most %d: %x, %v, want %x, clean %t", stream, limit, got, err, want, clean)
		}

		// Any packets come out of a stream as they went in.
		var packets [][]byte
		var framed []byte
		for rest := stream; len(rest) >= 4; {
			n := min(4*(1+r.IntN(8)), len(rest)/4*4)
			packet := append([]byte{'/'}, rest[1:n]...)
			packets, framed, rest = append(packets, packet), framing.Append(framed, packet), rest[n:]
		}
		again, err := frames(t, cutAnyhow{bytes.NewReader(framed), r}, framing, 32)
		if err != io.EOF || !slices.EqualFunc(again, packets, bytes.Equal) {
			t.Fatalf("%x became %x, %v", packets, again, err)
		}
	})
}

func FuzzLengthPrefix(f *testing.F) { fuzzFrames(f, LengthPrefix, plainLengthPrefix) }

func FuzzSLIP(f *testing.F) { fuzzFrames(f, SLIP, plainSLIP) }
