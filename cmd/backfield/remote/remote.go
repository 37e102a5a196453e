// Package remote is the page of a live run: the operator's second screen and remote in a browser, beside the terminal.
// It shows the run's view and gives the run's commands, and works out nothing of its own. Whoever has no key sees
// nothing and moves nothing; whoever has one, and hangs or floods, cannot hold the run or the other pages: each page has
// one slot with the newest state. It speaks plain HTTP: who can listen on the network can read keys and cookies.
package remote

import (
	"cmp"
	"context"
	"embed"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"log"
	"mime"
	"net"
	"net/http"
	"net/netip"
	"strconv"
	"strings"
	"sync"
	"time"

	"backfield/osc/run"
)

// Stage is a run at work, as live.Stage is one. Both methods may be called from any goroutine.
type Stage interface {
	// DoWithin gives a command and says what came of it. The error is for one that was not carried out, for whatever
	// reason; one that the run has not taken up after most is taken back.
	DoWithin(c run.Command, most time.Duration) (said string, err error)
	// View looks at the run; ok is false after its end.
	View() (v run.View, ok bool)
}

// Options are what a page is besides the run that it shows.
type Options struct {
	At       string // HOST:PORT, the host an IP address or "localhost"; port 0 is any that is free
	ReadOnly bool   // it gives no commands
	Field    Field
	// Where tells where a player or a fixed mic is at a time of the show, in metres from the 50 and the front sideline;
	// ok is false where that is not known. nil: nowhere.
	Where func(player string, showS float64) (xM, yM float64, ok bool)
	// Tell is told who came in and who was refused, in words; from any goroutine. nil: nobody is told.
	Tell func(text string)
	// Extra is what is served besides, behind the same key, by pattern of http.ServeMux. What is no GET or HEAD has been
	// checked to come from a page of this server.
	Extra map[string]http.Handler
}

// Field is the ground, in metres: its lines as the page draws them.
type Field struct {
	LengthM    float64 `json:"length_m"` // goal line to goal line
	EndZoneM   float64 `json:"end_zone_m"`
	WidthM     float64 `json:"width_m"`
	HashM      float64 `json:"hash_m"`  // either hash from its sideline
	FrontM     float64 `json:"front_m"` // how far in front of its sideline somebody or a mic stands
	BackM      float64 `json:"back_m"`  // how far behind the other
	MiddleYard int     `json:"middle_yard"`
}

// Bounds, so that nobody who can reach the port can make a Server grow, or take the run's time.
const (
	mostPages    = 16 // that look on at once, of all devices
	mostOfDevice = 4  // of these, of one device
	mostHeader   = 8 << 10
	mostBody     = 1 << 10
	mostName     = 100 // bytes of what "to" goes to
	mostCommands = 10  // of one device in any second
	mostRequests = 50

	again   = time.Second             // from one go of a device to its next that is taken, as at the terminal
	patient = time.Second             // how long a command waits for the run to take it up
	stale   = 1500 * time.Millisecond // a command that was asked for longer ago is not carried out
	slow    = 5 * time.Second         // for a request to arrive whole, and for a frame to be taken
	idle    = time.Minute
	parting = 400 * time.Millisecond // how long Close waits for pages to hear of the end
)

//go:embed static
var embedded embed.FS

// Server serves the page of one run. Make one with Listen.
type Server struct {
	stage Stage
	o     Options
	gate  *gate
	http  *http.Server
	doors doors
	hub   *hub
	ended chan struct{} // Serve has returned
	stop  context.CancelFunc
	once  sync.Once
	err   error // of Serve, if it ended by itself; not read before ended is closed
}

// Listen opens the port and serves the page until Close. The error says what is wrong with where.
func Listen(stage Stage, o Options) (*Server, error) {
	at, err := Address(o.At)
	if err != nil {
		return nil, err
	}
	l, err := net.Listen("tcp", at)
	if err != nil {
		return nil, err
	}
	s := &Server{stage: stage, o: o, gate: newGate(l), ended: make(chan struct{})}
	if s.o.Tell == nil {
		s.o.Tell = func(string) {}
	}
	if err := s.doors.renew(); err != nil {
		l.Close()
		return nil, err
	}
	s.hub = newHub(stage, o.Where)
	ctx, stop := context.WithCancel(context.Background())
	s.stop = stop
	s.http = &http.Server{
		Handler: s.handler(), MaxHeaderBytes: mostHeader, ErrorLog: log.New(io.Discard, "", 0),
		ReadHeaderTimeout: slow, ReadTimeout: slow, WriteTimeout: 2 * slow, IdleTimeout: idle,
	}
	go s.hub.look(ctx)
	go func() {
		defer close(s.ended)
		if err := s.http.Serve(s.gate); !errors.Is(err, http.ErrServerClosed) {
			s.err = err
			s.o.Tell("the page can be reached no more: " + err.Error())
		}
	}()
	return s, nil
}

// Address reads what a user writes for where the page is served: HOST:PORT, or a port alone, which is of this machine
// only. The error says how to write it.
func Address(text string) (string, error) {
	if p, err := strconv.Atoi(text); err == nil && p >= 0 && p <= 65535 {
		return net.JoinHostPort("127.0.0.1", text), nil
	}
	host, port, err := net.SplitHostPort(text)
	p, bad := strconv.Atoi(port)
	_, name := netip.ParseAddr(host)
	switch {
	case err != nil || bad != nil || p < 0 || p > 65535:
		return "", fmt.Errorf("%q is no HOST:PORT; write it like 127.0.0.1:8080 for this machine alone, 0.0.0.0:8080 for every network it is in", text)
	case host == "":
		return "", fmt.Errorf("%q names no address; write 127.0.0.1:%s for this machine alone, 0.0.0.0:%s for every network it is in", text, port, port)
	case host == "localhost":
		return net.JoinHostPort("127.0.0.1", port), nil
	case name != nil:
		return "", fmt.Errorf("%q is no IP address of this machine; write the address of the network that the page is for, or 0.0.0.0:%s for all", host, port)
	}
	return text, nil
}

// Addr is where it listens.
func (s *Server) Addr() netip.AddrPort { return addrOf(s.gate.Addr()) }

// Close tells every page that the run has ended, and closes the port. It may be called more than once.
func (s *Server) Close() error {
	s.once.Do(func() {
		s.hub.finish()
		ctx, cancel := context.WithTimeout(context.Background(), parting)
		s.http.Shutdown(ctx)
		cancel()
		s.http.Close()
		s.stop()
		<-s.ended
		select { // a run that hangs would hold it
		case <-s.hub.done:
		case <-time.After(parting):
		}
	})
	return s.err
}

// handler is everything in order: what any answer carries, whether the question came to us by our own name, whether it
// has a key, whether it is another page's doing, and only then what was asked for.
func (s *Server) handler() http.Handler {
	static, err := fs.Sub(embedded, "static")
	if err != nil {
		panic(err) // the folder is part of the program
	}
	files := http.FileServerFS(static)
	mux := http.NewServeMux()
	mux.HandleFunc("GET /{$}", func(w http.ResponseWriter, r *http.Request) { http.ServeFileFS(w, r, static, "run.html") })
	mux.Handle("GET /run.css", files)
	mux.Handle("GET /run.js", files)
	mux.HandleFunc("GET /show.json", s.show)
	mux.HandleFunc("GET /events", s.events)
	mux.HandleFunc("POST /do", s.do)
	for pattern, h := range s.o.Extra {
		mux.Handle(pattern, whileIn(h))
	}
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Cache-Control", "no-store")
		h.Set("Content-Security-Policy", "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; img-src data:; form-action 'self'; frame-ancestors 'none'; base-uri 'none'")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Referrer-Policy", "same-origin") // no-referrer would make the Origin of a form "null"
		h.Set("X-Content-Type-Options", "nosniff")
		if !ours(r) {
			refuse(w, http.StatusForbidden)
			return
		}
		if path := r.URL.Path; strings.HasPrefix(path, "/k/") || strings.HasPrefix(path, "/K/") {
			s.enter(w, r, static)
			return
		}
		me := s.doors.device(r)
		if me == nil {
			refuse(w, http.StatusNotFound)
			return
		}
		switch now := time.Now(); {
		case !me.requests.admit(now):
			refuse(w, http.StatusTooManyRequests)
		case r.Method != http.MethodGet && r.Method != http.MethodHead && !sameOrigin(r):
			refuse(w, http.StatusForbidden)
		default:
			me.touch(now)
			mux.ServeHTTP(w, r.WithContext(context.WithValue(r.Context(), deviceKey{}, me)))
		}
	})
}

// whileIn ends what is served when the device is thrown out.
func whileIn(h http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		ctx, end := context.WithCancel(r.Context())
		defer end()
		go func() {
			defer end()
			select {
			case <-deviceOf(r).gone:
			case <-ctx.Done():
			}
		}()
		h.ServeHTTP(w, r.WithContext(ctx))
	})
}

// refuse answers with nothing but a number, and ends the connection: one more try costs one more.
func refuse(w http.ResponseWriter, status int) {
	w.Header().Set("Connection", "close")
	w.WriteHeader(status)
}

// ours reports whether the request names the very address that it came in on. A name that somebody else has pointed
// here (DNS rebinding) is none of ours.
func ours(r *http.Request) bool {
	local, ok := r.Context().Value(http.LocalAddrContextKey).(net.Addr)
	if !ok {
		return false
	}
	at := addrOf(local)
	host, port, err := net.SplitHostPort(r.Host)
	if err != nil {
		host, port = strings.Trim(r.Host, "[]"), "80"
	}
	if port != strconv.Itoa(int(at.Port())) {
		return false
	}
	if strings.EqualFold(host, "localhost") {
		return at.Addr().IsLoopback()
	}
	named, err := netip.ParseAddr(host)
	return err == nil && named.Unmap() == at.Addr().WithZone("")
}

// sameOrigin reports whether a page of ours made the request. A browser names the origin with everything but GET and
// HEAD; what names none is no browser's page.
func sameOrigin(r *http.Request) bool {
	site := r.Header.Get("Sec-Fetch-Site") // where a browser tells it
	return r.Header.Get("Origin") == "http://"+r.Host && (site == "" || site == "same-origin")
}

func addrOf(a net.Addr) netip.AddrPort {
	if t, ok := a.(*net.TCPAddr); ok {
		p := t.AddrPort()
		return netip.AddrPortFrom(p.Addr().Unmap(), p.Port())
	}
	return netip.AddrPort{}
}

type deviceKey struct{}

func deviceOf(r *http.Request) *device { return r.Context().Value(deviceKey{}).(*device) }

// show is what does not change while the run lasts.
func (s *Server) show(w http.ResponseWriter, r *http.Request) {
	answer(w, http.StatusOK, map[string]any{"field": s.o.Field, "read_only": s.o.ReadOnly, "page": deviceOf(r).id})
}

func answer(w http.ResponseWriter, status int, v any) {
	w.Header().Set("Content-Type", "application/json")
	w.WriteHeader(status)
	json.NewEncoder(w).Encode(v) // whoever does not take the answer has gone
}

// order is a command as a page gives it. Next is what the page shows as the next cue, "" for none. AskedMS is when it
// was asked for, by the clock of the pictures' now_ms as the page reckons it.
type order struct {
	Verb    run.Verb `json:"verb"`
	Name    string   `json:"name"`
	Next    *string  `json:"next"`
	AskedMS *int64   `json:"asked_ms"`
}

// command reads an order. Whatever touches single channels, and quit, is the terminal's.
func (o order) command() (run.Command, error) {
	if o.AskedMS == nil {
		return run.Command{}, errors.New("a command must say when it was asked for")
	}
	switch o.Verb {
	case run.Go, run.Back:
		if o.Next == nil {
			return run.Command{}, fmt.Errorf("%s must say which cue its page shows as the next one", o.Verb)
		}
		return run.Command{Verb: o.Verb, Next: o.Next}, nil
	case run.Hush, run.Restore, run.Start, run.Stop:
		return run.Command{Verb: o.Verb}, nil
	case run.To:
		if len(o.Name) > mostName {
			return run.Command{}, errors.New("no cue and no position is so long")
		}
		return run.Parse("to " + o.Name)
	}
	return run.Command{}, fmt.Errorf("a page gives go, back, to, hush, restore, start and stop; %q is the terminal's", o.Verb)
}

// harmless tells which commands do good even late.
func harmless(v run.Verb) bool { return v == run.Hush || v == run.Stop }

// do carries out an order. 200 says what came of it, in "said"; all else says in "error" why it was not taken.
func (s *Server) do(w http.ResponseWriter, r *http.Request) {
	me, now := deviceOf(r), time.Now()
	no := func(status int, text string) { answer(w, status, map[string]string{"error": text}) }
	if s.o.ReadOnly {
		no(http.StatusForbidden, "this page looks on only")
		return
	}
	if kind, _, _ := mime.ParseMediaType(r.Header.Get("Content-Type")); kind != "application/json" {
		no(http.StatusUnsupportedMediaType, "a command is JSON")
		return
	}
	var o order
	in := json.NewDecoder(http.MaxBytesReader(w, r.Body, mostBody))
	in.DisallowUnknownFields()
	if err := in.Decode(&o); err != nil {
		no(http.StatusBadRequest, "this is no command: "+err.Error())
		return
	}
	c, err := o.command()
	if err != nil {
		no(http.StatusBadRequest, err.Error())
		return
	}
	if late := s.hub.since(*o.AskedMS); late > stale && !harmless(c.Verb) { // it hung on a bad road, and the moment is over
		no(http.StatusConflict, fmt.Sprintf("%s came %.1f s late: not taken", c, late.Seconds()))
		return
	}
	if !me.commands.admit(now) {
		no(http.StatusTooManyRequests, fmt.Sprintf("%s: more than %d commands in a second; not taken", c, mostCommands))
		return
	}
	if !me.busy.TryLock() { // it would come late
		no(http.StatusConflict, fmt.Sprintf("%s: the command before is still being carried out; not taken", c))
		return
	}
	defer me.busy.Unlock()
	if c.Verb == run.Go && now.Sub(me.went) < again {
		no(http.StatusConflict, "go again within a second: not taken")
		return
	}
	c.From = me.String()
	said, err := s.stage.DoWithin(c, patient)
	s.hub.hurry()
	if err != nil {
		no(http.StatusConflict, fmt.Sprintf("%s: %v", c, err))
		return
	}
	if c.Verb == run.Go {
		me.went = now
	}
	answer(w, http.StatusOK, map[string]string{"said": cmp.Or(said, c.String()+": done")})
}
