package levelkeys_test

import (
	"strings"
	"testing"

	"backfield/layout/level"
	"backfield/layout/levelkeys"
	"backfield/layout/source"
	"backfield/layout/table"
)

func read(t *testing.T, cell string, p *source.Problems) levelkeys.Pointing {
	t.Helper()
	f := &source.File{Name: "sets", Text: cell}
	return levelkeys.ReadPointing(table.Cell{Text: cell, Span: f.Whole()}, p)
}

// A cell and a key are read alike, and written as they were read.
func TestRead(t *testing.T) {
	type file struct {
		Facing levelkeys.Pointing `key:"facing"`
	}
	for text, want := range map[string]levelkeys.Pointing{
		"box":   {Set: true},
		"back":  {Facing: level.FacingDeg(180), Set: true},
		"40":    {Facing: level.FacingDeg(40), Set: true},
		"-12.5": {Facing: level.FacingDeg(-12.5), Set: true},
		"180":   {Facing: level.Back, Set: true},
		"0":     {Facing: level.FacingDeg(0), Set: true},
		"":      {},
	} {
		var p source.Problems
		got := read(t, text, &p)
		if got != want || len(p.All()) > 0 {
			t.Errorf("%q is %+v, want %+v; %v", text, got, want, p.All())
		}
		if again := read(t, got.Words(), &p); again != got {
			t.Errorf("%q is written as %q", text, got.Words())
		}
		if text == "" {
			continue
		}
		if strings.Trim(text, "-.0123456789") != "" {
			text = `"` + text + `"`
		}
		var of file
		table.Decode(table.ReadTOML(&source.File{Name: "rig", Text: "facing = " + text}, &p), &of, &p)
		if of.Facing != want || len(p.All()) > 0 {
			t.Errorf("as a key %s is %+v, want %+v; %v", text, of.Facing, want, p.All())
		}
	}
	for text, want := range map[string]string{"181": "a facing of 181 degrees", "NaN": "a facing of NaN", "side": "unknown facing"} {
		var p source.Problems
		if got := read(t, text, &p); got.Set || p.Errors() != 1 || !strings.Contains(p.All()[0].What, want) {
			t.Errorf("%q: %+v, %v", text, got, p.All())
		}
	}
}

// Whatever is in a cell is read or refused, and what is read is written back as the same.
func FuzzRead(f *testing.F) {
	for _, seed := range []string{"box", "back", "40", "-180", "1e2", "Inf", " ", "0x10"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, cell string) {
		var p source.Problems
		got := read(t, cell, &p)
		if got.Set == (p.Errors() > 0) && cell != "" {
			t.Fatalf("%q: %+v, %d errors", cell, got, p.Errors())
		}
		if again := read(t, got.Words(), &p); got.Set && again != got {
			t.Errorf("%q is written as %q, which is %+v", cell, got.Words(), again)
		}
	})
}
