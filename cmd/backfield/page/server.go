package page

import (
	"bytes"
	"compress/gzip"
	"context"
	"embed"
	"encoding/json"
	"fmt"
	"io/fs"
	"net"
	"net/http"
	"strings"
	"sync"
	"time"

	"backfield/cmd/backfield/show"
	"backfield/cue/balance"
	"backfield/cue/blocks"
	"backfield/cue/seat"
	"backfield/layout/source"
)

//go:embed static
var embedded embed.FS

// Static returns the files of the page.
func Static() fs.FS {
	sub, err := fs.Sub(embedded, "static")
	if err != nil {
		panic(err) // the folder is embedded above
	}
	return sub
}

// Explain writes how a player's numbers in a cue are computed. The error says why it cannot.
type Explain func(s *show.Loaded, cueID, player string) (string, error)

// Site serves the page: the newest view, and the show behind it. It is safe for concurrent use.
type Site struct {
	explain Explain

	mu       sync.Mutex
	good     *show.Loaded // the last show that compiled; before that, the first one that did not
	loud     func() (*balance.Loudness, error)
	audience func() *seat.Audience
	builder  viewBuilder
	view     *ShowView
	fixed    *show.Loaded    // the version that every save is compared with; nil: the last save
	edits    func() []string // what each edit since then changes
	was      *ShowView
	against  string
	packed   []byte // the view as gzipped JSON
	version  int
	changed  chan struct{} // closed when a newer view is there

	judging sync.Mutex // the levels of one version at a time
	lanes   blocks.LaneMemo
}

// NewSite makes a site without a show. Each save is compared with older, which the text against names. If older is nil,
// each save is compared with the one before it.
func NewSite(explain Explain, older *show.Loaded, against string) *Site {
	// Versions begin at the time of the start: a tab left open from an earlier start must see them as new.
	t := &Site{
		explain: explain, changed: make(chan struct{}), against: "the last save",
		version: int(time.Now().UnixMilli()),
	}
	if older != nil {
		t.fixed, t.was, t.against = older, look(older, nil), against
	}
	return t
}

// Update takes a version of the show and all of its problems. If it does not compile, the page keeps the last drawing and
// lists the new problems.
func (t *Site) Update(s *show.Loaded, problems []source.Problem) error {
	_, err := t.update(s, problems, "")
	return err
}

// update is Update for a view whose problems may not be all there yet: unchecked says what is missing. It returns the
// number of the new view.
func (t *Site) update(s *show.Loaded, problems []source.Problem, unchecked string) (version int, err error) {
	view := look(s, problems)
	view.Unchecked = unchecked
	t.mu.Lock()
	defer t.mu.Unlock()
	switch {
	case s.Show != nil:
		older, was := t.fixed, t.was
		if older == nil && t.good != nil && t.good.Show != nil {
			older, was = t.good, t.view
		}
		view.mark(older, s, was, t.against)
		t.edits = sync.OnceValue(func() []string { return edits(older, s) })
		t.keep(s, view)
	case t.good == nil || t.good.Show == nil:
		view.Broken = true
		t.keep(s, view)
	default:
		stale := *t.view
		stale.Broken, stale.Stale, stale.Problems, stale.Unchecked = true, true, view.Problems, unchecked
		t.view = &stale
	}
	err = t.publish()
	return t.version, err
}

// publish sends t.view as a newer version to whoever looks at the page. The caller holds the lock.
func (t *Site) publish() error {
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

func (t *Site) keep(s *show.Loaded, view *ShowView) {
	t.good, t.view = s, view
	loud := sync.OnceValues(func() (*balance.Loudness, error) { return prepared(s) })
	t.loud, t.audience = loud, sync.OnceValue(func() *seat.Audience {
		known, _ := loud() // without it the player's level is assumed
		return seat.New(s.Result, known)
	})
	t.builder = viewBuilder{s: s, v: view}
	for _, m := range view.Movements {
		t.builder.start = append(t.builder.start, m.From)
	}
}

// pack is a view as gzipped JSON. For a big show this makes 300 kB out of 3 MB.
func pack(v *ShowView) ([]byte, error) {
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

// Handler serves the page to requests for one of hosts. This keeps other sites out that point a name of their own to
// this machine (DNS rebinding).
func (t *Site) Handler(hosts func(host string) bool) http.Handler {
	mux := http.NewServeMux()
	mux.Handle("GET /", http.FileServerFS(Static()))
	mux.HandleFunc("GET /view", t.serveView)
	mux.HandleFunc("GET /events", t.serveEvents)
	mux.HandleFunc("GET /explain", t.serveExplain)
	mux.HandleFunc("GET /seats", t.serveSeats)
	mux.HandleFunc("GET /seat", t.serveSeat)
	mux.HandleFunc("GET /gaps", t.serveGaps)
	mux.HandleFunc("GET /paths", t.servePaths)
	mux.HandleFunc("GET /levels", t.serveLevels)
	mux.HandleFunc("GET /lane", t.serveLane)
	mux.HandleFunc("GET /changes", t.serveChanges)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if !hosts(r.Host) {
			http.Error(w, "this page has another address: use the one in the terminal", http.StatusForbidden)
			return
		}
		Guard(w)
		mux.ServeHTTP(w, r)
	})
}

// Guard sets the headers that isolate a page: it loads nothing from elsewhere, and no other page may frame it.
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
		http.Error(w, "the show is still being read: ask again in a moment", http.StatusServiceUnavailable)
		return
	}
	w.Header().Set("Content-Type", "application/json")
	w.Header().Set("Content-Encoding", "gzip") // every browser takes it
	w.Write(packed)
}

// serveEvents sends the number of each newer view. A slow reader skips some, since only the newest matters.
func (t *Site) serveEvents(w http.ResponseWriter, r *http.Request) {
	control := http.NewResponseController(w)
	// The server of a live run limits how long it reads a request. This request has been read, and stays open.
	control.SetReadDeadline(time.Time{})
	w.Header().Set("Content-Type", "text/event-stream")
	sent := -1
	for {
		t.mu.Lock()
		version, changed := t.version, t.changed
		t.mu.Unlock()
		text := ": alive\n\n"
		if version != sent {
			text, sent = fmt.Sprintf("data: %d\n\n", version), version
		}
		// A writer that has no deadline of its own keeps that of its connection.
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

// drawnShow returns the show that the page draws. Without one it answers the request with an error.
func (t *Site) drawnShow(w http.ResponseWriter) (*show.Loaded, viewBuilder, bool) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.good == nil {
		http.Error(w, "the show is still being read: ask again in a moment", http.StatusServiceUnavailable)
		return nil, viewBuilder{}, false
	}
	if t.good.Show == nil {
		http.Error(w, "the show has errors: fix them first", http.StatusServiceUnavailable)
		return nil, viewBuilder{}, false
	}
	return t.good, t.builder, true
}

func (t *Site) serveExplain(w http.ResponseWriter, r *http.Request) {
	s, _, ok := t.drawnShow(w)
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

// Serve answers requests at a listener until the context ends.
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

// Loopback reports whether a Host header names this machine by its loopback address.
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
