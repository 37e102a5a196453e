package discover

import (
	"context"
	"io"
	"log"
	"net"
	"net/netip"
	"reflect"
	"strings"
	"testing"
	"time"

	"github.com/hashicorp/mdns"
	"github.com/miekg/dns"
)

func loopback(t *testing.T) net.Interface {
	t.Helper()
	all, err := net.Interfaces()
	if err != nil {
		t.Fatal(err)
	}
	for _, i := range all {
		if i.Flags&net.FlagLoopback != 0 && i.Flags&net.FlagUp != 0 {
			return i
		}
	}
	t.Skip("no loopback interface")
	panic("unreachable")
}

// Two services of another responder on one host are both found, one with a dot and a space in its name. Only the
// loopback is asked.
func TestBrowseFindsAnotherResponder(t *testing.T) {
	lo := loopback(t)
	quiet := log.New(io.Discard, "", 0)
	for _, s := range []struct {
		name, typ string
		port      int
	}{{`Front of House v1\.2`, "_osc._udp", 9000}, {"Monitors", "_osc._tcp", 9001}, {"not osc", "_http._tcp", 80}} {
		zone, err := mdns.NewMDNSService(s.name, s.typ, "local.", "found-by-browse.local.", s.port,
			[]net.IP{net.IPv4(127, 0, 0, 1)}, []string{"model=invented"})
		if err != nil {
			t.Fatal(err)
		}
		server, err := mdns.NewServer(&mdns.Config{Zone: zone, Iface: &lo, Logger: quiet})
		if err != nil {
			t.Skipf("multicast is not possible here: %v", err)
		}
		defer server.Shutdown()
	}
	all, err := Browse(context.Background(), []net.Interface{lo}, 1500*time.Millisecond)
	if err != nil {
		t.Skipf("multicast is not possible on the loopback here: %v", err)
	}
	var found []Service // others may be announced at the same time
	for _, s := range all {
		if s.Host == "found-by-browse.local" {
			found = append(found, s)
		}
	}
	at := []netip.Addr{netip.MustParseAddr("127.0.0.1")}
	text := []string{"model=invented"}
	want := []Service{{"Front of House v1.2", "udp", "found-by-browse.local", 9000, at, text},
		{"Monitors", "tcp", "found-by-browse.local", 9001, at, text}}
	if !reflect.DeepEqual(found, want) {
		t.Errorf("found %+v\nwant %+v", found, want)
	}
}

// response packs records as a responder would.
func response(t *testing.T, records ...string) []byte {
	t.Helper()
	m := dns.Msg{MsgHdr: dns.MsgHdr{Response: true, Authoritative: true}, Compress: true}
	for _, r := range records {
		rr, err := dns.NewRR(r)
		if err != nil {
			t.Fatal(err)
		}
		m.Answer = append(m.Answer, rr)
	}
	packet, err := m.Pack()
	if err != nil {
		t.Fatal(err)
	}
	return packet
}

// Records that come in pieces, in any order, in other letter case and with other services are put together. What is
// missing is asked.
func TestAnswersArePutTogether(t *testing.T) {
	a := newAnswers()
	a.take(response(t, `_osc._udp.local. 120 IN PTR Mixer\ A._osc._udp.local.`,
		`_http._tcp.local. 120 IN PTR Page._http._tcp.local.`), "eth0")
	if q := a.open(); len(q) != 2 || q[0].Qtype != dns.TypeSRV || q[1].Qtype != dns.TypeTXT {
		t.Errorf("asks %v", q)
	}
	a.take(response(t, `mixer\ a._OSC._udp.local. 120 IN SRV 0 0 9000 m.local.`), "eth0")
	if q := a.open(); len(q) != 2 || q[0].Name != "m.local." || q[0].Qtype != dns.TypeA {
		t.Errorf("asks %v", q)
	}
	a.take(response(t, `M.local. 120 IN AAAA fe80::1`, `m.local. 120 IN A 192.0.2.7`, `m.local. 120 IN A 192.0.2.7`),
		"eth0")
	if q := a.open(); len(q) != 0 {
		t.Errorf("asks %v", q)
	}
	want := []Service{{Name: "Mixer A", Scheme: "udp", Host: "m.local", Port: 9000,
		Addrs: []netip.Addr{netip.MustParseAddr("192.0.2.7"), netip.MustParseAddr("fe80::1%eth0")}}}
	if got := a.list(); !reflect.DeepEqual(got, want) {
		t.Errorf("%+v", got)
	}
}

// A network full of services, hosts and addresses does not fill the memory.
func TestAnswersAreBounded(t *testing.T) {
	a := newAnswers()
	for i := range 2000 {
		n := strings.Repeat("x", i%40+1) + string(rune('a'+i%26)) + dns.Fqdn(time.Duration(i).String())
		n = strings.TrimSuffix(n, ".")
		a.take(response(t, "_osc._udp.local. 120 IN PTR "+n+"._osc._udp.local.", n+".local. 120 IN A 192.0.2.1",
			"one.local. 120 IN A 192.0."+itoa(i/250)+"."+itoa(i%250)), "eth0")
	}
	if len(a.services) > maxServices || len(a.hosts) > maxHosts || len(a.hosts["one.local."]) > maxAddresses {
		t.Errorf("%d services, %d hosts, %d addresses", len(a.services), len(a.hosts), len(a.hosts["one.local."]))
	}
}

func itoa(n int) string {
	return strings.TrimLeft(string([]byte{'0' + byte(n/100), '0' + byte(n/10%10)}), "0") + string('0'+byte(n%10))
}

func TestUnescape(t *testing.T) {
	for in, want := range map[string]string{`a\.b\ c`: "a.b c", `\195\164`: "ä", `\255`: "\uFFFD", `\`: `\`, `\\`: `\`,
		`\27`: "27", `\027[31m`: "\x1b[31m"} {
		if got := unescape(in); got != want {
			t.Errorf("%q: %q, want %q", in, got, want)
		}
	}
}

// Nothing on the network can make it crash.
func FuzzAnswers(f *testing.F) {
	f.Add([]byte("\x00\x00\x84\x00\x00\x00\x00\x01\x00\x00\x00\x00\x04_osc\x04_udp\x05local\x00\x00\x0c" +
		"\x00\x01\x00\x00\x00\x78\x00\x04\x01a\xc0\x0c"))
	f.Fuzz(func(t *testing.T, packet []byte) {
		a := newAnswers()
		a.take(packet, "eth0")
		questions(a.open())
		a.list()
	})
}
