// Package remote is the page of a live run: the operator's second screen and remote in a browser, beside the terminal.
// It shows the run's view and gives the run's commands, and works out nothing of its own. Whoever has no key sees
// nothing and moves nothing; whoever has one, and hangs or floods, cannot hold the run or the other pages: each page
// has one slot with the newest state. It speaks plain HTTP: who can listen on the network can read keys and cookies.
package remote

import (
	"context"
	"embed"
	"errors"
	"fmt"
	"io"
	"log"
	"net"
	"net/http"
	"net/netip"
	"strconv"
	"sync"
	"time"

	"backfield/osc/run"
)

// Stage is a run at work, as live.Stage is one. Both methods may be called from any goroutine.
type PageRun interface {
	// DoWithin gives a command and says what came of it. The error is for one that was not carried out, for whatever
	// reason; one that the run has not taken up after most is taken back.
	DoWithin(c run.Command, most time.Duration) (said string, err error)
	// View looks at the run; ok is false after its end.
	View() (v run.View, ok bool)
}

// Options are what a page is besides the run that it shows.
type ServerOptions struct {
	At       string // HOST:PORT, the host an IP address or "localhost"; port 0 is any that is free
	ReadOnly bool   // it gives no commands
	Field    FieldLines
	// Where tells where a player or a fixed mic is at a time of the show, in metres from the 50 and the front sideline;
	// ok is false where that is not known. nil: nowhere.
	Where func(player string, showS float64) (xM, yM float64, ok bool)
	// Tell is told who came in and who was refused, in words; from any goroutine. nil: nobody is told.
	Report func(text string)
	// Extra is what is served besides, behind the same key, by pattern of http.ServeMux. What is no GET or HEAD has been
	// checked to come from a page of this server.
	Extra map[string]http.Handler
}

// Field is the ground, in metres: its lines as the page draws them.
type FieldLines struct {
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
	maxPages          = 16 // that look on at once, of all devices
	maxPagesPerDevice = 4  // of these, of one device
	maxHeaderBytes    = 8 << 10
	maxBodyBytes      = 1 << 10
	maxNameBytes      = 100 // bytes of what "to" goes to
	maxCommandsPerS   = 10  // of one device in any second
	maxRequestsPerS   = 50

	goGap        = time.Second             // from one go of a device to its next that is taken, as at the terminal
	commandWait  = time.Second             // how long a command waits for the run to take it up
	tooLate      = 1500 * time.Millisecond // a command that was asked for longer ago is not carried out
	requestLimit = 5 * time.Second         // for a request to arrive whole, and for a frame to be taken
	idle         = time.Minute
	closeWait    = 400 * time.Millisecond // how long Close waits for pages to hear of the end
)

//go:embed static
var embedded embed.FS

// Server serves the page of one run. Make one with Listen.
type Server struct {
	stage  PageRun
	o      ServerOptions
	conns  *connLimiter
	http   *http.Server
	access accessList
	hub    *hub
	ended  chan struct{} // Serve has returned
	stop   context.CancelFunc
	once   sync.Once
	err    error // of Serve, if it ended by itself; not read before ended is closed
}

// Listen opens the port and serves the page until Close. The error says what is wrong with where.
func Listen(stage PageRun, o ServerOptions) (*Server, error) {
	at, err := Address(o.At)
	if err != nil {
		return nil, err
	}
	l, err := net.Listen("tcp", at)
	if err != nil {
		return nil, err
	}
	s := &Server{stage: stage, o: o, conns: newConnLimiter(l), ended: make(chan struct{})}
	if s.o.Report == nil {
		s.o.Report = func(string) {}
	}
	if err := s.access.renew(); err != nil {
		l.Close()
		return nil, err
	}
	s.hub = newHub(stage, o.Where)
	ctx, stop := context.WithCancel(context.Background())
	s.stop = stop
	s.http = &http.Server{
		Handler: s.handler(), MaxHeaderBytes: maxHeaderBytes, ErrorLog: log.New(io.Discard, "", 0),
		ReadHeaderTimeout: requestLimit, ReadTimeout: requestLimit, WriteTimeout: 2 * requestLimit, IdleTimeout: idle,
	}
	go s.hub.look(ctx)
	go func() {
		defer close(s.ended)
		if err := s.http.Serve(s.conns); !errors.Is(err, http.ErrServerClosed) {
			s.err = err
			s.o.Report("the page can be reached no more: " + err.Error())
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
		return "", fmt.Errorf("%q is no HOST:PORT; write it like 127.0.0.1:8080 for this machine alone, "+
			"0.0.0.0:8080 for every network it is in", text)
	case host == "":
		return "", fmt.Errorf("%q names no address; write 127.0.0.1:%s for this machine alone, "+
			"0.0.0.0:%s for every network it is in", text, port, port)
	case host == "localhost":
		return net.JoinHostPort("127.0.0.1", port), nil
	case name != nil:
		return "", fmt.Errorf("%q is no IP address of this machine; write the address of the network that the page "+
			"is for, "+
			"or 0.0.0.0:%s for all", host, port)
	}
	return text, nil
}

// Addr is where it listens.
func (s *Server) Addr() netip.AddrPort { return addrOf(s.conns.Addr()) }

// Close tells every page that the run has ended, and closes the port. It may be called more than once.
func (s *Server) Close() error {
	s.once.Do(func() {
		s.hub.finish()
		ctx, cancel := context.WithTimeout(context.Background(), closeWait)
		s.http.Shutdown(ctx)
		cancel()
		s.http.Close()
		s.stop()
		<-s.ended
		select { // a run that hangs would hold it
		case <-s.hub.done:
		case <-time.After(closeWait):
		}
	})
	return s.err
}
