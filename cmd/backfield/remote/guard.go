package remote

import (
	"context"
	"io/fs"
	"net"
	"net/http"
	"net/netip"
	"strconv"
	"strings"
	"time"
)

// handler checks each request in order: it closes one too many of strangers, sets the headers of every answer, checks that the request names this server,
// that it comes from a device with a key, and that no other page caused it. Only then it serves what was asked for.
func (s *Server) handler() http.Handler {
	static, err := fs.Sub(embedded, "static")
	if err != nil {
		panic(err) // the folder is part of the program
	}
	files := http.FileServerFS(static)
	mux := http.NewServeMux()
	if s.o.Instead != nil {
		mux.Handle("/", whileIn(s.o.Instead))
		return s.guard(static, mux)
	}
	mux.HandleFunc("GET /{$}", func(w http.ResponseWriter, r *http.Request) {
		http.ServeFileFS(w, r, static, "run.html")
	})
	for _, name := range []string{"run.css", "run.js", "draw.js", "field.js", "fit.js", "names.js", "panel.js"} {
		mux.Handle("GET /"+name, files)
	}
	mux.HandleFunc("GET /show.json", s.serveShow)
	mux.HandleFunc("GET /events", s.serveEvents)
	mux.HandleFunc("POST /do", s.serveCommand)
	for pattern, h := range s.o.Extra {
		mux.Handle(pattern, whileIn(h))
	}
	return s.guard(static, mux)
}

// guard lets the requests of devices that are in through to a mux, and everybody to the door.
func (s *Server) guard(static fs.FS, mux *http.ServeMux) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		me := s.access.device(r)
		if me != nil {
			connOf(r).admit()
		} else if !connOf(r).mayAsk(time.Now()) {
			connOf(r).Close() // the server would wait for the body first
			panic(http.ErrAbortHandler)
		}
		secure(w.Header())
		if !namesThisServer(r) {
			refuse(w, http.StatusForbidden)
			return
		}
		if path := r.URL.Path; strings.HasPrefix(path, "/k/") || strings.HasPrefix(path, "/K/") {
			s.serveDoor(w, r, static)
			return
		}
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

// secure sets the headers of every answer: browsers store nothing, load nothing from elsewhere, and show the page in no
// frame.
func secure(h http.Header) {
	h.Set("Cache-Control", "no-store")
	h.Set("Content-Security-Policy", "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; "+
		"img-src data:; form-action 'self'; frame-ancestors 'none'; base-uri 'none'")
	h.Set("Cross-Origin-Opener-Policy", "same-origin")
	h.Set("Cross-Origin-Resource-Policy", "same-origin")
	h.Set("Referrer-Policy", "same-origin") // no-referrer would make the Origin of a form "null"
	h.Set("X-Content-Type-Options", "nosniff")
}

// whileIn ends a request when its device is removed.
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

// refuse answers with a status alone and closes the connection, so that each try costs a new connection.
func refuse(w http.ResponseWriter, status int) {
	w.Header().Set("Connection", "close")
	w.WriteHeader(status)
}

// namesThisServer reports whether the request names the very address that it came in on. A name that someone else
// points here (DNS rebinding) does not count.
func namesThisServer(r *http.Request) bool {
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

// sameOrigin reports whether a page of this server made the request. A browser names the origin of everything other
// than GET and HEAD, so a request without one does not come from a page.
func sameOrigin(r *http.Request) bool {
	site := r.Header.Get("Sec-Fetch-Site") // some browsers send it
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

// DeviceName is the device that a request comes from, as the journal names it, for a handler behind the key.
func DeviceName(r *http.Request) string { return deviceOf(r).String() }

func deviceOf(r *http.Request) *pageDevice { return r.Context().Value(deviceKey{}).(*pageDevice) }
