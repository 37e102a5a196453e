// Package simulated runs the simulated mixer for the commands: packets and typed commands in, replies and a picture of
// the channels out, with the faults that a network can have. What it does with a message is in osc/virtual.
package simulated

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"backfield/cmd/backfield/term"
	"backfield/layout/source"
	"backfield/osc"
	"backfield/osc/mixer"
	"backfield/osc/virtual"
	"backfield/osc/wire"
)

// MixerOptions are how bad the network and the mixer are, and what is printed.
type MixerOptions struct {
	Faults      virtual.Faults
	Seed        uint64        // which packets are hit: the same seed, the same faults
	RebootAfter time.Duration // it reboots once after this time; 0 for never
	Boot        time.Duration // how long it takes nothing after a reboot
	WakeOpen    bool          // it starts with every channel open at 0 dB instead of closed
	Changes     bool          // print every value that is taken
	JSON        bool          // print the state at the end
	Record      Recorder      // nil for none
}

// Recorder is given all that the mixer holds as it starts and after each reboot, and every value that it takes.
type Recorder interface {
	Start(now time.Time, s virtual.DeviceState)
	Take(now time.Time, m osc.Message)
}

// Check returns an error that names the flag of an option that is out of range.
func (o *MixerOptions) Check() error {
	for _, x := range []struct {
		name  string
		share float64
	}{{"drop", o.Faults.Drop}, {"reorder", o.Faults.Reorder}, {"duplicate", o.Faults.Duplicate}} {
		if !(x.share >= 0 && x.share <= 1) {
			return fmt.Errorf("--%s %v is out of range (0 to 1)", x.name, x.share)
		}
	}
	for _, x := range []struct {
		name string
		d    time.Duration
	}{{"delay", o.Faults.Delay}, {"jitter", o.Faults.Jitter}, {"reboot-after", o.RebootAfter}, {"boot", o.Boot}} {
		if x.d < 0 || x.d > 24*time.Hour {
			return fmt.Errorf("--%s %v is out of range (0s to 24h); write it like 20ms or 30s", x.name, x.d)
		}
	}
	return nil
}

// serving is a running simulated mixer. Everything except reading packets and commands runs in one goroutine.
type serving struct {
	o             MixerOptions
	out, err      io.Writer
	in            io.Reader
	mixer         *mixer.Mixer
	virtual       *virtual.Device
	senders       []*sender    // in the order of their first packets
	seed          uint64       // of the next sender
	screen        *term.Screen // nil if stdout is not a terminal
	reboot        time.Time    // when --reboot-after is due, zero afterward
	networkErrors int          // how many were printed
}

// sender is whoever sends packets, with the faulty link in each direction.
type sender struct {
	address string
	in, out *virtual.FaultyLink
	reply   func([]byte) error
	heard   time.Time
}

const (
	maxSenders = 16 // at once; one more replaces one that has been silent for this long:
	silent     = time.Minute
	maxErrors  = 10               // network errors that are printed
	slowScreen = time.Second / 10 // between two pictures
)

// Serve simulates the mixer that d describes, at l, until the context ends or the input says quit. Commands come from
// in. The state goes to out, everything else to errs. It closes nothing. It returns an error if the state cannot be
// written.
func Serve(ctx context.Context, l *wire.Listener, d *mixer.Mixer, o MixerOptions, in io.Reader,
	out, errs io.Writer) error {
	w := &serving{o: o, out: out, err: errs, in: in, mixer: d, virtual: virtual.New(d), seed: o.Seed}
	w.virtual.Boot = o.Boot
	if o.WakeOpen {
		w.virtual.WakeOpen = true
		w.virtual.Wake()
	}
	if term.Drawable(w.out) {
		w.screen = term.NewScreen(w.out)
	}
	w.virtual.Changed = func(m osc.Message) {
		if o.Changes {
			fmt.Fprintln(w.err, m)
		}
		if w.screen != nil {
			w.screen.Change()
		}
		if o.Record != nil {
			o.Record.Take(time.Now(), m)
		}
	}
	if o.Record != nil {
		o.Record.Start(time.Now(), w.virtual.State())
	}
	return w.run(ctx, l)
}

// inbound is a packet that came in, or an error.
type inbound struct {
	packet []byte
	from   string
	reply  func([]byte) error
	err    error
}

func (w *serving) run(ctx context.Context, l *wire.Listener) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	arrivals, typed := make(chan inbound), make(chan string)
	go receive(ctx, l, arrivals)
	go term.ReadLines(ctx, w.in, typed)
	fmt.Fprintf(w.err, "listening at %s\n", strings.TrimPrefix(l.Addr().String(), "udp://"))
	if w.o.RebootAfter > 0 {
		w.reboot = time.Now().Add(w.o.RebootAfter)
	}
	timer := time.NewTimer(0)
	defer timer.Stop()
	for {
		select {
		case <-ctx.Done():
			return w.end()
		case a := <-arrivals:
			w.arrived(time.Now(), a)
		case text := <-typed:
			more, err := w.command(time.Now(), text)
			if err != nil {
				return err
			}
			if !more {
				return w.end()
			}
		case <-timer.C:
		}
		timer.Reset(w.work(time.Now()))
	}
}

// receive delivers packets until the listener is closed.
func receive(ctx context.Context, l *wire.Listener, to chan<- inbound) {
	for {
		packet, from, err := l.Receive()
		if errors.Is(err, wire.ErrClosed) {
			return
		}
		select {
		case to <- inbound{packet, from.String(), from.Reply, err}:
		case <-ctx.Done():
			return
		}
	}
}

func (w *serving) arrived(now time.Time, a inbound) {
	if a.err != nil {
		if w.networkErrors++; w.networkErrors <= maxErrors {
			fmt.Fprintf(w.err, "backfield: %v\n", a.err)
		}
		return
	}
	r := w.sender(a.from)
	if r == nil {
		if len(w.senders) == maxSenders {
			w.senders = slices.DeleteFunc(w.senders, func(r *sender) bool { return now.Sub(r.heard) > silent })
		}
		if len(w.senders) == maxSenders {
			if w.networkErrors++; w.networkErrors <= maxErrors {
				fmt.Fprintf(w.err, "backfield: %s is ignored: %d others are sending\n", a.from, maxSenders)
			}
			return
		}
		r = &sender{address: a.from, in: virtual.NewFaultyLink(w.o.Faults, w.seed),
			out: virtual.NewFaultyLink(w.o.Faults, w.seed+1)}
		w.seed += 2 // each direction of each sender has its own faults
		w.senders = append(w.senders, r)
	}
	r.reply, r.heard = a.reply, now
	r.in.Send(now, a.packet)
}

func (w *serving) sender(peer string) *sender {
	if i := slices.IndexFunc(w.senders, func(r *sender) bool { return r.address == peer }); i >= 0 {
		return w.senders[i]
	}
	return nil
}

// work does what is due, and returns how long to wait for the next thing.
func (w *serving) work(now time.Time) time.Duration {
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
	for _, r := range w.senders {
		for _, packet := range r.in.Deliver(now) {
			w.send(now, w.virtual.Handle(now, r.address, packet))
		}
	}
	for _, r := range w.senders { // last, since each packet may cause echoes to every sender
		for _, packet := range r.out.Deliver(now) {
			r.reply(packet) // a reply that cannot be sent is lost, as on any network
		}
		for _, link := range []*virtual.FaultyLink{r.in, r.out} {
			if at, ok := link.Next(); ok {
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
			w.screen.Draw(now, mixerLines(w.mixer, w.virtual.State()))
		}
	}
	return next.Sub(now)
}

func (w *serving) send(now time.Time, replies []virtual.Reply) {
	for _, r := range replies {
		if to := w.sender(r.To); to != nil {
			to.out.Send(now, r.Packet)
		}
	}
}

func (w *serving) rebootNow(now time.Time) {
	w.virtual.Reboot(now)
	if w.o.Record != nil {
		w.o.Record.Start(now, w.virtual.State())
	}
	fmt.Fprintln(w.err, "rebooted")
	if w.screen != nil {
		w.screen.Change()
	}
}

// Commands are the first words of the lines that it takes.
var Commands = []string{"state", "move", "reboot", "quit"}

// command does what a line says. more is false if that is to quit. A wrong line ends nothing.
func (w *serving) command(now time.Time, text string) (more bool, err error) {
	if w.screen != nil { // typing moved the picture up
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
	case words[0] == "hand":
		fmt.Fprintln(w.err, `backfield: "hand" is now "move": write move ADDRESS VALUE`)
	case words[0] == "move" && len(words) >= 2:
		value := strings.Join(words[2:], " ")
		if err := w.move(now, words[1], value); err != nil {
			fmt.Fprintf(w.err, "backfield: move %s %s: %v\n", words[1], value, err)
		}
	default:
		fmt.Fprintf(w.err, "backfield: no command %q; %s\n", words[0], source.DidYouMean(words[0], Commands,
			"write state, move ADDRESS VALUE, reboot or quit"))
	}
	return true, nil
}

func (w *serving) move(now time.Time, address, value string) error {
	place, ok := w.mixer.Find(address)
	if !ok {
		return fmt.Errorf("this mixer has no such address")
	}
	arg, err := w.mixer.Parse(place.Param, value)
	if err != nil {
		return err
	}
	replies, err := w.virtual.Move(now, address, arg)
	w.send(now, replies)
	return err
}

func (w *serving) state() error {
	text, err := w.virtual.State().Encode()
	if err == nil {
		_, err = w.out.Write(text)
	}
	return err
}

// end says what came, and prints the state if --json asks for it.
func (w *serving) end() error {
	n := w.virtual.State().Counts
	fmt.Fprintf(w.err, "%s came: %s taken, %d refused, %d for addresses that it does not have\n",
		count(n.Messages, "message"), count(n.Taken, "value"), n.Refused, n.Unknown)
	if w.o.JSON {
		return w.state()
	}
	return nil
}

func count(n int, word string) string { return source.Count(float64(n), word) }
