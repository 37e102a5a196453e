package timecode

// pieces is how many quarter frames make a code. They take two frames.
const pieces = 8

// Piece is the data byte of quarter frame n, 0 to 7, of a code.
func (c Code) Piece(n int) byte {
	v := [pieces]int{
		c.Frames & 15, c.Frames >> 4, c.Seconds & 15, c.Seconds >> 4, c.Minutes & 15, c.Minutes >> 4,
		c.Hours & 15, c.Hours>>4 | int(c.Rate)<<1,
	}[n]
	return byte(n<<4 | v)
}

// FullFrame is the data of the system exclusive message that says a code at once, to every device.
func (c Code) FullFrame() []byte {
	return []byte{0x7F, 0x7F, 1, 1, byte(int(c.Rate)<<5 | c.Hours), byte(c.Minutes), byte(c.Seconds), byte(c.Frames)}
}

// ReadFullFrame reads the data of a system exclusive message; ok is false if it is another one.
func ReadFullFrame(data []byte) (c Code, ok bool) {
	if len(data) != 8 || data[0] != 0x7F || data[2] != 1 || data[3] != 1 {
		return c, false
	}
	c = Code{int(data[4] & 31), int(data[5]), int(data[6]), int(data[7]), Rate(data[4] >> 5)}
	return c, c.Valid()
}

// Assembler puts quarter frames together. The zero value has seen none.
type Assembler struct {
	have  int          // pieces in a row so far, from piece 0
	data  [pieces]byte // the pieces
	known bool         // base is the code of the last whole set
	base  Code
	last  int // the last piece's number
	back  int // pieces in a row that ran backward
}

// QuarterTime is what a quarter frame says.
type QuarterTime struct {
	Known    bool    // S is the time at this very quarter frame
	S        float64 // since 00:00:00:00
	Rate     Rate
	Backward bool // the code runs backward
}

// Add takes a quarter frame. Eight of them say the code that was true at the first; from then on each one says the time,
// as long as it is the piece that must come next.
func (a *Assembler) Add(data byte) QuarterTime {
	n, before := int(data>>4), a.last
	a.last = n
	if n == (before+pieces-1)%pieces { // the piece before the last one
		if a.back++; a.back >= 2 {
			a.have, a.known = 0, false
			return QuarterTime{Backward: a.back >= pieces}
		}
	} else {
		a.back = 0
	}
	switch {
	case n == 0:
		a.have = 0
	case n != a.have:
		a.have, a.known = 0, false // one is missing
		return QuarterTime{}
	}
	a.data[n] = data
	a.have++
	if a.known && data != At(a.base.Count()+2, a.base.Rate).Piece(n) {
		a.known = false // the code has jumped
	}
	if a.have == pieces {
		a.have = 0
		return a.whole()
	}
	if !a.known {
		return QuarterTime{}
	}
	frames := float64(a.base.Count()) + 2 + float64(n)/4
	return QuarterTime{Known: true, S: frames / a.base.Rate.FPS(), Rate: a.base.Rate}
}

// whole reads the code of eight pieces. The last of them comes seven quarters of a frame after the first.
func (a *Assembler) whole() QuarterTime {
	v := func(n int) int { return int(a.data[n] & 15) }
	c := Code{
		Frames: v(0) | v(1)&1<<4, Seconds: v(2) | v(3)&3<<4, Minutes: v(4) | v(5)&3<<4, Hours: v(6) | v(7)&1<<4,
		Rate: Rate(v(7) >> 1 & 3),
	}
	if a.known = c.Valid(); !a.known {
		return QuarterTime{}
	}
	a.base = c
	return QuarterTime{Known: true, S: (float64(c.Count()) + 7.0/4) / c.Rate.FPS(), Rate: c.Rate}
}
