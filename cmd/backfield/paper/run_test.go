package paper

import (
	"fmt"
	"math"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"backfield/cmd/backfield/runsheet"
	"backfield/cmd/backfield/show"
	"backfield/cue"
)

// Each cue is on one page of the run sheet, in order. Each page begins with the band of a movement, which names it, or with
// a new one, and says in its foot which cues it has. What to do if it howls is on the first page alone.
func TestRunSheet(t *testing.T) {
	p := harbor(t, "")
	pages := p.runPages()
	t.Run("pages", func(t *testing.T) { wholeCues(t, "harbor", p, pages) })
	t.Run("bands", func(t *testing.T) { band(t, pages) })
	t.Run("howl", func(t *testing.T) { howl(t, p, pages[0].Howl) })
	t.Run("stamps", func(t *testing.T) { stamps(t, p, pages) })
	other := gathered(t, sixty(), "show.toml", nil)
	t.Run("other", func(t *testing.T) { wholeCues(t, "sixty", other, other.runPages()) })
}

func wholeCues(t *testing.T, name string, p *Papers, pages []runsheet.CuePage) {
	var ids []string
	bands := map[int]int{}
	for i, page := range pages {
		if (page.Howl != nil) != (i == 0) || page.N != i+1 || page.Of != len(pages) {
			t.Errorf("%s, page %d: howl %v, page %d of %d", name, i+1, page.Howl != nil, page.N, page.Of)
		}
		if len(page.Parts) > 0 && page.Parts[0].Band == nil {
			t.Errorf("%s, page %d does not begin with a movement", name, i+1)
		}
		for j, x := range page.Parts {
			if x.Band != nil {
				if j+1 == len(page.Parts) {
					t.Errorf("%s, page %d: the band of %s has no cue", name, i+1, x.Band.Name)
				}
				if !x.Band.Continued {
					bands[x.Band.Number]++
				}
				continue
			}
			ids = append(ids, x.Row.ID)
			if !strings.Contains(page.What, "cue") {
				t.Errorf("%s, page %d: its foot is %q", name, i+1, page.What)
			}
		}
	}
	var want []string
	for _, r := range p.Rows {
		want = append(want, r.ID)
	}
	if !slices.Equal(ids, want) {
		t.Errorf("%s: the pages have the cues %v", name, ids)
	}
	if len(bands) != len(p.Show.Clock.Movements) || bands[1] != 1 {
		t.Errorf("%s: bands %v", name, bands)
	}
}

// band: the band of a movement has its counts, its tempos, its cues and its time.
func band(t *testing.T, pages []runsheet.CuePage) {
	first := pages[0].Parts[0].Band
	if first == nil || first.Name != "Fog" || first.Facts != "220 counts · 132 → 152 → 160 → 138 bpm" ||
		first.Right != "cues 1 to 21 · 0:00 to 1:31" {
		t.Errorf("%+v", first)
	}
}

// howl: the box "if it howls" names the fixed mics that hush leaves open, and the mics whose loops balance ranks first. Without
// readings it says no figure.
func howl(t *testing.T, p *Papers, h *runsheet.Howl) {
	if h.FixedN != 9 || h.Fixed != "41–43, 45–50" || h.Measured || h.Unknown || len(h.First) != 4 {
		t.Fatalf("%+v", h)
	}
	fixed := 0
	for _, x := range h.First {
		if !strings.HasPrefix(x.Where, "movement ") { // 1:48.75 would read as a time
			t.Errorf("%s rings at %s", x.Who, x.Where)
		}
		if strings.Contains(x.Where, "dB") {
			t.Errorf("nothing was measured, and %s has a figure: %s", x.Who, x.Where)
		}
		if _, worn := p.Show.Roster.Player(x.Who); !worn {
			fixed++
		}
		i := slices.IndexFunc(p.Show.Show.Cues, func(c cue.Snapshot) bool { return c.ID == x.Cue })
		if i < 0 || !slices.ContainsFunc(p.Show.Show.Cues[i].Channels, func(c cue.Channel) bool {
			return c.Channel == x.Channel && c.Player == x.Who && c.Open
		}) {
			t.Errorf("%+v is not open there", x)
		}
	}
	if fixed != 2 {
		t.Errorf("%d of them are fixed, want 2", fixed)
	}
	// the loop of a worn mic that comes second is no greater than that of the first, in any cue
	greatest := map[string]float64{}
	for _, c := range p.sound.Cues() {
		for _, l := range c.Loops {
			for _, m := range l.Gains.Mics {
				db, _ := m.GreatestDB()
				if old, known := greatest[m.Name]; !known || db > old {
					greatest[m.Name] = db
				}
			}
		}
	}
	for name, db := range greatest {
		_, worn := p.Show.Roster.Player(name)
		for i, x := range h.First {
			_, sameWorn := p.Show.Roster.Player(x.Who)
			if worn == sameWorn && db > greatest[x.Who]+0.5 && name != h.First[i&^1].Who {
				t.Errorf("%s (%.1f dB) is before %s (%.1f dB)", name, db, x.Who, greatest[x.Who])
			}
		}
	}
	measured := gathered(t, show.Disk{}, filepath.Join("..", "..", "..", "testdata", "loud", "ringing", "show.toml"), nil)
	h = measured.runPages()[0].Howl
	if !h.Measured || len(h.First) == 0 || !strings.Contains(h.First[0].Where, "give or take 5") {
		t.Errorf("measured: %+v", h)
	}
}

// stamps: a stamp shows only the part of the field with the mics that the cue is about, and each of them with its sign.
func stamps(t *testing.T, p *Papers, pages []runsheet.CuePage) {
	view := regexp.MustCompile(`<circle cx="([\d.]+)" cy="([\d.]+)" r="2.3" class="(opens|stays)"`)
	for _, page := range pages {
		for _, x := range page.Parts {
			if x.Row == nil {
				continue
			}
			svg := string(x.Row.Stamp)
			i := slices.IndexFunc(p.Show.Show.Cues, func(c cue.Snapshot) bool { return c.ID == x.Row.ID })
			open := 0
			for _, c := range p.Show.Show.Cues[i].Channels {
				if c.Open && c.Kind == cue.Worn {
					open++
				}
			}
			marks := view.FindAllStringSubmatch(svg, -1)
			if len(marks) != open {
				t.Errorf("cue %s: %d marks for %d open worn mics", x.Row.ID, len(marks), open)
			}
			left, right, top, bottom := 120.0, 0.0, 48.0, 0.0
			for _, m := range marks {
				cx, _ := strconv.ParseFloat(m[1], 64)
				cy, _ := strconv.ParseFloat(m[2], 64)
				left, right, top, bottom = min(left, cx), max(right, cx), min(top, cy), max(bottom, cy)
				if cx < 2.3 || cx > 117.7 || cy < 2.3 || cy > 37 {
					t.Errorf("cue %s: a mark at %g, %g is cut off", x.Row.ID, cx, cy)
				}
			}
			if closes := strings.Count(svg, `class="closes"`); len(marks) > 8 && closes == 0 && right-left < 40 && bottom-top < 12 {
				t.Errorf("cue %s: its mics take only %.0f by %.0f pt: it is not cropped", x.Row.ID, right-left, bottom-top)
			}
			if open == 0 && !strings.Contains(svg, "closes") && !strings.Contains(svg, "no worn mic") {
				t.Errorf("cue %s: an empty stamp", x.Row.ID)
			}
		}
	}
}

// No style sets a text smaller than 9 pt, on no sheet: neither the style sheet nor a drawing, at the size at which the page
// prints it. TestPDF measures it on paper.
func TestNoTextUnderNinePoints(t *testing.T) {
	all := pagesOf(t, gathered(t, show.Disk{}, filepath.Join("..", "..", "..", "examples", "mill", "show.toml"), nil))
	css := regexp.MustCompile(`font(?:-size)?: *(?:bold )?([\d.]+)(pt|px)`)
	attribute := regexp.MustCompile(`font-size="([\d.]+)"`)
	box := regexp.MustCompile(`<svg [^>]*viewBox="\S+ \S+ ([\d.]+) ([\d.]+)"`)
	for name, page := range all {
		html := string(page.HTML)
		sizes := 0
		for _, m := range css.FindAllStringSubmatch(html, -1) {
			sizes++
			if v, _ := strconv.ParseFloat(m[1], 64); v < 9 {
				t.Errorf("%s: %s", name, m[0])
			}
		}
		if sizes < 10 {
			t.Errorf("%s: only %d sizes were found", name, sizes)
		}
		for _, svg := range strings.Split(html, "</svg>") {
			view := box.FindStringSubmatch(svg)
			if view == nil || strings.Contains(svg, `class="stamp"`) || strings.Contains(svg, `class="sign"`) {
				continue
			}
			w, _ := strconv.ParseFloat(view[1], 64)
			h, _ := strconv.ParseFloat(view[2], 64)
			ptPerUnit := min(pictureWideMM, pictureHighMM*w/h) / w * 72 / 25.4
			for _, m := range attribute.FindAllStringSubmatch(svg, -1) {
				if v, _ := strconv.ParseFloat(m[1], 64); v*ptPerUnit < 9 {
					t.Errorf("%s: text of %.2f pt", name, v*ptPerUnit)
				}
			}
		}
	}
}

// A handout says on each page whose it is, and has each time of each player once, also where one page has no room for
// all times of one player.
func TestHandoutPages(t *testing.T) {
	h := handout{Section: "trumpet"}
	for i := range 9 {
		w := micWearer{Player: fmt.Sprintf("Tpt %d", i)}
		for n := range 3 + 40*(i%4) {
			w.Open = append(w.Open, heardTime{From: fmt.Sprintf("Fog, count %d, set %d", 10*n+1, n),
				To: fmt.Sprintf("count %d", 10*n+8), Roles: "support, then feature"}.counted())
		}
		h.Players = append(h.Players, w)
	}
	pages := h.pages()
	got := map[string]int{}
	for i, page := range pages {
		if want := fmt.Sprintf("trumpet, %d of %d", i+1, len(pages)); page.Title() != want {
			t.Errorf("page %d is called %q", i+1, page.Title())
		}
		used := 0.0
		for _, x := range page.Players {
			got[x.Player] += len(x.Left) + len(x.Right)
			used += playerHead + max(high(x.Left), high(x.Right))
			if math.Abs(high(x.Left)-high(x.Right)) > 3*handoutLine+4 {
				t.Errorf("page %d: the columns of %s are %.0f and %.0f pt high", i+1, x.Player, high(x.Left), high(x.Right))
			}
		}
		if used > handoutRoom {
			t.Errorf("page %d needs %.0f pt", i+1, used)
		}
	}
	for _, w := range h.Players {
		if got[w.Player] != len(w.Open) {
			t.Errorf("%s has %d times on paper, want %d", w.Player, got[w.Player], len(w.Open))
		}
	}
	if one := (&handout{Section: "tuba", Players: h.Players[:1]}).pages(); len(one) != 1 || one[0].Title() != "tuba" {
		t.Errorf("a short handout: %d pages, %q", len(one), one[0].Title())
	}
}

// The chart of a show with many cues goes over two pages, which join at a count that both have. Each id has room.
func TestChartPagesJoin(t *testing.T) {
	p := gathered(t, sixty(), "show.toml", nil)
	charts := p.charts()
	if len(charts) != 5 || charts[0].Title != "The whole show, 1 of 2" || charts[1].Title != "The whole show, 2 of 2" {
		t.Fatalf("%d charts, the first is %q", len(charts), charts[0].Title)
	}
	joint := regexp.MustCompile(`font-weight="bold" text-anchor="(start|end)" [^>]*>(\d+:[\d.]+)</text>`)
	first, second := joint.FindStringSubmatch(string(charts[0].SVG)), joint.FindStringSubmatch(string(charts[1].SVG))
	if first == nil || second == nil || first[1] != "end" || second[1] != "start" || first[2] != second[2] {
		t.Errorf("they join at %v and %v", first, second)
	}
	whole := string(charts[0].SVG) + string(charts[1].SVG)
	for _, r := range p.Rows {
		if !strings.Contains(whole, ">"+r.ID+"</text>") {
			t.Errorf("cue %s is not on the chart of the whole show", r.ID)
		}
	}
}
