// Package remote is the page of a live run in a browser: the operator's second screen and remote, next to the terminal.
// It shows the run's view, sends commands, and computes nothing itself. Without a key a device sees nothing and can
// change nothing. A device that hangs or floods cannot hold up the run or the other pages, since each page has one slot
// with the newest state. It uses plain HTTP: anyone who can listen on the network can read keys and cookies.
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

// PageRun is a live run, such as a live.Driver. Both methods may be called from any goroutine.
type PageRun interface {
	// DoWithin carries out a command and returns the run's answer. The error is for a command that was not carried out.
	// A command that the run has not started within most is withdrawn.
	DoWithin(c run.Command, most time.Duration) (said string, err error)
	// View returns the state of the run; ok is false after its end.
	View() (v run.View, ok bool)
}

// ServerOptions are the options of a page.
type ServerOptions struct {
	At       string // HOST:PORT, the host an IP address or "localhost"; port 0 is any that is free
	ReadOnly bool   // it takes no commands
	// From are the machines that may connect, other than this one. Empty: all.
	From  []netip.Addr
	Field FieldLines
	// Channels are the channels of the show, in the order in which a page shows them, and MixerChannels is how many the
	// mixer has.
	Channels      []int
	MixerChannels int
	// Where returns where a player or a fixed mic is at a time of the show, in meters from the 50 and the front
	// sideline. ok is false if that is not known. With nil nothing is drawn on the field.
	Where func(player string, showS float64) (xM, yM float64, ok bool)
	// Report is called with a line about each device that came in or was refused, from any goroutine. nil: no reports.
	Report func(text string)
	// Extra has more handlers behind the same key, by patterns of http.ServeMux. Requests other than GET and HEAD are
	// checked to come from a page of this server.
	Extra map[string]http.Handler
	// Instead replaces the run's page, its commands and Extra: it gets every request of a device that is in. There is no
	// run then.
	Instead http.Handler
}

// FieldLines are the lines of the field as the page draws them, in meters.
type FieldLines struct {
	LengthM    float64 `json:"length_m"` // goal line to goal line
	EndZoneM   float64 `json:"end_zone_m"`
	WidthM     float64 `json:"width_m"`
	HashM      float64 `json:"hash_m"`  // either hash from its sideline
	FrontM     float64 `json:"front_m"` // how far players and mics are in front of the front sideline
	BackM      float64 `json:"back_m"`  // and behind the back sideline
	MiddleYard int     `json:"middle_yard"`
}

// Bounds, so that nobody who can reach the port can make the server grow or slow down the run.
const (
	maxPages          = 16 // open at once, on all devices
	maxPagesPerDevice = 4  // of these, on one device
	maxHeaderBytes    = 8 << 10
	maxBodyBytes      = 1 << 10
	maxNameBytes      = 100 // what jump goes to
	maxCommandsPerS   = 10  // of one device
	maxRequestsPerS   = 50

	goGap        = time.Second             // between two gos of a device, as at the terminal
	commandWait  = time.Second             // how long a command waits for the run to start it
	tooLate      = 1500 * time.Millisecond // an older command is refused
	tooEarly     = 300 * time.Millisecond  // one that was pressed later than that from now is refused too
	requestLimit = 5 * time.Second         // for a whole request, and for the browser to take a frame
	idle         = time.Minute
	closeWait    = 400 * time.Millisecond // how long Close waits for pages to get the end
)

//go:embed static
var embedded embed.FS

// Server serves the page of one run. Make one with Listen.
type Server struct {
	run    PageRun
	o      ServerOptions
	conns  *connLimiter
	http   *http.Server
	access accessList
	hub    *hub
	ended  chan struct{} // closed when Serve has returned
	stop   context.CancelFunc
	once   sync.Once
	err    error // of Serve, if Close did not end it; read after ended is closed
}

// Listen opens the port and serves the page until Close. The error says what is wrong with the address.
func Listen(stage PageRun, o ServerOptions) (*Server, error) {
	at, err := Address(o.At)
	if err != nil {
		return nil, err
	}
	l, err := net.Listen("tcp", at)
	if err != nil {
		return nil, err
	}
	s := &Server{run: stage, o: o, ended: make(chan struct{})}
	s.conns = newConnLimiter(l, o.From, s.access.isFrom)
	if s.o.Report == nil {
		s.o.Report = func(string) {}
	}
	if err := s.access.renew(); err != nil {
		l.Close()
		return nil, err
	}
	s.hub = newHub(stage, &s.o)
	ctx, stop := context.WithCancel(context.Background())
	s.stop = stop
	s.http = &http.Server{
		Handler: s.handler(), MaxHeaderBytes: maxHeaderBytes, ErrorLog: log.New(io.Discard, "", 0),
		ReadHeaderTimeout: requestLimit, ReadTimeout: requestLimit, WriteTimeout: 2 * requestLimit, IdleTimeout: idle,
		ConnContext: withConn,
	}
	go s.hub.look(ctx)
	go func() {
		defer close(s.ended)
		if err := s.http.Serve(s.conns); !errors.Is(err, http.ErrServerClosed) {
			s.err = err
			s.o.Report("the page has stopped: " + err.Error())
		}
	}()
	return s, nil
}

// Address reads the address that a user gives for the page: HOST:PORT, or a port alone, for this machine only. The
// error says how to write it.
func Address(text string) (string, error) {
	if p, err := strconv.Atoi(text); err == nil && p >= 0 && p <= 65535 {
		return net.JoinHostPort("127.0.0.1", text), nil
	}
	host, port, err := net.SplitHostPort(text)
	p, bad := strconv.Atoi(port)
	_, name := netip.ParseAddr(host)
	switch {
	case err != nil || bad != nil || p < 0 || p > 65535:
		return "", fmt.Errorf("%q is not HOST:PORT; write 127.0.0.1:8080 for this machine only, "+
			"0.0.0.0:8080 for every network that it is on", text)
	case host == "":
		return "", fmt.Errorf("%q has no address; write 127.0.0.1:%s for this machine only, "+
			"0.0.0.0:%s for every network that it is on", text, port, port)
	case host == "localhost":
		return net.JoinHostPort("127.0.0.1", port), nil
	case name != nil:
		return "", fmt.Errorf("%q is not an IP address; write this machine's address on the network that the page "+
			"is for, or 0.0.0.0:%s for all networks", host, port)
	}
	return text, nil
}

// Addr is the address that it listens at.
func (s *Server) Addr() netip.AddrPort { return addrOf(s.conns.Addr()) }

// Close sends the end of the run to every page and closes the port. It may be called more than once.
func (s *Server) Close() error {
	s.once.Do(func() {
		s.hub.finish()
		ctx, cancel := context.WithTimeout(context.Background(), closeWait)
		s.http.Shutdown(ctx)
		cancel()
		s.http.Close()
		s.stop()
		<-s.ended
		select { // do not wait for a run that hangs
		case <-s.hub.done:
		case <-time.After(closeWait):
		}
	})
	return s.err
}
