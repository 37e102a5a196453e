package wire

import (
	"bytes"
	"encoding/binary"
	"encoding/csv"
	"encoding/hex"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"strings"
	"testing"

	"backfield/layout/osctype"
	"backfield/osc"
)

var (
	oscillator = osc.Message{Address: "/oscillator/4/frequency", Args: []osc.Arg{osc.Float32(440)}}
	foo        = osc.Message{Address: "/foo", Args: []osc.Arg{osc.Int32(1000), osc.Int32(-1), osc.String("hello"),
		osc.Float32(1.234), osc.Float32(5.678)}}
)

// published returns the rows of osc_examples.csv by id.
func published(t testing.TB) map[string][]byte {
	t.Helper()
	f, err := os.Open("../../testdata/published/osc_examples.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	out := map[string][]byte{}
	for _, row := range rows[1:] {
		raw, err := hex.DecodeString(row[3])
		if err != nil || fmt.Sprint(len(raw)) != row[2] {
			t.Fatalf("row %s: %d bytes, %v", row[0], len(raw), err)
		}
		out[row[0]] = raw
	}
	return out
}

// TestPublished goes through every row: what this package writes and reads must agree, the rest is named.
func TestPublished(t *testing.T) {
	rows := published(t)
	met := map[string]bool{}
	row := func(id string) []byte {
		if rows[id] == nil {
			t.Fatalf("no row %s", id)
		}
		met[id] = true
		return rows[id]
	}

	for id, m := range map[string]osc.Message{
		"msg_oscillator_440": oscillator,
		"msg_foo_iisff":      foo,
		"msg_noargs":         {Address: "/go"},
		"msg_bool_true":      {Address: "/channel/3/mute", Args: []osc.Arg{osc.Bool(true)}},
		"msg_hd":             {Address: "/n", Args: []osc.Arg{osc.Int64(-2), osc.Float64(0.1)}},
		"msg_c0c0c0c0":       {Address: "/x", Args: []osc.Arg{osc.Int32(-1061109568)}},
	} {
		if m.Size() != len(row(id)) {
			t.Errorf("%s: %v has the size %d, want %d", id, m, m.Size(), len(row(id)))
		}
		if got := Encode(m); !bytes.Equal(got, row(id)) {
			t.Errorf("%s: %v encodes to %x, want %x", id, m, got, row(id))
		}
		if got, err := Decode(row(id)); err != nil || len(got) != 1 || got[0].String() != m.String() {
			t.Errorf("%s: decodes to %v, %v, want %v", id, got, err, m)
		}
	}
	for id, s := range map[string]string{"str_OSC": "OSC", "str_data": "data", "str_empty": "", "str_a": "a",
		"str_ab": "ab", "str_abc": "abc",
		"str_abcd": "abcd", "str_bundle": "#bundle", "str_comma": ",", "str_f_tag": ",f", "str_iisfff_tag": ",iisfff",
		"str_ibb_tag": ",ibb"} {
		if got := Encode(osc.Message{Address: "/s", Args: []osc.Arg{osc.String(s)}}); !bytes.Equal(got,
			append([]byte("/s\x00\x00,s\x00\x00"), row(id)...)) {
			t.Errorf("%s: %q encodes to %x", id, s, got)
		}
	}

	for id, ms := range map[string][]osc.Message{
		"bundle_empty_immediate": nil,
		"bundle_one":             {oscillator},
		"bundle_two":             {oscillator, foo},
		"bundle_nested":          {oscillator},
	} {
		if got, err := Decode(row(id)); err != nil || text(got) != text(ms) {
			t.Errorf("%s: decodes to %v, %v, want %v", id, got, err, ms)
		}
		if id == "bundle_one" || id == "bundle_two" {
			if got, err := Pack(ms, true, 1472); err != nil || len(got) != 1 || !bytes.Equal(got[0], row(id)) {
				t.Errorf("%s: packs to %x, %v, want %x", id, got, err, row(id))
			}
		}
	}
	if got := bundleHead[8:]; got != string(row("timetag_immediate")) {
		t.Errorf("time tag %x", got)
	}
	if got, err := Decode(row("msg_TFNI")); err == nil || !strings.Contains(err.Error(), `'N'`) {
		t.Errorf("msg_TFNI: %v, %v, want an error that names the tag N", got, err)
	}

	for id, framed := range map[string]struct {
		framing Framing
		packet  []byte
	}{
		"tcp10_prefix_msg1": {LengthPrefix, row("msg_oscillator_440")},
		"slip11_msg1":       {SLIP, row("msg_oscillator_440")},
		"slip11_c0c0c0c0":   {SLIP, row("msg_c0c0c0c0")},
		"slip11_dbc0":       {SLIP, []byte{0x01, 0xDB, 0x49, 0xC0, 0x15}},
	} {
		if got := framed.framing.Append(nil, framed.packet); !bytes.Equal(got, row(id)) {
			t.Errorf("%s: frames to %x, want %x", id, got, row(id))
		}
		if got, err := frames(t, bytes.NewReader(row(id)), framed.framing, 0); len(got) != 1 ||
			!bytes.Equal(got[0], framed.packet) || err != io.EOF {
			t.Errorf("%s: holds %x, %v, want %x", id, got, err, framed.packet)
		}
	}

	// This package sends no blobs, and no times other than "at once".
	for id := range rows {
		other := strings.HasPrefix(id, "blob_") || strings.HasPrefix(id, "timetag_")
		if !met[id] && !other {
			t.Errorf("row %s is in no test", id)
		}
	}
}

func text(ms []osc.Message) string {
	var b strings.Builder
	for _, m := range ms {
		fmt.Fprintln(&b, m)
	}
	return b.String()
}

func TestEncodeEndsAStringAtItsFirstNUL(t *testing.T) {
	for _, m := range []osc.Message{
		{Address: "/a\x00b", Args: []osc.Arg{osc.String("\x00c")}},
		{Address: "/a", Args: []osc.Arg{osc.String("\x00")}},
	} {
		if got, want := Encode(m), []byte("/a\x00\x00,s\x00\x00\x00\x00\x00\x00"); !bytes.Equal(got, want) {
			t.Errorf("%q encodes to %q, want %q", m, got, want)
		}
	}
}

func TestEncodePanicsOnAStrangeArgument(t *testing.T) {
	defer func() {
		if recover() == nil {
			t.Error("a message with an argument that is none was encoded")
		}
	}()
	Encode(osc.Message{Address: "/a", Args: make([]osc.Arg, 1)})
}

func TestPackSizes(t *testing.T) {
	// 20 bytes each: "/in/N/x" 8, ",f" 4, the argument 4 are 16, and the size takes 4
	var ms []osc.Message
	for i := range 10 {
		ms = append(ms, osc.Message{Address: fmt.Sprintf("/in/%d/x", i), Args: []osc.Arg{osc.Float32(float32(i))}})
	}
	for _, c := range []struct {
		bundle bool
		max    int
		want   string // messages in each packet
	}{
		{false, 1472, "1 1 1 1 1 1 1 1 1 1"},
		{false, 16, "1 1 1 1 1 1 1 1 1 1"},
		{true, 1472, "10"},
		{true, 16 + 10*20, "10"},
		{true, 16 + 10*20 - 1, "9 1"},
		{true, 16 + 3*20, "3 3 3 1"},
		{true, 16 + 20, "1 1 1 1 1 1 1 1 1 1"},
	} {
		packets, err := Pack(ms, c.bundle, c.max)
		if err != nil {
			t.Fatal(err)
		}
		var sizes []string
		var all []osc.Message
		for _, p := range packets {
			got, err := Decode(p)
			if err != nil || len(p) > c.max || len(got) != messagesIn(p) {
				t.Errorf("%d bytes of at most %d, %d messages counted as %d, %v", len(p), c.max, len(got),
					messagesIn(p), err)
			}
			sizes = append(sizes, fmt.Sprint(len(got)))
			all = append(all, got...)
		}
		if got := strings.Join(sizes, " "); got != c.want || text(all) != text(ms) {
			t.Errorf("bundle %t, max %d: packets of %s, want %s", c.bundle, c.max, got, c.want)
		}
	}
	for _, bundle := range []bool{false, true} {
		limit := map[bool]int{false: 15, true: 35}[bundle]
		if got, err := Pack(ms[4:], bundle, limit); got != nil || err == nil ||
			!strings.Contains(err.Error(), "/in/4/x") {
			t.Errorf("bundle %t of at most %d bytes: %v, %v, want an error that names /in/4/x", bundle, limit, got, err)
		}
	}
	if got, err := Pack(nil, true, 64); len(got) != 0 || err != nil {
		t.Errorf("nothing packs to %v, %v", got, err)
	}
}

func TestDecodeRefuses(t *testing.T) {
	nest := func(depth int) []byte {
		p := Encode(oscillator)
		for range depth {
			p = append(binary.BigEndian.AppendUint32([]byte(bundleHead), uint32(len(p))), p...)
		}
		return p
	}
	if ms, err := Decode(nest(maxDepth)); err != nil || len(ms) != 1 {
		t.Errorf("%d bundles deep: %v, %v", maxDepth, ms, err)
	}
	for _, c := range []struct{ packet, want string }{
		{"", "byte 0: an element is empty"},
		{"/go\x00,\x00\x00", "byte 0: 7 bytes are not a multiple of 4"},
		{"abc\x00", "byte 0: not OSC: it starts with neither"},
		{"#bun", "byte 0: not OSC: it starts with neither"},
		{"#bundle\x00\x00\x00\x00\x00", "byte 0: a bundle without a time tag"},
		{bundleHead + "\x00\x00\x00\x08/go\x00", "byte 16: an element of 8 bytes, but only 4 are left"},
		{bundleHead + "\xff\xff\xff\xfc/go\x00", "byte 16: an element of 4294967292 bytes, but only 4 are left"},
		{bundleHead + "\x00\x00\x00\x00", "byte 20: an element is empty"},
		{bundleHead + "\x00\x00\x00\x03/go\x00", "byte 20: 3 bytes are not a multiple of 4"},
		{"/abc", "byte 0: a string is cut off"},
		{"/a\x00b", "byte 3: a string's padding is not zero"},
		{"/a b\x00\x00\x00\x00", "byte 2: the byte 20 is not allowed in an address"},
		{"/a\xff\x00", "byte 2: the byte FF is not allowed in an address"},
		{"/go\x00abc\x00", "/go: byte 4: the type tags must start with a comma"},
		{"/go\x00,i\x00\x00", "/go: byte 8: an argument of type 'i' is cut off"},
		{"/go\x00,d\x00\x00\x00\x00\x00\x00", "/go: byte 8: an argument of type 'd' is cut off"},
		{"/go\x00,s\x00\x00abcd", "/go: byte 8: a string is cut off"},
		{"/go\x00,T\x00\x00\x00\x00\x00\x00", "/go: byte 8: 4 bytes are left over"},
		{"/go\x00,?\x00\x00\x00\x00\x00\x00", "/go: byte 8: arguments of type '?' are not supported"},
		{"/go\x00,[T]\x00\x00\x00\x00", "/go: byte 12: arguments of type '[' are not supported"},
		{string(nest(maxDepth + 1)), fmt.Sprintf("byte %d: bundles are nested more than 8 deep", 20*maxDepth)},
	} {
		got, err := Decode([]byte(c.packet))
		if err == nil || !strings.HasPrefix(err.Error(), c.want) || got != nil {
			t.Errorf("%q: %v, %v, want %s", c.packet, got, err, c.want)
		}
	}
	if got, err := Decode([]byte("/go\x00")); err != nil || len(got) != 1 || got[0].String() != "/go" {
		t.Errorf("a message without type tags: %v, %v", got, err)
	}
}

// randomMessage has every type of argument, with extreme values too.
func randomMessage(r *rand.Rand) osc.Message {
	m := osc.Message{Address: "/" + strings.Repeat("x", 1+r.IntN(6))}
	for range r.IntN(5) {
		t := osctype.All[r.IntN(len(osctype.All))]
		a := osc.Packed(t.Tag, 0, "")
		switch {
		case t.Kind == osctype.Text:
			a = osc.Packed(t.Tag, 0, strings.Repeat("é\n", r.IntN(4)))
		case t.Kind == osctype.Number && r.IntN(4) == 0:
			extreme := []float64{0, 1, -1, math.MaxFloat64, -math.MaxFloat64, math.SmallestNonzeroFloat64}[r.IntN(6)]
			a = osc.Number(t.Tag, extreme)
		case t.Kind == osctype.Number:
			a = osc.Packed(t.Tag, r.Uint64()>>(64-8*t.Size), "")
		}
		m.Args = append(m.Args, a)
	}
	return m
}

func TestRoundTrip(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 8))
	for range 2000 {
		m := randomMessage(r)
		got, err := Decode(Encode(m))
		if err != nil || len(got) != 1 || got[0].Tags() != m.Tags() || !bytes.Equal(Encode(got[0]), Encode(m)) {
			t.Fatalf("%v comes back as %v, %v", m, got, err)
		}
		for i, a := range m.Args {
			if b := got[0].Args[i]; a != b {
				t.Fatalf("%v comes back as %v", a, b)
			}
		}
	}
}

func FuzzDecode(f *testing.F) {
	for _, raw := range published(f) {
		f.Add(raw)
	}
	f.Fuzz(func(t *testing.T, packet []byte) {
		ms, err := Decode(packet)
		if err != nil {
			if ms != nil {
				t.Errorf("messages %v with the error %v", ms, err)
			}
			return
		}
		if 8*len(ms) > len(packet)+4 {
			t.Errorf("%d messages of %d bytes", len(ms), len(packet))
		}
		for _, bundle := range []bool{false, true} {
			packets, err := Pack(ms, bundle, math.MaxInt32)
			if err != nil {
				t.Fatal(err)
			}
			var again []osc.Message
			for _, p := range packets {
				x, err := Decode(p)
				if err != nil || len(x) != messagesIn(p) {
					t.Fatalf("%x, packed again as %x, does not decode: %v", packet, p, err)
				}
				again = append(again, x...)
			}
			if len(again) != len(ms) {
				t.Fatalf("%d messages became %d", len(ms), len(again))
			}
			for i := range ms {
				if !bytes.Equal(Encode(ms[i]), Encode(again[i])) {
					t.Errorf("%v became %v", ms[i], again[i])
				}
			}
		}
	})
}
