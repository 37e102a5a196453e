package live

import (
	"context"
	"errors"
	"io"
	"time"

	"backfield/osc/wire"
)

// keepLink opens the link to a mixer and reads from it, again and again until the context ends.
func (s *Driver) keepLink(ctx context.Context, i int, to string) {
	report := func(e linkEvent) bool {
		select {
		case s.events <- e:
			return true
		case <-ctx.Done():
			return false
		}
	}
	for ctx.Err() == nil {
		link, err := wire.Open(to)
		if err != nil {
			report(linkEvent{mixer: i, err: err})
		} else {
			// If the run ends before it handles the event, nothing else closes the link.
			forget := context.AfterFunc(ctx, func() { link.Close() })
			if report(linkEvent{mixer: i, link: link, open: true}) {
				s.listen(link, func(e linkEvent) bool { e.mixer, e.link = i, link; return report(e) })
			}
			forget()
			link.Close()
		}
		select {
		case <-time.After(reopen):
		case <-ctx.Done():
		}
	}
}

// listen reports what a mixer sends until its link breaks.
func (s *Driver) listen(link wire.Link, report func(e linkEvent) bool) {
	buffer := make([]byte, wire.MaxPacket)
	for {
		n, err := link.Read(buffer)
		if err != nil {
			broken := errors.Is(err, wire.ErrBroken) || errors.Is(err, wire.ErrClosed)
			if !errors.Is(err, io.ErrShortBuffer) && !report(linkEvent{err: err}) || broken {
				return
			}
			continue
		}
		if ms, err := wire.Decode(buffer[:n]); err == nil && !report(linkEvent{ms: ms}) {
			return
		}
	}
}
