package wire

import (
	"strings"
	"testing"
)

func TestAddress(t *testing.T) {
	for _, c := range []struct{ to, want, err string }{
		{"udp://127.0.0.1:9000", "udp://127.0.0.1:9000", ""},
		{"UDP://mixer.local:10023", "udp://mixer.local:10023", ""},
		{"10.0.0.7:1", "udp://10.0.0.7:1", ""},
		{"udp://[::1]:65535", "udp://[::1]:65535", ""},
		{"[fe80::1%eth0]:9000", "udp://[fe80::1%eth0]:9000", ""},
		{"tcp://127.0.0.1:9000", "tcp://127.0.0.1:9000", ""},
		{"Slip://mixer.local:9000", "slip://mixer.local:9000", ""},
		{"", "", "has no port"},
		{"127.0.0.1", "", "has no port; add it: udp://127.0.0.1:PORT"},
		{"udp://127.0.0.1", "", "has no port"},
		{"slip://127.0.0.1", "", "has no port; add it: slip://127.0.0.1:PORT"},
		{"udp://[::1]", "", "has no port"},
		{"::1:9000", "", "IPv6 address goes in brackets: udp://[::1]:9000"},
		{":9000", "", "has no host"},
		{"tcp://:9000", "", "has no host; write it like tcp://127.0.0.1:9000"},
		{"osc.udp://127.0.0.1:9000", "", "osc.udp:// is not supported; use udp://, tcp://"},
		{"://127.0.0.1:9000", "", ":// is not supported"},
		{"127.0.0.1:0", "", "from 1 to 65535"},
		{"127.0.0.1:65536", "", "from 1 to 65535"},
		{"127.0.0.1:osc", "", "from 1 to 65535"},
		{"127.0.0.1:", "", "from 1 to 65535"},
		{"127.0.0.1:-1", "", "from 1 to 65535"},
		{"udp://127.0.0.1:9000/", "", "from 1 to 65535"},
		{"udp://a/b:9000", "", "is not a host"},
		{"[::1:9000", "", "is not an address"},
	} {
		got, err := Address(c.to)
		if c.err == "" && (err != nil || got.String() != c.want) {
			t.Errorf("%q: %q, %v, want %q", c.to, got, err, c.want)
		}
		if c.err == "" {
			continue
		}
		if err == nil || got != (Target{}) || !strings.Contains(err.Error(), c.err) {
			t.Errorf("%q: %q, %v, want an error about %q", c.to, got, err, c.err)
		}
		if l, err := Open(c.to); err == nil {
			l.Close()
			t.Errorf("%q can be opened", c.to)
		}
	}
}

func TestAddressToListen(t *testing.T) {
	for _, c := range []struct{ at, want, err string }{
		{"127.0.0.1:9000", "udp://127.0.0.1:9000", ""},
		{"tcp://127.0.0.1:0", "tcp://127.0.0.1:0", ""},
		{"slip://:9000", "slip://:9000", ""},
		{":0", "udp://:0", ""},
		{"", "", "has no port"},
		{":", "", "from 1 to 65535, or 0 for any that is free"},
		{":65536", "", "from 1 to 65535, or 0"},
		{"http://:80", "", "is not supported"},
	} {
		got, err := address(c.at, true)
		if c.err == "" && (err != nil || got.String() != c.want) || c.err != "" &&
			(err == nil || !strings.Contains(err.Error(), c.err)) {
			t.Errorf("%q: %q, %v, want %q%s", c.at, got, err, c.want, c.err)
		}
	}
}
