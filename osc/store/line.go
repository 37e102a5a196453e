package store

import (
	"context"
	"errors"
	"fmt"
	"io"
	"sync"
	"time"

	"backfield/osc"
	"backfield/osc/mixer"
	"backfield/osc/wire"
)

// mixerLink is the link to the mixer, and when each keepalive was last sent over it.
type mixerLink struct {
	link    wire.Link
	kept    []time.Time // by keepalive
	hearing sync.WaitGroup

	mu  sync.Mutex
	err error // of the network since the last send
}

func newMixerLink(mixer *mixer.Mixer) mixerLink {
	return mixerLink{kept: make([]time.Time, len(mixer.Keepalives))}
}

func (l *mixerLink) open(to string, hear func([]osc.Message)) (err error) {
	if l.link, err = wire.Open(to); err != nil {
		return err
	}
	l.hearing.Go(func() { l.listen(hear) })
	return nil
}

func (l *mixerLink) close() {
	l.link.Close()
	l.hearing.Wait()
}

// listen passes on the mixer's messages until the link breaks.
func (l *mixerLink) listen(hear func([]osc.Message)) {
	buffer := make([]byte, wire.MaxPacket)
	for {
		n, err := l.link.Read(buffer)
		if list, bad := wire.Decode(buffer[:n]); err == nil && bad == nil {
			hear(list)
		}
		if err != nil && !errors.Is(err, io.ErrShortBuffer) {
			l.mu.Lock()
			l.err = err
			l.mu.Unlock()
		}
		if errors.Is(err, wire.ErrBroken) || errors.Is(err, wire.ErrClosed) {
			return
		}
	}
}

// takeErr returns the network's error since the last call, and clears it.
func (l *mixerLink) takeErr() error {
	l.mu.Lock()
	defer l.mu.Unlock()
	err := l.err
	l.err = nil
	return err
}

// due is the keepalives that are due now.
func (l *mixerLink) due(mixer *mixer.Mixer, now time.Time) (list []osc.Message) {
	for i, k := range mixer.Keepalives {
		if now.Sub(l.kept[i]) >= k.Every {
			l.kept[i] = now
			list = append(list, k.Message)
		}
	}
	return list
}

// send sends due keepalives and then messages, at the mixer's rate.
func (w *Walk) send(ctx context.Context, list ...osc.Message) error {
	if ctx.Err() != nil {
		return errors.New("interrupted")
	}
	list = append(w.link.due(w.mixer, time.Now()), list...)
	packets, err := wire.Pack(list, w.mixer.Bundle, w.mixer.MaxPacket)
	if err != nil {
		return err
	}
	if w.Dry != nil {
		return printAll(w.Dry, list)
	}
	if err := wire.Send(w.link.link, packets, w.mixer.Rate, wire.Wall{}); err != nil {
		return err
	}
	return w.link.takeErr()
}

func printAll(out io.Writer, list []osc.Message) error {
	for _, m := range list {
		if _, err := fmt.Fprintln(out, m); err != nil {
			return err
		}
	}
	return nil
}

// wait waits and sends keepalives meanwhile.
func (w *Walk) wait(ctx context.Context, d time.Duration) error {
	if w.Dry != nil {
		return nil
	}
	for end := time.Now().Add(d); ; {
		left := time.Until(end)
		if left <= 0 {
			return nil
		}
		select {
		case <-ctx.Done():
		case <-time.After(min(left, 50*time.Millisecond)):
		}
		if err := w.send(ctx); err != nil {
			return err
		}
	}
}
