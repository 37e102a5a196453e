// Package music reads a movement's time from the files that music staff have: a Standard MIDI File, or MusicXML plain
// (.musicxml) or packed (.mxl). Either becomes a piece, which is laid into the movement: tempo, measures and rehearsal
// marks, in the counts that the drill is written in. Files are recognized by their first bytes, not by their names.
package music

import (
	"bytes"
	"math"

	"backfield/cue/score"
	"backfield/layout/source"
)

// The most bytes that a file may have, MusicXML unpacked.
const (
	xmlLimit  = 64 << 20
	midiLimit = 4 << 20
)

const (
	mostMeasures = 20_000
	mostQuarters = 50_000  // how long a file may be
	mostCounts   = 100_000 // as of any movement
	mostTempos   = 20_000
	slowest      = 1 // counts a minute; a fermata is often written as a very slow count
	fastest      = 1000
)

// Library are the files of one show, which several movements may share. The zero value is ready.
type Library struct{ read map[string]*piece }

// Read reads the file of a movement, whose File is set, and fills in its Music and Changes. Path is where raw came
// from, order the file's rank among all. After an error Music stays nil; a problem with a file is reported once.
func (f *Library) Read(path string, raw []byte, order int, m *score.Movement, p *source.Problems) {
	c, known := f.read[path]
	if !known {
		r := musicReader{path: path, raw: raw, order: order, at: m.File.Name.Span, p: p}
		c = r.read()
		if f.read == nil {
			f.read = map[string]*piece{}
		}
		f.read[path] = c
	}
	if c != nil {
		c.lay(m, p)
	}
}

// musicReader is one reading of one file.
type musicReader struct {
	path  string
	raw   []byte
	order int
	at    source.Span // where the score names it
	p     *source.Problems
}

// read returns nil after an error.
func (r musicReader) read() (c *piece) {
	before, raw := r.p.Errors(), r.raw
	switch {
	case bytes.HasPrefix(raw, []byte("MThd")):
		c = r.midi()
	case bytes.HasPrefix(raw, []byte("PK\x03\x04")):
		if name, text := r.unpack(); text != nil {
			r.path += "/" + name
			c = r.musicXML(text)
		}
	case bytes.HasPrefix(raw, []byte("RIFF")):
		r.bad("is a MIDI file in a RIFF wrapper", "save it as a plain Standard MIDI File")
	case bytes.HasPrefix(bytes.TrimLeft(raw, "\xef\xbb\xbf\xfe\xff\x00 \t\r\n"), []byte("<")):
		c = r.musicXML(raw)
	default:
		r.bad("is neither a Standard MIDI File nor MusicXML", "export the music as .mid, .musicxml or .mxl")
	}
	if r.p.Errors() > before {
		return nil
	}
	return c
}

// bad says that the file as a whole is no good.
func (r *musicReader) bad(what, do string) {
	r.p.Add(badFile(r.at, r.path, what, do))
}

// agree reports tempos of two tracks or parts that are at one place and differ. Within one of them the last counts.
func (r *musicReader) agree(tempos []fileTempo) bool {
	for i := 1; i < len(tempos); i++ {
		a, b := tempos[i-1], tempos[i]
		if a.part != b.part && b.at < a.at+1e-9 && math.Abs(a.quarters/b.quarters-1) > 1e-4 {
			at, notes := b.span, []source.Note{{Span: a.span, Text: "the other"}}
			if at.File == nil {
				at, notes = r.at, nil
			}
			r.p.Add(twoTempos(at, r.path, a, b, notes))
			return false
		}
	}
	return true
}
