package page_test

import (
	"compress/gzip"
	"encoding/json"
	"fmt"
	"io"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"backfield/cmd/backfield/page"
	"backfield/cmd/backfield/show"
	"backfield/cue/seat"
	"backfield/layout/source"
)

// standsOfAllKinds are two blocks, one of which counts for nothing, rows of different length, a sheet of seats, and a press
// box that is a seat too.
const standsOfAllKinds = `
[[stands]]
name  = "closed tonight"
front = { y = "-12 m", z = 2, width = 60 }
back  = { y = "-20 m", z = 6, width = 70 }
rows  = 3
seats = 20
weight = 0

[[stands]]
name    = "upper"
front   = { x = 4, y = -30, z = 14, width = 60 }
back    = { x = 4, y = -36, z = 18, width = 70 }
rows    = 4
spacing = "4 m"
`

// TestSeatsHaveTheNamesOfTheirRows: the screen finds a seat's row and number in the view, and the program knows the same
// seat by its index.
func TestSeatsHaveTheNamesOfTheirRows(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	if err := os.CopyFS(dir, os.DirFS("../../../examples/tiny")); err != nil {
		t.Fatal(err)
	}
	rig, err := os.ReadFile(filepath.Join(dir, "rig.toml"))
	if err != nil {
		t.Fatal(err)
	}
	text := strings.Replace(string(rig), "[reference]", "seats = \"stands.csv\"\n[reference]\nweight = 3", 1)
	for name, text := range map[string]string{"rig.toml": text + standsOfAllKinds,
		"stands.csv": "x,y,z,weight\n-30,-14,2.9,\n-29,-14,2.9,0\n0,-20,5.6,2\n"} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	var p source.Problems
	s, err := show.Load(show.Disk{}, filepath.Join(dir, "show.toml"), show.LoadOptions{}, &p)
	if err != nil || s.Show == nil {
		t.Fatal(err, p.All())
	}
	site := page.NewSite(nil, nil, "")
	if err := site.Update(s, nil); err != nil {
		t.Fatal(err)
	}
	get := func(path string, into any) {
		t.Helper()
		reply := httptest.NewRecorder()
		site.Handler(page.Loopback).ServeHTTP(reply, httptest.NewRequest("GET", "http://127.0.0.1/"+path, nil))
		var from io.Reader = reply.Body
		if reply.Header().Get("Content-Encoding") == "gzip" {
			z, err := gzip.NewReader(reply.Body)
			if err != nil {
				t.Fatal(err)
			}
			from = z
		}
		if err := json.NewDecoder(from).Decode(into); err != nil || reply.Code != 200 {
			t.Fatalf("%s: %d, %v", path, reply.Code, err)
		}
	}
	var v page.ShowView
	get("view", &v)
	if len(v.Field.Rows) != 4 {
		t.Fatalf("%d rows: %+v", len(v.Field.Rows), v.Field.Rows)
	}
	next := 0
	named := func(index int) (h seat.Heard) {
		t.Helper()
		get(fmt.Sprintf("seat?index=%d&player=Tpt+1&count=0", index), &h)
		if at := v.Field.Seats[index]; !h.Closed && (at[0] != h.XM || at[1] != h.YM || at[2] != h.ZM) {
			t.Errorf("seat %d is drawn at %v, and hears at %g, %g, %g", index, at, h.XM, h.YM, h.ZM)
		}
		return h
	}
	for i, r := range v.Field.Rows {
		if r.Block != "upper" || r.Row != i+1 || r.From != next {
			t.Errorf("row %d is %+v, from %d", i+1, r, next)
		}
		for _, number := range []int{1, r.Seats} {
			if h := named(r.From + number - 1); h.Block != r.Block || h.Row != r.Row || h.Number != number {
				t.Errorf("%s, row %d, seat %d is known as %q", r.Block, r.Row, number, h.Seat)
			}
		}
		next += r.Seats
	}
	if v.Field.Rows[0].Seats == v.Field.Rows[3].Seats {
		t.Error("all rows have the same length: it no longer tests this")
	}
	for i, want := range []string{"seat 1 of the sheet", "seat 3 of the sheet", "press box"} {
		if h := named(next + i); h.Seat != want {
			t.Errorf("the seat after the rows is known as %q, not %q", h.Seat, want)
		}
	}
	if len(v.Field.Seats) != next+3 {
		t.Errorf("%d seats, %d of them in rows", len(v.Field.Seats), next)
	}
}
