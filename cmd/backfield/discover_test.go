package main

import (
	"io"
	"log"
	"net"
	"strings"
	"testing"

	"github.com/hashicorp/mdns"

	"backfield/cmd/backfield/verb"
	"backfield/osc/wire"
)

// discover lists what another responder announces on the loopback, as a line for mixer.toml, and no text from the
// network steers the terminal.
func TestDiscover(t *testing.T) {
	t.Parallel()
	lo := ""
	all, _ := net.Interfaces()
	for _, i := range all {
		if i.Flags&net.FlagLoopback != 0 && i.Flags&net.FlagUp != 0 {
			lo = i.Name
			zone, err := mdns.NewMDNSService(`\027[31mmixer`, "_osc._udp", "local.", "mixer.local.", 9000,
				[]net.IP{net.IPv4(127, 0, 0, 1)}, []string{"note=\u202Eback"})
			if err != nil {
				t.Fatal(err)
			}
			server, err := mdns.NewServer(&mdns.Config{Zone: zone, Iface: &i, Logger: log.New(io.Discard, "", 0)})
			if err != nil {
				t.Skipf("multicast is not possible here: %v", err)
			}
			defer server.Shutdown()
			break
		}
	}
	if lo == "" {
		t.Skip("no loopback interface")
	}
	code, out, talk := runIn(t, "discover", "--interface", lo, "--timeout", "1500ms")
	if code == verb.ExitWorld {
		t.Skipf("multicast is not possible on the loopback here: %s", talk)
	}
	want := "\\u001b[31mmixer\n    to = \"udp://127.0.0.1:9000\"\n    # mixer.local, note=\\u202eback\n"
	if code != 0 || !strings.Contains("\n"+out, "\n"+want) { // others may be announced here meanwhile
		t.Errorf("%d %q, want %q\n%s", code, out, want, talk)
	}
	if _, err := wire.Address("udp://127.0.0.1:9000"); err != nil {
		t.Error(err)
	}
	if code, out, _ := runIn(t, "discover", "--interface", lo, "--timeout", "1s", "--json"); code != 0 ||
		!strings.Contains(out, `"to": [`+"\n"+`      "udp://127.0.0.1:9000"`) {
		t.Errorf("%d %s", code, out)
	}
	for _, args := range [][]string{{"--interface", "no such link"}, {"--timeout", "1h"}, {"--timeout", "1ms"},
		{"here"}} {
		if code, _, talk := runIn(t, append([]string{"discover"}, args...)...); code != verb.ExitUsage {
			t.Errorf("%v: %d %s", args, code, talk)
		}
	}
}
