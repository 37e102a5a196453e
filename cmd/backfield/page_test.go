package main

import (
	"bufio"
	"compress/gzip"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp/kb"

	"backfield/cmd/backfield/browser"
	"backfield/cmd/backfield/page"
	"backfield/cmd/backfield/show"
	"backfield/cmd/backfield/verb"
	"backfield/cue"
	"backfield/layout"
	"backfield/layout/source"
)

// paged starts the real command on a copy of a show and returns its folder and the page's address.
func paged(t *testing.T, from string, args ...string) (dir, address string) {
	t.Helper()
	dir = copied(t, from)
	cmd := exec.Command("backfield", append([]string{"page", dir, "--at", "127.0.0.1:0"}, args...)...)
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	var talk strings.Builder
	cmd.Stderr = &talk
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		cmd.Process.Signal(os.Interrupt)
		if err := cmd.Wait(); err != nil {
			t.Errorf("page ends with %v\n%s", err, talk.String())
		}
	})
	line, err := bufio.NewReader(out).ReadString('\n')
	if address = strings.TrimSpace(line); err != nil || !strings.HasPrefix(address, "http://127.0.0.1:") {
		t.Fatalf("the page's address is %q (%v)", line, err)
	}
	return dir, address
}

func fetched(t *testing.T, address string, into any) int {
	t.Helper()
	reply, err := http.Get(address)
	if err != nil {
		t.Fatal(err)
	}
	defer reply.Body.Close()
	data, err := io.ReadAll(reply.Body)
	if err != nil {
		t.Fatal(err)
	}
	if into != nil && reply.StatusCode == http.StatusOK {
		if err := json.Unmarshal(data, into); err != nil {
			t.Fatalf("%s: %v\n%.200s", address, err, data)
		}
	}
	return reply.StatusCode
}

// TestPageKeepsToItself sends requests that a page of another site could send.
func TestPageKeepsToItself(t *testing.T) {
	t.Parallel()
	_, address := paged(t, "../../examples/tiny")
	for _, c := range []struct {
		method, path, host string
		want               int
	}{
		{"GET", "view", "", 200}, {"GET", "", "", 200}, {"GET", "page.js", "", 200},
		{"GET", "view", "evil.example", 403}, {"GET", "", "127.0.0.1.evil.example:80", 403}, {"GET", "view",
			"192.0.2.1", 403},
		{"POST", "view", "", 405}, {"GET", "../go.mod", "", 307}, {"GET", "..%2f..%2fpage.go", "", 404},
		{"GET", "explain?cue=1&player=Tpt+1", "", 200}, {"GET", "explain?cue=1&player=Nobody", "", 404},
		{"GET", "levels?cue=1", "", 200}, {"GET", "levels?cue=Nobody", "", 404}, {"GET", "levels?cue=1", "evil.example", 403},
		{"GET", "seats?cue=1&player=Tpt+1&at=NaN", "", 400}, {"GET", "seats?cue=1&player=Tpt+1&at=1e9", "",
			400}, {"GET", "seats?cue=1&player=Tpt+1&at=0", "", 200},
	} {
		request, err := http.NewRequest(c.method, address+c.path, nil)
		if err != nil {
			t.Fatal(err)
		}
		if c.host != "" {
			request.Host = c.host
		}
		reply, err := http.DefaultTransport.RoundTrip(request)
		if err != nil {
			t.Fatal(err)
		}
		reply.Body.Close()
		if reply.StatusCode != c.want {
			t.Errorf("%s %s as %q gives %d, not %d", c.method, c.path, c.host, reply.StatusCode, c.want)
		}
		if c.want == 200 && reply.Header.Get("Access-Control-Allow-Origin") != "" {
			t.Error("another site may read the page")
		}
	}
	// The page listens on this machine only.
	for _, at := range []string{"0.0.0.0:0", "192.0.2.1:80", "example.org:80", "nonsense"} {
		var talk strings.Builder
		if code := execute(t.Context(), []string{"page", "../../examples/tiny", "--at", at}, io.Discard,
			&talk); code != verb.ExitUsage || !strings.Contains(talk.String(), "for this machine only") {
			t.Errorf("--at %s ends with %d: %s", at, code, talk.String())
		}
	}
}

// A show that cannot be read at the start ends the command.
func TestPageOfNothing(t *testing.T) {
	t.Parallel()
	ctx, cancel := context.WithTimeout(t.Context(), 2*time.Minute)
	defer cancel()
	var talk strings.Builder
	if code := execute(ctx, []string{"page", t.TempDir(), "--at", "127.0.0.1:0"}, io.Discard,
		&talk); code != verb.ExitWorld || ctx.Err() != nil || !strings.Contains(talk.String(), "show.toml") {
		t.Errorf("%d, %v: %s", code, ctx.Err(), talk.String())
	}
}

// serving serves a site until end is called.
func serving(t *testing.T, at string, site *page.Site) (address string, end func()) {
	t.Helper()
	ln, err := net.Listen("tcp", at)
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	go func() { ended <- site.Serve(ctx, ln) }()
	return ln.Addr().String(), func() {
		cancel()
		if err := <-ended; err != nil {
			t.Error(err)
		}
	}
}

// served is the address of a site that is served until the test ends.
func served(t *testing.T, site *page.Site) string {
	t.Helper()
	at, end := serving(t, "127.0.0.1:0", site)
	t.Cleanup(end)
	return "http://" + at + "/"
}

// servedDemo is the compiled demo, and the address of its page.
func servedDemo(t *testing.T) (s *show.Loaded, address string) {
	t.Helper()
	s = compiledOnce()
	site := page.NewSite(func(*show.Loaded, string, string) (string, error) { return "", nil }, nil, "")
	if err := site.Update(s, nil); err != nil {
		t.Fatal(err)
	}
	return s, served(t, site)
}

// A tab that stays open when the program ends says so, and recovers when the program is back, with the new show.
func TestPageComesBack(t *testing.T) {
	t.Parallel()
	b := browser.Open(t, 1000, 700)
	s, err := show.Load(show.Disk{}, "../../examples/tiny/show.toml", show.LoadOptions{}, &source.Problems{})
	if err != nil {
		t.Fatal(err)
	}
	begin := func(at string, site *page.Site) (address string, end func()) {
		t.Helper()
		if err := site.Update(s, nil); err != nil {
			t.Fatal(err)
		}
		return serving(t, at, site)
	}
	at, end := begin("127.0.0.1:0", page.NewSite(nil, nil, ""))
	b.Go("http://" + at + "/")
	b.Await("document.querySelector('#state').textContent === 'no problems'", 10*time.Second)
	end()
	b.Await("document.querySelector('#state').textContent.startsWith('no reply from Backfield')", 10*time.Second)
	s.Score.Title = "another show"
	_, end = begin(at, page.NewSite(nil, nil, ""))
	defer end()
	b.Await("document.querySelector('#state').textContent === 'no problems' && "+
		"document.querySelector('#title').textContent === 'another show'", 20*time.Second)
}

// TestPageHears compares the seats in time on the page, at the first count of a cue, with the fit in the snapshot, for
// players who stand still.
func TestPageHears(t *testing.T) {
	t.Parallel()
	s, address := servedDemo(t)
	var view page.ShowView
	fetched(t, address+"view", &view)
	if len(view.Cues) != len(s.Show.Cues) {
		t.Fatalf("%d cues on the page, %d in the show", len(view.Cues), len(s.Show.Cues))
	}
	held := 0
	for i, c := range s.Show.Cues {
		for _, ch := range c.Channels {
			if !ch.Open || ch.Fit == nil || ch.Location != ch.End || held > 40 {
				continue
			}
			held++
			var seats page.Seats
			fetched(t, fmt.Sprintf("%sseats?cue=%s&player=%s&at=%g", address, c.ID,
				strings.ReplaceAll(ch.Player, " ", "+"), view.Cues[i].At), &seats)
			if math.Abs(seats.InTime-ch.Fit.InTime) > 6e-5 {
				t.Errorf("cue %s, %s: %.4f of the seats on the page, %.4f in the snapshot", c.ID, ch.Player,
					seats.InTime, ch.Fit.InTime)
			}
			if len(seats.GapMS) != len(view.Field.Seats) {
				t.Fatalf("%d seats heard, %d drawn", len(seats.GapMS), len(view.Field.Seats))
			}
		}
	}
	if held < 20 {
		t.Errorf("only %d held", held)
	}
}

// TestPageFollows saves a mistake, its fix and a new dot, and compares the view with each.
func TestPageFollows(t *testing.T) {
	t.Parallel()
	demo := copied(t, harbor)
	fewerSeats(t, demo, 10, 27)
	dir, address := paged(t, demo)
	events, err := http.Get(address + "events")
	if err != nil {
		t.Fatal(err)
	}
	defer events.Body.Close()
	lines := bufio.NewScanner(events.Body)
	last := 0
	next := func() page.ShowView { // of which all was checked
		t.Helper()
		for lines.Scan() {
			if !strings.HasPrefix(lines.Text(), "data: ") {
				continue
			}
			var v page.ShowView
			if fetched(t, address+"view", &v); v.Unchecked == "" && v.Version != last {
				last = v.Version
				return v
			}
		}
		t.Fatal("the events have ended")
		return page.ShowView{}
	}
	first := next()
	if first.Broken || first.Changes != "" || len(first.Problems) != 0 {
		t.Errorf("at first: broken %v, changes %q, %d problems", first.Broken, first.Changes, len(first.Problems))
	}
	edit := func(file, old, new string) { t.Helper(); replace(t, filepath.Join(dir, file), old, new) }

	edit("show.toml", `open.feature = ["Tpt 20"]`, `open.feature = ["Tpt 200"]`)
	v := next()
	if !v.Broken || !v.Stale || len(v.Problems) != 1 || len(v.Cues) != len(first.Cues) {
		t.Fatalf("a mistake: broken %v, %d problems, %d cues", v.Broken, len(v.Problems), len(v.Cues))
	}
	p := v.Problems[0]
	if p.Cue != "5" || p.At != 48 || p.Player != "" || !strings.Contains(p.Line, "Tpt 200") ||
		!strings.Contains(p.Place, "show.toml:") {
		t.Errorf("the mistake is at cue %q, count %g, %s: %q", p.Cue, p.At, p.Place, p.Line)
	}
	edit("show.toml", `"Tpt 200"`, `"Tpt 20"`)
	if v = next(); v.Broken || v.Changes != "" {
		t.Errorf("fixed: broken %v, changes %q", v.Broken, v.Changes)
	}

	edit("dots.csv", "4,Tpt 20,S2 4 outside 40,9.5 behind", "4,Tpt 20,S2 4 outside 40,12.5 behind")
	v = next()
	if v.Broken || v.Changes == "" || v.Against != "the last save" {
		t.Fatalf("a dot: broken %v, changes %q against %q", v.Broken, v.Changes, v.Against)
	}
	for _, c := range v.Cues {
		if touched := strings.Contains(strings.Join(c.Diff, "\n"), "Tpt 20: "); touched != (c.Mark != "") {
			t.Errorf("cue %s is marked %q for %q", c.ID, c.Mark, c.Diff)
		} else if c.ID == "5" && !touched {
			t.Error("cue 5, in which the player is featured, is not marked")
		}
	}
	for _, q := range v.Players {
		if (q.Was != nil) != (q.Name == "Tpt 20") {
			t.Errorf("%s is drawn with an older path: %v", q.Name, q.Was != nil)
		}
		if q.Was == nil {
			continue
		}
		for i, count := range v.Keys { // set 4 is reached at count 48 and held for 4; set 5 is reached at 68
			by := q.Path[i][1] - q.Was[i][1]
			if there := count >= 48 && count <= 52; there && math.Abs(by-3*0.5715) > 0.002 || !there && by != 0 {
				t.Errorf("at count %g the player is %.3f m behind the older path", count, by)
			}
		}
	}
}

// TestPageAgainst compares every save with a commit.
func TestPageAgainst(t *testing.T) {
	t.Parallel()
	outside(t, "git")
	dir := copied(t, "../../examples/tiny")
	git := func(args ...string) {
		t.Helper()
		cmd := exec.Command("git", append([]string{"-C", dir, "-c", "user.name=a", "-c", "user.email=a@localhost"},
			args...)...)
		if out, err := cmd.CombinedOutput(); err != nil {
			t.Fatalf("git %v: %v\n%s", args, err, out)
		}
	}
	git("init", "-q")
	git("add", ".")
	git("commit", "-qm", "as it was")
	replace(t, filepath.Join(dir, "show.toml"), "support = -9", "support = -7")
	s, err := show.Load(show.Disk{}, filepath.Join(dir, "show.toml"), show.LoadOptions{}, &source.Problems{})
	if err != nil {
		t.Fatal(err)
	}
	older, err := show.Load(show.Commit{Rev: "HEAD"}, filepath.Join(dir, "show.toml"), show.LoadOptions{},
		&source.Problems{})
	if err != nil {
		t.Fatal(err)
	}
	site := page.NewSite(nil, older, "HEAD")
	for range 2 { // the second save, too, is compared with the commit
		if err := site.Update(s, nil); err != nil {
			t.Fatal(err)
		}
		v := viewed(t, site)
		if v.Against != "HEAD" || v.Cues[0].Mark != "" || v.Cues[1].Mark != "changed" ||
			!strings.Contains(strings.Join(v.Cues[1].Diff, "\n"), "Tpt 1: level +2.0 dB") {
			t.Errorf("against %q: %q %q %q", v.Against, v.Cues[0].Mark, v.Cues[1].Mark, v.Cues[1].Diff)
		}
	}
}

// viewed is the view that a site sends.
func viewed(t *testing.T, site *page.Site) (v page.ShowView) {
	t.Helper()
	reply := httptest.NewRecorder()
	site.Handler(page.Loopback).ServeHTTP(reply, httptest.NewRequest("GET", "http://127.0.0.1/view", nil))
	packed, err := gzip.NewReader(reply.Body)
	if err != nil {
		t.Fatal(err)
	}
	if err := json.NewDecoder(packed).Decode(&v); err != nil {
		t.Fatal(err)
	}
	return v
}

// TestPagePlacesProblems checks the place of a problem: a cue with a bad count does not blame the cue before it, and in
// a sheet with a column for each set the problem goes to its own set.
func TestPagePlacesProblems(t *testing.T) {
	t.Parallel()
	const wide = "Player,Set 1,Set 2,Set 3\nTpt 1,on 50; on FH,%s,%s\nBari 1,S2 on 35; 4 beh BH,S2 on 40; 4 beh " +
		"BH,S2 on 45; 4 beh BH\n"
	for _, c := range []struct {
		name, file, old, new string
		cue, player          string
		at                   float64
	}{
		{"cue at a count that is not there", "show.toml", `at   = "set 2"`, `at   = "1:99"`, "", "", -1},
		{"role of the first cue", "show.toml", `open.feature = ["Tpt 1"]`, `open.featur = ["Tpt 1"]`, "1", "", 0},
		{"dot of set 2", "wide.csv", "", fmt.Sprintf(wide, "S3 on 45; on FH", "on 50; 4 beh FH"), "", "Tpt 1", 16},
		{"dot of set 3", "wide.csv", "", fmt.Sprintf(wide, "on 50; on FH", "on 50; 4 bxh FH"), "", "Tpt 1", 40},
	} {
		t.Run(c.name, func(t *testing.T) {
			dir := copied(t, "../../examples/tiny")
			if c.file == "wide.csv" {
				if err := os.WriteFile(filepath.Join(dir, c.file), []byte(c.new), 0o644); err != nil {
					t.Fatal(err)
				}
				replace(t, filepath.Join(dir, "show.toml"), `dots = "dots.csv"`,
					`dots = "wide.csv", columns = { dot = "Set {set}" }`)
			} else {
				replace(t, filepath.Join(dir, c.file), c.old, c.new)
			}
			var p source.Problems
			s, err := show.Load(show.Disk{}, filepath.Join(dir, "show.toml"), show.LoadOptions{}, &p)
			if err != nil {
				t.Fatal(err)
			}
			site := page.NewSite(nil, nil, "")
			if err := site.Update(s, p.All()); err != nil {
				t.Fatal(err)
			}
			v := viewed(t, site)
			if !v.Broken || len(v.Problems) != 1 {
				t.Fatalf("broken %v, stale %v, %+v", v.Broken, v.Stale, v.Problems)
			}
			if o := v.Problems[0]; o.Cue != c.cue || o.Player != c.player || o.At != c.at {
				t.Errorf("%s: cue %q, player %q, count %g", o.Text, o.Cue, o.Player, o.At)
			}
		})
	}
}

// TestPageInBrowser uses the page in a real browser, as a designer would.
func TestPageInBrowser(t *testing.T) {
	t.Parallel()
	b := browser.Open(t, 1366, 768)
	dir, address := paged(t, "../../examples/harbor")
	s := compiledOnce() // the folder is a copy
	b.Go(address)
	b.Await("document.querySelector('#title').textContent === 'Harbor Lights'", 10*time.Second)
	if n := browser.Eval[int](b, "document.querySelectorAll('.player:not(.fixed)').length"); n != len(s.Drill.Players) {
		t.Errorf("%d players are drawn, of %d", n, len(s.Drill.Players))
	}

	broken := `[...document.querySelectorAll('#cue table th, #cue table td')].filter(cell => {
		const text = document.createTreeWalker(cell, NodeFilter.SHOW_TEXT).nextNode(), range = document.createRange()
		if (!text || /[\s-]/.test(text.data)) return false
		range.selectNodeContents(text)
		return range.getClientRects().length > 1
	}).map(cell => cell.textContent).join(', ')`
	if words := browser.Eval[string](b, broken); words != "" {
		t.Errorf("in the table of the cue these words are broken: %s", words)
	}

	// drawn is where everybody is drawn, in meters, and who is drawn as open.
	drawn := func() (at map[string]layout.Point, open []string) {
		t.Helper()
		at = map[string]layout.Point{}
		for _, text := range browser.Eval[[]string](b, "[...document.querySelectorAll('[data-name]')].map(g => "+
			"g.dataset.name + '\t' + g.matches('.player.open') + '\t' + g.getAttribute('transform'))") {
			parts := strings.Split(text, "\t")
			var p layout.Point
			if _, err := fmt.Sscanf(parts[2], "translate(%g %g)", &p.X, &p.Y); err != nil {
				t.Fatalf("%s is at %q", parts[0], parts[2])
			}
			p.Y = -p.Y
			at[parts[0]] = p
			if parts[1] == "true" {
				open = append(open, parts[0])
			}
		}
		return at, open
	}
	placed := func(where string, movement int, elapsed float64) {
		t.Helper()
		at, _ := drawn()
		for i := range s.Drill.Players {
			p := &s.Drill.Players[i]
			want, ok := p.At(s.Drill, movement, elapsed)
			if got, there := at[p.Name]; !ok || !there || math.Hypot(got.X-want.X, got.Y-want.Y) > 0.0015 {
				t.Fatalf("%s: %s is drawn at %.3f, %.3f and is at %.3f, %.3f", where, p.Name, got.X, got.Y, want.X,
					want.Y)
			}
		}
	}
	here := func() string { return browser.Eval[string](b, "document.querySelector('#here').textContent") }
	placed("at first", 1, 0)

	// Dragging along the timeline moves the drill.
	box := browser.Eval[[]float64](b, "(r => [r.left, r.top, r.width, "+
		"r.height])(document.querySelector('#timeline').getBoundingClientRect())")
	for _, part := range []float64{0.2, 0.47, 0.9} {
		b.Drag(box[0]+box[2]*0.3, box[1]+box[3]-8, box[0]+box[2]*part, box[1]+box[3]-8)
		movement, count := 0, 0.0
		if _, err := fmt.Sscanf(here(), "%d:%g", &movement, &count); err != nil {
			t.Fatalf("dragged to %q", here())
		}
		placed("dragged to "+here(), movement, count-1)
	}

	// By keys alone: cue by cue, the open mics are drawn as open, at their compiled places.
	b.Key(kb.Home)
	for i := range s.Show.Cues {
		c := &s.Show.Cues[i]
		if c.TimeS > 0 {
			b.Key("]")
		}
		if id := browser.Eval[string](b, "document.querySelector('#cue .id').textContent"); id != c.ID {
			t.Fatalf("the page is at cue %s, the drill at %s", id, c.ID)
		}
		var want []string
		at, open := drawn()
		for _, ch := range c.Channels {
			if ch.Open {
				want = append(want, ch.Player)
				if got := at[ch.Player]; math.Hypot(got.X-ch.X, got.Y-ch.Y) > 0.0015 {
					t.Errorf("cue %s: %s is drawn at %.3f, %.3f and compiled at %.3f, %.3f", c.ID, ch.Player, got.X,
						got.Y, ch.X, ch.Y)
				}
			}
		}
		slices.Sort(want)
		slices.Sort(open)
		if !slices.Equal(want, open) {
			t.Errorf("cue %s opens %q, and drawn as open are %q", c.ID, want, open)
		}
		if i > 40 {
			break
		}
	}
	was := here()
	b.Key(kb.ArrowRight)
	b.Key(kb.ArrowRight)
	b.Key(kb.ArrowLeft)
	if now := here(); now == was {
		t.Error("the arrow keys do not move the count")
	}
	b.Key(kb.ArrowDown)
	b.Await("document.querySelector('#player pre') && document.querySelector('#player "+
		"pre').textContent.includes('AS OSC')", 5*time.Second)
	b.Key("s")
	b.Await("document.querySelector('.seats path') && document.querySelector('#heard h3').textContent.includes('% "+
		"of seats')", 5*time.Second)
	b.Key("s")
	b.Await("!document.querySelector('.seats path')", 5*time.Second)

	// The lanes of a mic that walks show its path, and the value at the count.
	browser.Eval[bool](b, "!(document.querySelector('#find').value = '')")
	b.Type("#find", "Tpt 3"+kb.Enter)
	b.Await("document.querySelectorAll('.lane .sent').length > 2 && document.querySelector('.lane .bound')", 5*time.Second)
	b.Click("#player .bars button")
	first := browser.Eval[string](b, "document.querySelector('.lane.delay .value').textContent")
	for range 3 {
		b.Key(kb.ArrowRight)
	}
	if now := browser.Eval[string](b, "document.querySelector('.lane.delay .value').textContent"); now == first ||
		!strings.HasSuffix(now, " ms") {
		t.Errorf("the delay stays at %q while the player walks", now)
	}
	b.Key("3")
	if browser.Eval[bool](b, "document.querySelector('#problems').hidden || !document.querySelector('#cue').hidden") {
		t.Error("3 does not show the problems")
	}
	b.Key("?")
	b.Await("document.querySelector('#help').open", time.Second)
	b.Key(kb.Escape)
	b.Await("!document.querySelector('#help').open", time.Second)

	// Space starts the walk, and stops it again.
	before := here()
	browser.Eval[bool](b, "(document.activeElement.blur(), true)") // on a button, Space presses that
	b.Key(" ")
	b.Await(fmt.Sprintf("document.querySelector('#here').textContent !== %q && "+
		"document.querySelector('#play').textContent === 'stop'", before), time.Minute)
	b.Key(" ")
	b.Await("document.querySelector('#play').textContent === 'walk'", time.Second)

	// The page follows a save.
	replace(t, filepath.Join(dir, "show.toml"), `title  = "Harbor Lights"`, `title  = "Harbor Lamps"`)
	took := b.Await("document.querySelector('#title').textContent === 'Harbor Lamps'", 10*time.Second)
	t.Logf("a save was drawn after %v", took)

	if faults := b.Faults(); faults != "" {
		t.Errorf("faults of the page:\n%s", faults)
	}
	if dir := os.Getenv("BACKFIELD_SHOTS"); dir != "" {
		b.Key("1")
		b.Shot(filepath.Join(dir, "page.png"))
	}
}

// The page's paths are those of the compiled show: at a cue's moment what the snapshot has, between two knots straight,
// and never farther from what is wanted than a knot may be. What the seats hear goes along the path.
func TestPagePaths(t *testing.T) {
	t.Parallel()
	s := compiledOnce()
	site := page.NewSite(nil, nil, "")
	if err := site.Update(s, nil); err != nil {
		t.Fatal(err)
	}
	handler := site.Handler(func(string) bool { return true })
	ask := func(path string, into any) {
		t.Helper()
		w := httptest.NewRecorder()
		handler.ServeHTTP(w, httptest.NewRequest("GET", path, nil))
		if err := json.Unmarshal(w.Body.Bytes(), into); w.Code != http.StatusOK || err != nil {
			t.Fatalf("%s: %d, %v\n%s", path, w.Code, err, w.Body)
		}
	}
	var paths page.Paths
	ask("/paths?player=Tpt+3", &paths)
	begin := map[int]float64{1: 0} // of each movement, in counts of the show
	for i, m := range s.Clock.Movements {
		begin[i+2] = begin[i+1] + m.Counts
	}
	cues, moved := 0, 0.0
	for _, x := range paths.Stretches {
		for k, at := range x.At {
			if math.Abs(x.SentMS[k]-x.WantMS[k]) > 1.001 || math.Abs(x.SentPan[k]-x.WantPan[k]) > 0.0211 {
				t.Errorf("count %g: sent %g ms and %g, wanted %g ms and %g", at, x.SentMS[k], x.SentPan[k], x.WantMS[k],
					x.WantPan[k])
			}
			if b := x.BoxMS[k]; b != nil && (x.SentMS[k] < b[0]-1.1 || x.SentMS[k] > b[1]+1.1) {
				t.Errorf("count %g: sent %g ms, the bound is %g to %g", at, x.SentMS[k], b[0], b[1])
			}
			if k > 0 {
				moved += math.Abs(x.SentMS[k] - x.SentMS[k-1])
			}
			for _, c := range s.Show.Cues {
				i := slices.IndexFunc(c.Channels, func(ch cue.Channel) bool { return ch.Player == "Tpt 3" && ch.Open })
				if i < 0 || math.Abs(begin[c.Movement]+c.Count-1-at) > 1e-6 {
					continue
				}
				cues++
				if ch := c.Channels[i]; math.Abs(ch.DelayMS-x.SentMS[k]) > 0.0501 || math.Abs(ch.Pan-x.SentPan[k]) > 0.006 {
					t.Errorf("cue %s has %g ms and %g, the page %g ms and %g", c.ID, ch.DelayMS, ch.Pan, x.SentMS[k],
						x.SentPan[k])
				}
			}
		}
	}
	if len(paths.Stretches) < 2 || cues < 5 || moved < 20 {
		t.Errorf("%d stretches, %d cues, %g ms of movement: the demo no longer tests this", len(paths.Stretches), cues, moved)
	}
	// Over a stretch the seats in time of each count make up the fit of its cues.
	w, _, _, err := s.Explain("6", "Tpt 3")
	if err != nil {
		t.Fatal(err)
	}
	inTime, noEcho, total := 0.0, 0.0, 0.0
	for k := w.Lo; k < w.Hi; k++ {
		at := w.Stretch.Samples[k]
		var seats page.Seats
		ask(fmt.Sprintf("/seats?cue=6&player=Tpt+3&at=%g", begin[at.Movement]+at.Elapsed), &seats)
		inTime, noEcho, total = inTime+at.WeightS*seats.InTime, noEcho+at.WeightS*seats.NoEcho, total+at.WeightS
		if late := w.BoxMS; seats.BoxMS < late[0]-0.051 || seats.BoxMS > late[1]+0.051 || len(seats.GapMS) != 2400 {
			t.Errorf("count %g: press box %g ms, %d seats", at.Elapsed, seats.BoxMS, len(seats.GapMS))
		}
	}
	if inTime /= total; math.Abs(inTime-w.Fit.Inside) > 0.01 || math.Abs(noEcho/total-w.Fit.NoEcho) > 0.01 || total == 0 {
		t.Errorf("%.3f in time and %.3f without an echo, the fit has %.3f and %.3f", inTime, noEcho/total, w.Fit.Inside,
			w.Fit.NoEcho)
	}
}

// TestPageOfBrokenShows makes views of shows with files that are cut off: the page draws what it can, and lists every
// problem.
func TestPageOfBrokenShows(t *testing.T) {
	t.Parallel()
	const parts = 9
	for n := range 6 * parts {
		dir := copied(t, "../../testdata/script/show")
		file := filepath.Join(dir, []string{"show.toml", "sets.csv", "dots.csv", "roster.csv", "rig.toml",
			"mixer.toml"}[n/parts])
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(file, text[:len(text)*(n%parts)/parts], 0o644); err != nil {
			t.Fatal(err)
		}
		score := filepath.Join(dir, "show.toml")
		var p source.Problems
		s, err := show.Load(show.Disk{}, score, show.LoadOptions{}, &p)
		if err != nil {
			t.Fatal(err)
		}
		site := page.NewSite(func(*show.Loaded, string, string) (string, error) { return "", nil }, nil, "")
		for range 2 {
			if err := site.Update(s, p.All()); err != nil {
				t.Errorf("%s cut at %d: %v", file, n%parts, err)
			}
		}
		for _, path := range []string{"view", "explain?cue=1&player=a", "seats?cue=1&player=a&at=0"} {
			reply := httptest.NewRecorder()
			site.Handler(page.Loopback).ServeHTTP(reply, httptest.NewRequest("GET", "http://127.0.0.1/"+path, nil))
			if path != "view" {
				if s.Show == nil && reply.Code != http.StatusServiceUnavailable {
					t.Errorf("%s cut at %d: %s gives %d", file, n%parts, path, reply.Code)
				}
				continue
			}
			var v page.ShowView
			packed, err := gzip.NewReader(reply.Body)
			if err == nil {
				err = json.NewDecoder(packed).Decode(&v)
			}
			if err != nil || len(v.Problems) != len(p.All()) || v.Broken != (s.Show == nil) {
				t.Errorf("%s cut at %d: %d problems of %d, broken %v (%v)", file, n%parts, len(v.Problems),
					len(p.All()), v.Broken, err)
			}
		}
	}
}
