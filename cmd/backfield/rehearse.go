package main

import (
	"context"
	"errors"
	"time"

	"backfield/osc/desk"
	"backfield/osc/virtual"
	"backfield/osc/wire"
)

// rehearsalDesk starts a virtual desk on this computer and returns where it listens. It ends with the context.
func rehearsalDesk(ctx context.Context, d *desk.Desk) (string, error) {
	l, err := wire.Listen("udp://127.0.0.1:0")
	if err != nil {
		return "", err
	}
	mixer := virtual.New(d)
	context.AfterFunc(ctx, func() { l.Close() })
	go func() {
		for {
			packet, from, err := l.Receive()
			if errors.Is(err, wire.ErrClosed) {
				return
			}
			if err != nil {
				continue
			}
			for _, r := range mixer.Handle(time.Now(), from.String(), packet) {
				from.Reply(r.Packet) // one that is lost is asked for again
			}
		}
	}()
	return l.Addr().String(), nil
}
