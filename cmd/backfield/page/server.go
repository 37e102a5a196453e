package page

import (
	"bytes"
	"compress/gzip"
	"context"
	"embed"
	"encoding/json"
	"fmt"
	"io/fs"
	"math"
	"net"
	"net/http"
	"strconv"
	"strings"
	"sync"
	"time"

	"backfield/cmd/backfield/show"
	"backfield/cue"
	"backfield/layout/source"
)

//go:embed static
var embedded embed.FS

// Static are the files of the page.
func Static() fs.FS {
	sub, err := fs.Sub(embedded, "static")
	if err != nil {
		panic(err) // the folder is embedded above
	}
	return sub
}

// Explain writes the derivation of a player's numbers in a cue; an error says why there is none.
type Explain func(s *show.Show, cueID, player string) (string, error)

// Site is what the page is served from: the newest view, and the show behind it. It is safe for concurrent use.
type Site struct {
	explain Explain

	mu      sync.Mutex
	good    *show.Show // the last that compiled, or the first that did not
	viewer  viewer
	view    *View
	fixed   *cue.Show // the version that the changes are told against; nil: the save before
	was     *View
	against string
	packed  []byte // the view as it is sent
	version int
	changed chan struct{} // closed when there is a newer view
}

// NewSite makes a site without a show. Changes are told against older, which the words against name; nil tells them
// against the save before.
func NewSite(explain Explain, older *show.Show, against string) *Site {
	// The versions of another start are others: a tab that is still open must not take them for its own.
	t := &Site{
		explain: explain, changed: make(chan struct{}), against: "the save before",
		version: int(time.Now().UnixMilli()),
	}
	if older != nil {
		t.fixed, t.was, t.against = older.Show, look(older, nil), against
	}
	return t
}

// Update takes a version of the show and what is wrong with it. One that does not compile leaves what is drawn and
// changes the problems only.
func (t *Site) Update(s *show.Show, problems []source.Problem) error {
	view := look(s, problems)
	t.mu.Lock()
	defer t.mu.Unlock()
	switch {
	case s.Show != nil:
		older, was := t.fixed, t.was
		if older == nil && t.good != nil && t.good.Show != nil {
			older, was = t.good.Show, t.view
		}
		view.mark(older, s.Show, was, t.against)
		t.keep(s, view)
	case t.good == nil || t.good.Show == nil:
		view.Broken = true
		t.keep(s, view)
	default:
		stale := *t.view
		stale.Broken, stale.Stale, stale.Problems = true, true, view.Problems
		t.view = &stale
	}
	t.version++
	t.view.Version = t.version
	packed, err := pack(t.view)
	if err != nil {
		return err
	}
	t.packed = packed
	close(t.changed)
	t.changed = make(chan struct{})
	return nil
}

func (t *Site) keep(s *show.Show, view *View) {
	t.good, t.view = s, view
	t.viewer = viewer{s: s, v: view}
	for _, m := range view.Movements {
		t.viewer.start = append(t.viewer.start, m.From)
	}
}

// pack is a view as gzipped JSON: a big show's is some 300 kB instead of 3 MB.
func pack(v *View) ([]byte, error) {
	var b bytes.Buffer
	z := gzip.NewWriter(&b)
	if err := json.NewEncoder(z).Encode(v); err != nil {
		return nil, err
	}
	if err := z.Close(); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}

// Handler serves the page to whoever names one of hosts: a page of another site cannot reach this one under a name
// of its own (rebinding).
func (t *Site) Handler(hosts func(host string) bool) http.Handler {
	mux := http.NewServeMux()
	mux.Handle("GET /", http.FileServerFS(Static()))
	mux.HandleFunc("GET /view", t.serveView)
	mux.HandleFunc("GET /events", t.serveEvents)
	mux.HandleFunc("GET /explain", t.serveExplain)
	mux.HandleFunc("GET /seats", t.serveSeats)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if !hosts(r.Host) {
			http.Error(w, "this page is served under the address that the terminal names", http.StatusForbidden)
			return
		}
		Guard(w)
		mux.ServeHTTP(w, r)
	})
}

// Guard sets the headers that keep a page to itself: it loads nothing from elsewhere, and nobody frames it.
func Guard(w http.ResponseWriter) {
	h := w.Header()
	h.Set("Content-Security-Policy", strings.Join([]string{"default-src 'self'", "img-src 'self' data:",
		"style-src 'self' 'unsafe-inline'", "frame-ancestors 'none'", "form-action 'none'", "base-uri 'none'"}, "; "))
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("Referrer-Policy", "no-referrer")
	h.Set("Cache-Control", "no-store")
}

func (t *Site) serveView(w http.ResponseWriter, r *http.Request) {
	t.mu.Lock()
	packed := t.packed
	t.mu.Unlock()
	if packed == nil {
		http.Error(w, "no show yet", http.StatusServiceUnavailable)
		return
	}
	w.Header().Set("Content-Type", "application/json")
	w.Header().Set("Content-Encoding", "gzip") // every browser takes it
	w.Write(packed)
}

// serveEvents tells of each newer view. Who is slow misses the ones between: only the newest matters.
func (t *Site) serveEvents(w http.ResponseWriter, r *http.Request) {
	control := http.NewResponseController(w)
	// Beside a run the server bounds how long a request may take; nothing more is to come.
	control.SetReadDeadline(time.Time{})
	w.Header().Set("Content-Type", "text/event-stream")
	told := -1
	for {
		t.mu.Lock()
		version, changed := t.version, t.changed
		t.mu.Unlock()
		text := ": still here\n\n"
		if version != told {
			text, told = fmt.Sprintf("data: %d\n\n", version), version
		}
		// not every writer can; then the connection's own holds
		control.SetWriteDeadline(time.Now().Add(10 * time.Second))
		if _, err := fmt.Fprint(w, text); err != nil {
			return
		}
		if err := control.Flush(); err != nil {
			return
		}
		select {
		case <-changed:
		case <-time.After(15 * time.Second):
		case <-r.Context().Done():
			return
		}
	}
}

// behind is the show that the page draws, for questions about it.
func (t *Site) behind(w http.ResponseWriter) (*show.Show, viewer, bool) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.good == nil || t.good.Show == nil {
		http.Error(w, "the show has errors: mend them first", http.StatusServiceUnavailable)
		return nil, viewer{}, false
	}
	return t.good, t.viewer, true
}

func (t *Site) serveExplain(w http.ResponseWriter, r *http.Request) {
	s, _, ok := t.behind(w)
	if !ok {
		return
	}
	text, err := t.explain(s, r.FormValue("cue"), r.FormValue("player"))
	if err != nil {
		http.Error(w, err.Error(), http.StatusNotFound)
		return
	}
	w.Header().Set("Content-Type", "text/plain; charset=utf-8")
	fmt.Fprint(w, text)
}

// Seats is how a mic is heard in the stand at one count.
type Seats struct {
	Player string     `json:"player"`
	Cue    string     `json:"cue"`    // whose numbers these are
	Closed bool       `json:"closed"` // he is closed there: the numbers are those he needs next
	LateMS []*float64 `json:"late"`   // of each seat of Ground.Seats; null where no stack reaches it
	Inside float64    `json:"inside"` // share of the seats' weight inside the window
}

func (t *Site) serveSeats(w http.ResponseWriter, r *http.Request) {
	s, l, ok := t.behind(w)
	if !ok {
		return
	}
	count, err := strconv.ParseFloat(r.FormValue("at"), 64)
	if err != nil || !(count >= 0 && count <= 1e6) {
		http.Error(w, "at is a count of the show", http.StatusBadRequest)
		return
	}
	player := r.FormValue("player")
	working, at, closed, err := s.Explain(r.FormValue("cue"), player)
	if err != nil {
		http.Error(w, err.Error(), http.StatusNotFound)
		return
	}
	place, known := s.Where(player, l.at(count))
	if !known {
		http.Error(w, player+" has no dots", http.StatusNotFound)
		return
	}
	place.Z = working.Place.Start.Z
	out := Seats{Player: player, Cue: at, Closed: closed}
	seats := s.Rig.Seats()
	inside, total := 0.0, 0.0
	for i, late := range s.ArrivalGapsMS(working, place) {
		if math.IsInf(late, 0) {
			out.LateMS = append(out.LateMS, nil)
			continue
		}
		total += seats[i].Weight
		if late >= -1e-6 && late <= s.Score.WindowMS+1e-6 {
			inside += seats[i].Weight
		}
		late = math.Round(late*10) / 10
		out.LateMS = append(out.LateMS, &late)
	}
	if total > 0 {
		out.Inside = inside / total
	}
	w.Header().Set("Content-Type", "application/json")
	json.NewEncoder(w).Encode(out)
}

// Serve answers at a listener until the context ends.
func (t *Site) Serve(ctx context.Context, ln net.Listener) error {
	server := &http.Server{
		Handler:           t.Handler(Loopback),
		ReadHeaderTimeout: 5 * time.Second,
		IdleTimeout:       time.Minute,
		MaxHeaderBytes:    16 << 10,
		BaseContext:       func(net.Listener) context.Context { return ctx },
	}
	stop := context.AfterFunc(ctx, func() { server.Close() })
	defer stop()
	if err := server.Serve(ln); ctx.Err() == nil {
		return err
	}
	return nil
}

// Loopback reports whether a Host header names this machine to itself.
func Loopback(host string) bool {
	if h, _, err := net.SplitHostPort(host); err == nil {
		host = h
	}
	if host == "localhost" {
		return true
	}
	ip := net.ParseIP(strings.Trim(host, "[]"))
	return ip != nil && ip.IsLoopback()
}
