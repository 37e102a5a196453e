package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/show"
	"backfield/cmd/backfield/term"
	"backfield/layout/source"
	fields "backfield/layout/table"
	"backfield/osc"
	"backfield/osc/desk"
	"backfield/osc/virtual"
	"backfield/osc/wire"
)

func deskCommand() *cobra.Command {
	var o deskOptions
	c := &cobra.Command{
		Use:   "desk DESK.toml",
		Short: "be the mixer that a desk.toml describes, to try a show without one",
		Long: `Listens where desk.toml says that the mixer does, or at --at, and behaves as that file says: takes
values, echoes and answers, stores and recalls scenes. The flags make the network and the mixer as bad
as real ones can be; the same seed makes the same faults. Nothing is heard: it makes no sound.

It reads commands, one a line:

    state                 print what it holds as JSON on stdout
    hand ADDRESS VALUE    somebody moves a fader: VALUE as the wire carries it
    reboot                switch it off and on
    quit                  end, as Ctrl-C does

On a terminal it shows its channels. "backfield help mixer" tells all of it.
Exit code 0: ended by quit or Ctrl-C, 1: the desk file has errors, 3: it cannot listen there.`,
		Args: exactly(1, "one DESK.toml"),
		RunE: func(c *cobra.Command, args []string) error {
			if err := o.check(); err != nil {
				return err
			}
			d, err := readDesk(c, args[0])
			if err != nil {
				return err
			}
			at := o.at
			if at == "" {
				at = d.To.V
			}
			l, err := wire.Listen(at)
			switch {
			case err != nil && errors.Unwrap(err) == nil && o.at != "": // the words are wrong, not the world
				return usage("--at %w", err)
			case err != nil:
				return world(fmt.Errorf("%w; --at 127.0.0.1:9000 listens on this computer", err))
			}
			defer l.Close()
			ctx, stop := signal.NotifyContext(c.Context(), os.Interrupt)
			defer stop()
			return newMixing(c, d, o).run(ctx, l)
		},
	}
	f := c.Flags()
	f.StringVar(&o.at, "at", "", "listen at this `HOST:PORT` in place of the desk file's; port 0 is any that is free")
	f.Float64Var(&o.faults.Drop, "drop", 0, "lose this `SHARE` of the packets, 0 to 1, each way")
	f.Float64Var(&o.faults.Reorder, "reorder", 0, "let this `SHARE` be overtaken by later ones; 0.2 without a number")
	f.Float64Var(&o.faults.Duplicate, "duplicate", 0, "let this `SHARE` arrive twice; 0.2 without a number")
	f.Lookup("reorder").NoOptDefVal, f.Lookup("duplicate").NoOptDefVal = "0.2", "0.2"
	f.DurationVar(&o.faults.Delay, "delay", 0, "packets take this `TIME`, such as 20ms, each way")
	f.DurationVar(&o.faults.Jitter, "jitter", 0, "and up to this `TIME` longer")
	f.Uint64Var(&o.seed, "seed", 1, "which packets meet with a fault: the same `NUMBER`, the same faults")
	f.DurationVar(&o.rebootAfter, "reboot-after", 0, "switch it off and on after this `TIME`, once")
	f.DurationVar(&o.boot, "boot", 0, "hear nothing for this `TIME` after a reboot")
	f.BoolVar(&o.wakeOpen, "wake-open", false, "wake up with every channel open at 0 dB instead of closed")
	f.BoolVar(&o.changes, "changes", false, "print every value that is taken on stderr, one a line")
	f.BoolVar(&o.json, "json", false, "print the state as JSON on stdout at the end")
	return c
}

type deskOptions struct {
	at                string
	faults            virtual.Faults
	seed              uint64
	rebootAfter, boot time.Duration
	wakeOpen          bool
	changes, json     bool
}

func (o *deskOptions) check() error {
	for _, x := range []struct {
		name  string
		share float64
	}{{"drop", o.faults.Drop}, {"reorder", o.faults.Reorder}, {"duplicate", o.faults.Duplicate}} {
		if !(x.share >= 0 && x.share <= 1) {
			return usage("--%s %v is no share; write a number from 0 to 1", x.name, x.share)
		}
	}
	for _, x := range []struct {
		name string
		d    time.Duration
	}{{"delay", o.faults.Delay}, {"jitter", o.faults.Jitter}, {"reboot-after", o.rebootAfter}, {"boot", o.boot}} {
		if x.d < 0 || x.d > 24*time.Hour {
			return usage("--%s %v is no time to wait; write one like 20ms or 30s", x.name, x.d)
		}
	}
	return nil
}

// readDesk reads a desk file by itself. Problems are printed; errors end the command.
func readDesk(c *cobra.Command, path string) (*desk.Desk, error) {
	raw, err := show.Disk{}.Read(path)
	if err != nil {
		return nil, world(fmt.Errorf("%s %w", path, err))
	}
	file, err := source.Open(path, raw, fields.TOMLLimit)
	if err != nil {
		return nil, world(fmt.Errorf("%s is %w", path, err))
	}
	var p source.Problems
	d := desk.Read(file, &p)
	printProblems(c, c.ErrOrStderr(), p.All())
	if p.Errors() > 0 {
		fmt.Fprintf(c.ErrOrStderr(), "%s: %s; nothing was done\n", path, tally(p.All()))
		return nil, told(exitProblems)
	}
	return d, nil
}

// mixing is a virtual mixer at work. All of it but the reading of packets and commands runs in one goroutine.
type mixing struct {
	o        deskOptions
	out, err io.Writer
	in       io.Reader
	desk     *desk.Desk
	mixer    *virtual.Mixer
	lines    []*line      // in the order in which they came
	seed     uint64       // of the next line
	screen   *term.Screen // nil where stdout is no terminal
	reboot   time.Time    // when --reboot-after comes, zero once it has
	strange  int          // errors of the network that were told
}

// line is the road to and from one peer.
type line struct {
	peer    string
	in, out *virtual.Road
	reply   func([]byte) error
	heard   time.Time
}

const (
	mostLines  = 16               // peers at once; one more takes the place of one who has long been silent
	silent     = time.Minute      // for so long
	mostTold   = 10               // errors of the network that are told
	slowScreen = time.Second / 10 // between two pictures
)

func newMixing(c *cobra.Command, d *desk.Desk, o deskOptions) *mixing {
	w := &mixing{o: o, out: c.OutOrStdout(), err: c.ErrOrStderr(), in: c.InOrStdin(), desk: d, mixer: virtual.New(d), seed: o.seed}
	w.mixer.Boot = o.boot
	if o.wakeOpen {
		w.mixer.WakeOpen = true
		w.mixer.Wake()
	}
	if term.Drawable(w.out) {
		w.screen = term.NewScreen(w.out)
	}
	w.mixer.Changed = func(m osc.Message) {
		if o.changes {
			fmt.Fprintln(w.err, m)
		}
		if w.screen != nil {
			w.screen.Change()
		}
	}
	return w
}

// arrival is a packet that came in, or what went wrong instead.
type arrival struct {
	packet []byte
	from   string
	reply  func([]byte) error
	err    error
}

func (w *mixing) run(ctx context.Context, l *wire.Listener) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	arrivals, commands := make(chan arrival), make(chan string)
	go receive(ctx, l, arrivals)
	go term.ReadLines(ctx, w.in, commands)
	fmt.Fprintf(w.err, "listening at %s\n", strings.TrimPrefix(l.Addr().String(), "udp://"))
	if w.o.rebootAfter > 0 {
		w.reboot = time.Now().Add(w.o.rebootAfter)
	}
	timer := time.NewTimer(0)
	defer timer.Stop()
	for {
		select {
		case <-ctx.Done():
			return w.end()
		case a := <-arrivals:
			w.arrived(time.Now(), a)
		case text := <-commands:
			more, err := w.command(time.Now(), text)
			if err != nil {
				return world(err)
			}
			if !more {
				return w.end()
			}
		case <-timer.C:
		}
		timer.Reset(w.work(time.Now()))
	}
}

// receive hands packets over until the listener is closed.
func receive(ctx context.Context, l *wire.Listener, to chan<- arrival) {
	for {
		packet, from, err := l.Receive()
		if errors.Is(err, wire.ErrClosed) {
			return
		}
		select {
		case to <- arrival{packet, from.String(), from.Reply, err}:
		case <-ctx.Done():
			return
		}
	}
}

func (w *mixing) arrived(now time.Time, a arrival) {
	if a.err != nil {
		if w.strange++; w.strange <= mostTold {
			fmt.Fprintf(w.err, "backfield: %v\n", a.err)
		}
		return
	}
	r := w.line(a.from)
	if r == nil {
		if len(w.lines) == mostLines {
			w.lines = slices.DeleteFunc(w.lines, func(r *line) bool { return now.Sub(r.heard) > silent })
		}
		if len(w.lines) == mostLines {
			if w.strange++; w.strange <= mostTold {
				fmt.Fprintf(w.err, "backfield: %s is not heard: %d others are there already\n", a.from, mostLines)
			}
			return
		}
		r = &line{peer: a.from, in: virtual.NewRoad(w.o.faults, w.seed), out: virtual.NewRoad(w.o.faults, w.seed+1)}
		w.seed += 2 // each direction of each peer has luck of its own
		w.lines = append(w.lines, r)
	}
	r.reply, r.heard = a.reply, now
	r.in.Send(now, a.packet)
}

func (w *mixing) line(peer string) *line {
	if i := slices.IndexFunc(w.lines, func(r *line) bool { return r.peer == peer }); i >= 0 {
		return w.lines[i]
	}
	return nil
}

// work does what is due, and returns how long to wait for what is due next.
func (w *mixing) work(now time.Time) time.Duration {
	if !w.reboot.IsZero() && !now.Before(w.reboot) {
		w.reboot = time.Time{}
		w.rebootNow(now)
	}
	next := now.Add(time.Hour)
	sooner := func(at time.Time) {
		if at.Before(next) {
			next = at
		}
	}
	for _, r := range w.lines {
		for _, packet := range r.in.Deliver(now) {
			w.send(now, w.mixer.Handle(now, r.peer, packet))
		}
	}
	for _, r := range w.lines { // after all have been handled, since each may tell all others
		for _, packet := range r.out.Deliver(now) {
			r.reply(packet) // what cannot be sent is lost, as on any road
		}
		for _, road := range []*virtual.Road{r.in, r.out} {
			if at, ok := road.Next(); ok {
				sooner(at)
			}
		}
	}
	if !w.reboot.IsZero() {
		sooner(w.reboot)
	}
	if w.screen != nil {
		switch from, due := w.screen.Due(slowScreen); {
		case due && now.Before(from):
			sooner(from)
		case due:
			w.screen.Draw(now, mixerLines(w.desk, w.mixer.State()))
		}
	}
	return next.Sub(now)
}

func (w *mixing) send(now time.Time, replies []virtual.Reply) {
	for _, r := range replies {
		if to := w.line(r.To); to != nil {
			to.out.Send(now, r.Packet)
		}
	}
}

func (w *mixing) rebootNow(now time.Time) {
	w.mixer.Reboot(now)
	fmt.Fprintln(w.err, "rebooted")
	if w.screen != nil {
		w.screen.Change()
	}
}

var deskCommands = []string{"state", "hand", "reboot", "quit"}

// command does what a line says; more is false if that is to end. What is wrong with it ends nothing.
func (w *mixing) command(now time.Time, text string) (more bool, err error) {
	if w.screen != nil { // what was typed has moved the picture up
		w.screen.Typed()
	}
	words := strings.Fields(text)
	switch {
	case len(words) == 0:
	case words[0] == "quit" && len(words) == 1:
		return false, nil
	case words[0] == "reboot" && len(words) == 1:
		w.rebootNow(now)
	case words[0] == "state" && len(words) == 1:
		return true, w.state()
	case words[0] == "hand" && len(words) >= 2:
		value := strings.Join(words[2:], " ")
		if err := w.hand(now, words[1], value); err != nil {
			fmt.Fprintf(w.err, "backfield: hand %s %s: %v\n", words[1], value, err)
		}
	default:
		fmt.Fprintf(w.err, "backfield: no command %q; %s\n", words[0], source.DidYouMean(words[0], deskCommands, "write state, hand ADDRESS VALUE, reboot or quit"))
	}
	return true, nil
}

func (w *mixing) hand(now time.Time, address, value string) error {
	place, ok := w.desk.Find(address)
	if !ok {
		return fmt.Errorf("this desk has no such address")
	}
	arg, err := w.desk.Parse(place.Param, value)
	if err != nil {
		return err
	}
	replies, err := w.mixer.Hand(now, address, arg)
	w.send(now, replies)
	return err
}

func (w *mixing) state() error {
	text, err := w.mixer.State().Encode()
	if err == nil {
		_, err = w.out.Write(text)
	}
	return err
}

// end says what came, and prints the state if that is wanted.
func (w *mixing) end() error {
	n := w.mixer.State().Counts
	fmt.Fprintf(w.err, "%s heard: %s taken, %d refused, %d to addresses that it does not have\n",
		plural(n.Messages, "message"), plural(n.Taken, "value"), n.Refused, n.Unknown)
	if w.o.json {
		return world(w.state())
	}
	return nil
}
