package wave

import (
	"encoding/binary"
	"math"
)

const headSize = 44

// Stereo is a WAV file of two channels in the making: PCM of 16 bits. Make one with NewStereo.
type Stereo struct {
	Clipped int // samples over full scale, which are cut off
	rate    int
	file    []byte
}

// NewStereo starts a file of some samples a second, with room for this many on each side.
func NewStereo(rate, samples int) *Stereo {
	return &Stereo{rate: rate, file: make([]byte, headSize, headSize+4*samples)}
}

// Add adds samples, full scale ±1. The two sides are equally long.
func (s *Stereo) Add(left, right []float64) {
	for i := range left {
		s.file = binary.LittleEndian.AppendUint16(s.file, uint16(s.number(left[i])))
		s.file = binary.LittleEndian.AppendUint16(s.file, uint16(s.number(right[i])))
	}
}

func (s *Stereo) number(x float64) int16 {
	v := math.Round(x * math.MaxInt16)
	if math.Abs(v) > math.MaxInt16 {
		s.Clipped++
		v = math.Copysign(math.MaxInt16, v)
	}
	return int16(v)
}

// Bytes is the whole file so far.
func (s *Stereo) Bytes() []byte {
	le := binary.LittleEndian
	h := s.file[:headSize]
	copy(h, "RIFF")
	le.PutUint32(h[4:], uint32(len(s.file)-8))
	copy(h[8:], "WAVEfmt ")
	le.PutUint32(h[16:], 16)
	le.PutUint16(h[20:], pcm)
	le.PutUint16(h[22:], 2)
	le.PutUint32(h[24:], uint32(s.rate))
	le.PutUint32(h[28:], uint32(4*s.rate)) // bytes a second
	le.PutUint16(h[32:], 4)                // bytes of both sides
	le.PutUint16(h[34:], 16)
	copy(h[36:], "data")
	le.PutUint32(h[40:], uint32(len(s.file)-headSize))
	return s.file
}
