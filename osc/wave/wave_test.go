package wave

import (
	"encoding/binary"
	"math"
	"strings"
	"testing"
)

// file is a WAV file with these chunks.
func file(chunks ...string) []byte {
	body := "WAVE" + strings.Join(chunks, "")
	return []byte("RIFF" + string(binary.LittleEndian.AppendUint32(nil, uint32(len(body)))) + body)
}

func chunk(name string, body []byte) string {
	text := name + string(binary.LittleEndian.AppendUint32(nil, uint32(len(body)))) + string(body)
	return text + strings.Repeat("\x00", len(body)%2)
}

func format(tag, channels, rate, bits int) string {
	le := binary.LittleEndian
	b := le.AppendUint16(nil, uint16(tag))
	b = le.AppendUint16(b, uint16(channels))
	b = le.AppendUint32(b, uint32(rate))
	b = le.AppendUint32(b, uint32(rate*channels*bits/8))
	b = le.AppendUint16(b, uint16(channels*bits/8))
	b = le.AppendUint16(b, uint16(bits))
	if tag == extensible {
		b = append(b, 22, 0, byte(bits), 0, 3, 0, 0, 0, pcm, 0)
		b = append(b, "\x00\x00\x00\x00\x10\x00\x80\x00\x00\xaa\x00\x38\x9b\x71"...)
	}
	return chunk("fmt ", b)
}

func TestRead(t *testing.T) {
	le := binary.LittleEndian
	f32 := func(x float32) []byte { return le.AppendUint32(nil, math.Float32bits(x)) }
	for name, c := range map[string]struct {
		file []byte
		rate int
		want []float64
	}{
		"16 bits":     {file(format(pcm, 1, 48000, 16), chunk("data", []byte{0, 0x40, 0, 0x80})), 48000, []float64{0.5, -1}},
		"24 bits":     {file(format(pcm, 1, 44100, 24), chunk("data", []byte{0, 0, 0x40, 0, 0, 0xc0})), 44100, []float64{0.5, -0.5}},
		"32 bits":     {file(format(pcm, 1, 8000, 32), chunk("data", []byte{0, 0, 0, 0x20})), 8000, []float64{0.25}},
		"float":       {file(format(float, 1, 96000, 32), chunk("data", append(f32(0.75), f32(-2)...))), 96000, []float64{0.75, -2}},
		"double":      {file(format(float, 1, 96000, 64), chunk("data", le.AppendUint64(nil, math.Float64bits(0.1)))), 96000, []float64{0.1}},
		"two sides":   {file(format(pcm, 2, 48000, 16), chunk("data", []byte{0, 0x40, 0, 0, 0, 0x40, 0, 0xc0})), 48000, []float64{0.25, 0}},
		"extensible":  {file(format(extensible, 1, 48000, 24), chunk("data", []byte{0, 0, 0x40})), 48000, []float64{0.5}},
		"more chunks": {file(chunk("LIST", []byte("abc")), format(pcm, 1, 48000, 16), chunk("cue ", nil), chunk("data", []byte{0, 0x40}), "junk"), 48000, []float64{0.5}},
		"cut off":     {file(format(pcm, 1, 48000, 16), "data\xff\xff\xff\xff\x00\x40\x00"), 48000, []float64{0.5}},
		"no size":     {file(format(pcm, 1, 48000, 16), "data\x00\x00\x00\x00\x00\x40"), 48000, []float64{0.5}},
	} {
		got, rate, err := Read(c.file)
		if unsized := name == "cut off" || name == "no size"; Unsized(c.file) != unsized {
			t.Errorf("%s: it is taken to have no size: %t", name, !unsized)
		}
		if err != nil || rate != c.rate || len(got) != len(c.want) {
			t.Errorf("%s: %v at %d, %v; want %v at %d", name, got, rate, err, c.want, c.rate)
			continue
		}
		for i, x := range c.want {
			if math.Abs(got[i]-x) > 1e-7 {
				t.Errorf("%s: %v, want %v", name, got, c.want)
			}
		}
	}
}

func TestReadRefuses(t *testing.T) {
	zero := []byte(format(pcm, 1, 48000, 16))
	zero[8+12] = 0 // the block's bytes
	nan := binary.LittleEndian.AppendUint32(nil, math.Float32bits(float32(math.NaN())))
	for want, bad := range map[string][]byte{
		"0 bytes for a moment, and its samples take 2": file(string(zero), chunk("data", []byte{1, 2})),
		"not a WAV file":                           []byte("ID3"),
		"samples come before their format":         file(chunk("data", []byte{1, 2})),
		`ends within its "LIST"`:                   file("LIST\x09\x00\x00\x00a"),
		"its format is cut off":                    file(chunk("fmt ", []byte{1, 0})),
		"kind 1 with 8 bits":                       file(format(pcm, 1, 48000, 8)),
		"kind 85 with 16 bits":                     file(format(85, 1, 48000, 16)),
		"33 channels are out of range (1 to 32)":   file(format(pcm, 33, 48000, 16)),
		"0 channels are out of range":              file(format(pcm, 0, 48000, 16)),
		"4000 samples a second are out of range":   file(format(pcm, 1, 4000, 16)),
		"no samples; record something":             file(format(pcm, 1, 48000, 16), chunk("data", []byte{1})),
		"it has no samples; save":                  file(format(pcm, 1, 48000, 16)),
		"sample 1 is not a sound (NaN":             file(format(float, 1, 48000, 32), chunk("data", nan)),
		"is 661 s long, and at most 660 s are rea": file(format(pcm, 1, 8000, 16), chunk("data", make([]byte, 2*661*8000))),
	} {
		if got, _, err := Read(bad); err == nil || got != nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v, want %s", err, want)
		}
	}
}

func TestWriteAndRead(t *testing.T) {
	s := NewStereo(44100, 1)
	s.Add([]float64{0.5, 1.5}, []float64{0.5, -1.5})
	s.Add([]float64{-0.25}, []float64{0})
	got, rate, err := Read(s.Bytes())
	if err != nil || rate != 44100 || len(got) != 3 || s.Clipped != 2 {
		t.Fatalf("%v at %d, %v, %d clipped", got, rate, err, s.Clipped)
	}
	for i, want := range []float64{0.5, 0, -0.125} {
		if math.Abs(got[i]-want) > 1e-4 {
			t.Errorf("it reads %v", got)
		}
	}
	if size := binary.LittleEndian.Uint32(s.Bytes()[4:]); int(size) != len(s.Bytes())-8 {
		t.Errorf("its size is %d of %d", size, len(s.Bytes()))
	}
}

// Whatever a file has, reading it ends with samples or an error, and takes memory in proportion.
func FuzzReadWave(f *testing.F) {
	f.Add(file(format(pcm, 2, 48000, 16), chunk("data", []byte{0, 0x40, 0, 0})))
	f.Add(file(format(float, 1, 96000, 32), chunk("LIST", []byte("a")), chunk("data", []byte{0, 0, 0, 0x40})))
	f.Add(file(format(extensible, 1, 48000, 24), "data\xff\xff\xff\xff\x00\x00\x40"))
	f.Add([]byte("RIFF\x00\x00\x00\x00WAVEfmt \xff\xff\xff\xff"))
	f.Fuzz(func(t *testing.T, b []byte) {
		samples, rate, err := Read(b)
		if err != nil {
			if samples != nil {
				t.Fatalf("an error with %d samples", len(samples))
			}
			return
		}
		if len(samples) == 0 || len(samples) > len(b) || rate < minRate || rate > maxRate {
			t.Fatalf("%d samples at %d of %d bytes", len(samples), rate, len(b))
		}
		for _, x := range samples {
			if math.IsNaN(x) || math.IsInf(x, 0) {
				t.Fatalf("a sample is %v", x)
			}
		}
	})
}
