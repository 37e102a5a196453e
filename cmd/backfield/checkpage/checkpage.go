// Package checkpage is the page of a line check, for someone who walks across the field with a phone. Who may come in is
// judged by the package remote. A key is for the pack that the page showed, so one that comes late is refused.
package checkpage

import (
	"bytes"
	"embed"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"mime"
	"net/http"
	"net/netip"
	"slices"
	"strings"
	"time"

	"backfield/cmd/backfield/linechecking"
	"backfield/cmd/backfield/remote"
	"backfield/osc/linecheck"
)

const (
	lookEvery    = 50 * time.Millisecond
	beatEvery    = 500 * time.Millisecond // a page gets a message at least this often
	writeLimit   = 5 * time.Second        // for the browser to take a message
	maxBodyBytes = 1 << 10
	maxPlayers   = 60 // in one list; typing narrows it
)

//go:embed static
var embedded embed.FS

// LineCheck is a line check, such as a linechecking.Session.
type LineCheck interface {
	View() linechecking.CheckScreen
	Give(linecheck.CheckPress) (said string, err error)
	Ended() <-chan struct{}
}

// Listen serves the page at HOST:PORT until Close. Only the machines named may connect, and this one; none: all. report is
// called with a line about each device that came in or was refused. The error says what is wrong with the address.
func Listen(c LineCheck, at string, from []netip.Addr, report func(text string)) (*remote.Server, error) {
	s, err := remote.Listen(nil, remote.ServerOptions{At: at, From: from, Report: report, Instead: handler(c)})
	if err != nil {
		return nil, fmt.Errorf("--page: %w", err)
	}
	return s, nil
}

// handler serves devices that are in.
func handler(c LineCheck) http.Handler {
	static, err := fs.Sub(embedded, "static")
	if err != nil {
		panic(err) // the folder is part of the program
	}
	mux := http.NewServeMux()
	mux.HandleFunc("GET /{$}", func(w http.ResponseWriter, r *http.Request) {
		http.ServeFileFS(w, r, static, "check.html")
	})
	for _, name := range []string{"check.css", "check.js"} {
		mux.Handle("GET /"+name, http.FileServerFS(static))
	}
	mux.HandleFunc("GET /events", func(w http.ResponseWriter, r *http.Request) { serveEvents(c, w, r) })
	mux.HandleFunc("GET /players", func(w http.ResponseWriter, r *http.Request) {
		list := linechecking.Match(c.View().Players, r.URL.Query().Get("typed"))
		writeJSON(w, http.StatusOK, append([]string{}, list[:min(len(list), maxPlayers)]...))
	})
	mux.HandleFunc("POST /do", func(w http.ResponseWriter, r *http.Request) { serveKey(c, w, r) })
	return mux
}

// pageView is what the page shows.
type pageView struct {
	linechecking.CheckScreen
	Facts []string `json:"facts"`
}

// serveEvents streams the check to one page (server-sent events, WHATWG HTML).
func serveEvents(c LineCheck, w http.ResponseWriter, r *http.Request) {
	out := http.NewResponseController(w)
	out.SetReadDeadline(time.Time{}) // the page sends nothing more
	w.Header().Set("Content-Type", "text/event-stream")
	look := time.NewTicker(lookEvery)
	defer look.Stop()
	var last []byte
	var sent time.Time
	for {
		v := c.View()
		v.Players = nil // a page asks for those that it lists
		text, err := json.Marshal(pageView{CheckScreen: v, Facts: linechecking.Facts(v)})
		if err != nil {
			return
		}
		if now := time.Now(); !bytes.Equal(text, last) || now.Sub(sent) >= beatEvery {
			what := text
			if bytes.Equal(text, last) {
				what = []byte("null")
			}
			out.SetWriteDeadline(now.Add(writeLimit))
			if _, err := fmt.Fprintf(w, "data: %s\n\n", what); err != nil || out.Flush() != nil {
				return
			}
			last, sent = text, now
		}
		select {
		case <-look.C:
		case <-c.Ended():
			out.SetWriteDeadline(time.Now().Add(writeLimit))
			fmt.Fprint(w, "event: ended\ndata: {}\n\n")
			out.Flush()
			return
		case <-r.Context().Done():
			return
		}
	}
}

// pageKey is a key as a page sends it.
type pageKey struct {
	Key linecheck.CheckKey `json:"key"`
	Who string             `json:"who"`
	Seq int                `json:"seq"`
}

// serveKey carries out a key. Status 200 has the answer in "said"; every other status has in "error" why it was refused.
func serveKey(c LineCheck, w http.ResponseWriter, r *http.Request) {
	p, err := readKey(w, r)
	if err != nil {
		writeJSON(w, http.StatusBadRequest, map[string]string{"error": err.Error()})
		return
	}
	said, err := c.Give(linecheck.CheckPress{Key: p.Key, Who: p.Who, Seq: p.Seq, By: remote.DeviceName(r)})
	if err != nil {
		writeJSON(w, http.StatusConflict, map[string]string{"error": err.Error()})
		return
	}
	writeJSON(w, http.StatusOK, map[string]string{"said": said})
}

func readKey(w http.ResponseWriter, r *http.Request) (p pageKey, err error) {
	if kind, _, _ := mime.ParseMediaType(r.Header.Get("Content-Type")); kind != "application/json" {
		return p, errors.New("send keys as JSON")
	}
	in := json.NewDecoder(http.MaxBytesReader(w, r.Body, maxBodyBytes))
	in.DisallowUnknownFields()
	if err := in.Decode(&p); err != nil {
		return p, fmt.Errorf("cannot read this key: %w", err)
	}
	is := func(c linechecking.CheckControl) bool { return c.Key == p.Key }
	known := slices.ContainsFunc(linechecking.Controls, is)
	switch {
	case !known || p.Key == linechecking.KeyQuit:
		return p, fmt.Errorf("a page has no key %q", p.Key)
	case p.Seq <= 0:
		return p, errors.New("seq is missing: which pack the page shows")
	}
	return p, nil
}

func writeJSON(w http.ResponseWriter, status int, v any) {
	w.Header().Set("Content-Type", "application/json")
	w.WriteHeader(status)
	json.NewEncoder(w).Encode(v) // a device that does not read the answer has gone
}

// Link is what lets in the next device: lines, and a QR code. The terminal has no command for a new key while its screen is
// up, so that line is left out.
func Link(s *remote.Server) (lines, code []string) {
	sheet := s.Sheet()
	lines = slices.DeleteFunc(sheet.Lines, func(line string) bool { return strings.HasPrefix(line, "page new ") })
	return lines, sheet.Code
}
