// Package wave reads and writes WAV files in memory: RIFF files of PCM or float samples. It opens no file.
package wave

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
)

// What Read takes.
const (
	minRate, maxRate = 8000, 192_000 // Hz
	maxChannels      = 32
	// MaxSeconds is the longest sound that is read.
	MaxSeconds = 660
)

// The formats of samples that Read knows, by their tag in the file.
const (
	pcm        = 1
	float      = 3
	extensible = 0xFFFE // the tag is in the first two bytes of the subformat
)

// fileLayout is how the samples of a file are written.
type fileLayout struct {
	tag, channels, bits int
	rate                int
}

// Read returns the samples of a WAV file, full scale ±1, and how many there are a second. Several channels become their
// mean. It takes PCM of 16, 24 and 32 bits and float of 32 and 64 bits; the error says what else the file has.
func Read(file []byte) (samples []float64, rate int, err error) {
	f, body, _, err := find(file)
	if err != nil {
		return nil, 0, err
	}
	samples, err = f.samples(body)
	return samples, f.rate, err
}

// Unsized reports whether a WAV file does not say how long its sound is, or says too much, as a recorder leaves it that
// was cut off. Read then takes all that follows.
func Unsized(file []byte) bool {
	_, _, unsized, err := find(file)
	return err == nil && unsized
}

// find finds the samples of a file.
func find(file []byte) (f fileLayout, samples []byte, unsized bool, err error) {
	if len(file) < 12 || string(file[:4]) != "RIFF" || string(file[8:12]) != "WAVE" {
		return f, nil, false, errors.New("not a WAV file; save it as WAV, 16 or 24 bits")
	}
	for at := 12; at+8 <= len(file); {
		name, size := string(file[at:at+4]), int64(binary.LittleEndian.Uint32(file[at+4:]))
		body := file[at+8:]
		if name == "data" {
			if f.rate == 0 {
				return f, nil, false, errors.New("damaged: the samples come before their format; save it again")
			}
			// A recorder that was cut off leaves a size of 0 or one that is too large: the samples are there all the same.
			if size > 0 && size <= int64(len(body)) {
				return f, body[:size], false, nil
			}
			return f, body, size > 0 || len(body) > 0, nil
		}
		if size > int64(len(body)) {
			return f, nil, false, fmt.Errorf("damaged: it ends within its %q; save it again", name)
		}
		if name == "fmt " {
			if f, err = readLayout(body[:size]); err != nil {
				return f, nil, false, err
			}
		}
		at += 8 + int(size+size%2) // chunks start at even places
	}
	return f, nil, false, errors.New("damaged: it has no samples; save it again")
}

func readLayout(b []byte) (f fileLayout, err error) {
	if len(b) < 16 {
		return f, errors.New("damaged: its format is cut off; save it again")
	}
	f = fileLayout{
		tag: int(binary.LittleEndian.Uint16(b)), channels: int(binary.LittleEndian.Uint16(b[2:])),
		bits: int(binary.LittleEndian.Uint16(b[14:])),
	}
	rate := binary.LittleEndian.Uint32(b[4:])
	if f.tag == extensible && len(b) >= 26 {
		f.tag = int(binary.LittleEndian.Uint16(b[24:]))
	}
	known := f.tag == pcm && (f.bits == 16 || f.bits == 24 || f.bits == 32) ||
		f.tag == float && (f.bits == 32 || f.bits == 64)
	switch {
	case !known:
		return f, fmt.Errorf("samples of kind %d with %d bits are not read; save it as WAV, 16 or 24 bits",
			f.tag, f.bits)
	case f.channels < 1 || f.channels > maxChannels:
		return f, fmt.Errorf("%d channels are out of range (1 to %d)", f.channels, maxChannels)
	case rate < minRate || rate > maxRate:
		return f, fmt.Errorf("%d samples a second are out of range (%d to %d)", rate, minRate, maxRate)
	}
	if has, needs := int(binary.LittleEndian.Uint16(b[12:])), f.channels*f.bits/8; has != needs {
		return f, fmt.Errorf("damaged: its header has %d bytes for a moment, and its samples take %d; save it again",
			has, needs)
	}
	f.rate = int(rate)
	return f, nil
}

func (f fileLayout) samples(body []byte) ([]float64, error) {
	bytes := f.bits / 8
	n := len(body) / (bytes * f.channels)
	switch {
	case n == 0:
		return nil, errors.New("the file has no samples; record something")
	case n > MaxSeconds*f.rate:
		return nil, fmt.Errorf("the sound is %d s long, and at most %d s are read; cut it", n/f.rate, MaxSeconds)
	}
	out := make([]float64, n)
	for i := range out {
		for range f.channels {
			out[i] += f.sample(body)
			body = body[bytes:]
		}
		if out[i] /= float64(f.channels); math.IsNaN(out[i]) || math.Abs(out[i]) > 1000 {
			return nil, fmt.Errorf("sample %d is not a sound (%g, full scale is 1); save it again", i+1, out[i])
		}
	}
	return out, nil
}

// sample is the first sample, full scale ±1.
func (f fileLayout) sample(b []byte) float64 {
	switch {
	case f.tag == float && f.bits == 64:
		return math.Float64frombits(binary.LittleEndian.Uint64(b))
	case f.tag == float:
		return float64(math.Float32frombits(binary.LittleEndian.Uint32(b)))
	case f.bits == 16:
		return float64(int16(binary.LittleEndian.Uint16(b))) / (1 << 15)
	case f.bits == 24:
		return float64(int32(uint32(b[0])<<8|uint32(b[1])<<16|uint32(b[2])<<24)) / (1 << 31)
	}
	return float64(int32(binary.LittleEndian.Uint32(b))) / (1 << 31)
}
