package simulated

import (
	"context"
	"errors"
	"sync"
	"time"

	"backfield/osc/mixer"
	"backfield/osc/virtual"
	"backfield/osc/wire"
)

// mostPeers is how many senders are remembered, more than a mixer tells of changes.
const mostPeers = 64

// Start starts a simulated mixer on a free port of the loopback. It returns a function that gives what the mixer holds,
// and its address. The mixer ends with the context.
func Start(ctx context.Context, d *mixer.Mixer) (state func() virtual.DeviceState, at string, err error) {
	l, err := wire.Listen("udp://127.0.0.1:0")
	if err != nil {
		return nil, "", err
	}
	m := virtual.New(d)
	var mu sync.Mutex
	context.AfterFunc(ctx, func() { l.Close() })
	go func() {
		peers := map[string]wire.Peer{} // whoever has sent something, and may be sent what others change
		for {
			packet, from, err := l.Receive()
			if errors.Is(err, wire.ErrClosed) {
				return
			}
			if err != nil {
				continue
			}
			if len(peers) == mostPeers {
				clear(peers)
			}
			peers[from.String()] = from
			mu.Lock()
			replies := m.Handle(time.Now(), from.String(), packet)
			mu.Unlock()
			for _, r := range replies {
				if to, known := peers[r.To]; known {
					to.Reply(r.Packet) // the run asks again for one that is lost
				}
			}
		}
	}()
	state = func() virtual.DeviceState {
		mu.Lock()
		defer mu.Unlock()
		return m.State()
	}
	return state, l.Addr().String(), nil
}
