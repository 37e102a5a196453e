package liverun

import (
	"context"
	"io"
	"os"
	"os/signal"
	"slices"
	"sync/atomic"
	"syscall"
	"time"

	"backfield/cmd/backfield/term"
	"backfield/layout/visible"
)

// hangUp is how long after SIGHUP the terminal may still seem to be there: some terminals send the signal first and close
// then.
const hangUp = 5 * time.Second

// Signals are what the system asks of a run: to end, by SIGINT, SIGTERM or SIGQUIT; or to do without its terminal, when that is
// closed or its connection is lost (SIGHUP).
type Signals struct {
	End    context.Context // ends with the first SIGINT, SIGTERM or SIGQUIT
	Screen context.Context // ends with End, and when the terminal that commands are typed at is gone

	in        *os.File   // the terminal that commands are typed at; nil if they come from elsewhere
	terminals []*os.File // the run's streams that were terminals at the start
	hungUp    atomic.Bool
	by        atomic.Pointer[string]
	end       context.CancelFunc
}

// endingSignals are the signals that end a run. SIGQUIT is Ctrl-\ on a terminal, next to the keys that are typed there.
var endingSignals = map[os.Signal]string{
	os.Interrupt: "SIGINT", syscall.SIGTERM: "SIGTERM", syscall.SIGQUIT: "SIGQUIT",
}

// Watch takes over the signals of the program until stop is called. in is where commands come from, and out is where
// answers and messages go. A pipe that breaks because its reader was hung up first no longer ends the program.
func Watch(ctx context.Context, in io.Reader, out ...io.Writer) (s *Signals, stop func()) {
	s = &Signals{}
	if f, ok := in.(*os.File); ok && term.IsTerminal(f) {
		s.in, s.terminals = f, append(s.terminals, f)
	}
	for _, w := range out {
		if f, ok := visible.Raw(w).(*os.File); ok && term.IsTerminal(f) {
			s.terminals = append(s.terminals, f)
		}
	}
	var blank context.CancelFunc
	s.End, s.end = context.WithCancel(ctx)
	s.Screen, blank = context.WithCancel(s.End)
	signal.Ignore(syscall.SIGPIPE)
	signals := make(chan os.Signal, 8)
	signal.Notify(signals, os.Interrupt, syscall.SIGTERM, syscall.SIGQUIT, syscall.SIGHUP)
	done := make(chan struct{})
	go s.watch(signals, done, blank)
	return s, func() {
		signal.Stop(signals)
		signal.Reset(syscall.SIGPIPE)
		close(done)
		s.end()
	}
}

func (s *Signals) watch(signals <-chan os.Signal, done <-chan struct{}, blank context.CancelFunc) {
	look := time.NewTicker(50 * time.Millisecond)
	look.Stop()
	var until time.Time
	for {
		select {
		case sig := <-signals:
			if sig != syscall.SIGHUP {
				s.Quit(endingSignals[sig])
				continue
			}
			s.hungUp.Store(true)
			until = time.Now().Add(hangUp)
			look.Reset(50 * time.Millisecond)
		case <-look.C:
			if s.in != nil && !term.IsTerminal(s.in) {
				blank()
			}
			if time.Now().After(until) {
				look.Stop()
			}
		case <-done:
			look.Stop()
			return
		}
	}
}

// TerminalGone reports whether the run was started from a terminal that is no longer there.
func (s *Signals) TerminalGone() bool {
	if len(s.terminals) == 0 {
		return s.hungUp.Load()
	}
	return !slices.ContainsFunc(s.terminals, func(f *os.File) bool { return term.IsTerminal(f) })
}

// Quit ends the run as a signal does. by names what ended it: a signal, or a command of another machine.
func (s *Signals) Quit(by string) {
	s.by.CompareAndSwap(nil, &by)
	s.end()
}

// By names what has ended the run; "" for the operator.
func (s *Signals) By() string {
	if by := s.by.Load(); by != nil {
		return *by
	}
	return ""
}
