// Package discover finds OSC services on the local network by DNS-SD over multicast DNS (RFC 6763, RFC 6762). It asks
// and announces nothing itself. What it returns is what machines on the network announce, and any machine can announce
// anything.
package discover

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/netip"
	"os"
	"slices"
	"sync"
	"time"

	"github.com/miekg/dns"
	"golang.org/x/net/ipv4"
	"golang.org/x/net/ipv6"
)

// Service is one OSC service. Its texts are as they came and may have any UTF-8 character.
type Service struct {
	Name   string // "front of house"
	Scheme string // "udp" or "tcp"
	Host   string // "mixer.local"; empty if unknown
	Port   int    // 0 if unknown
	Addrs  []netip.Addr
	Text   []string // "key=value" (RFC 6763, 6)
}

// types are the service types of OSC (registered with IANA as "osc").
var types = []struct{ name, scheme string }{{"_osc._udp.local.", "udp"}, {"_osc._tcp.local.", "tcp"}}

var (
	group4 = &net.UDPAddr{IP: net.IPv4(224, 0, 0, 251), Port: 5353}
	group6 = &net.UDPAddr{IP: net.ParseIP("ff02::fb"), Port: 5353}
)

// askAt are the times from the start at which every open question is asked. The gaps start at a second and double (RFC
// 6762, 5.2). A new question is asked at once.
var askAt = []time.Duration{0, time.Second, 3 * time.Second, 7 * time.Second, 15 * time.Second}

// NoLink is the error for a name that no interface has.
type NoLink struct {
	Name  string
	Known []string
}

func (n *NoLink) Error() string { return fmt.Sprintf("no network interface is named %q", n.Name) }

// Links returns the interfaces with these names. Without names it returns those for multicast that are up, except the
// loopback.
func Links(names ...string) ([]net.Interface, error) {
	all, err := net.Interfaces()
	if err != nil {
		return nil, err
	}
	var list []net.Interface
	var known []string
	for _, i := range all {
		known = append(known, i.Name)
		usable := i.Flags&(net.FlagUp|net.FlagMulticast|net.FlagLoopback) == net.FlagUp|net.FlagMulticast
		if len(names) == 0 && usable || slices.Contains(names, i.Name) {
			list = append(list, i)
		}
	}
	for _, name := range names {
		if !slices.Contains(known, name) {
			return nil, &NoLink{name, known}
		}
	}
	if len(list) == 0 {
		return nil, errors.New("no network with multicast is connected; check the cable or the Wi-Fi")
	}
	return list, nil
}

// Browse asks on every link until the context ends or the time is up, and returns what was found, sorted by name. It
// returns an error if no link takes the question.
//
// It asks from its own port, so that it does not disturb other programs on this computer that use multicast DNS. The
// answers come back to that port only (RFC 6762, 6.7).
func Browse(ctx context.Context, links []net.Interface, wait time.Duration) ([]Service, error) {
	ctx, cancel := context.WithTimeout(ctx, wait)
	defer cancel()
	b := browsing{answers: newAnswers(), asked: map[dns.Question]bool{}}
	b.open(links)
	heard := make(chan answerPacket)
	var readers sync.WaitGroup
	for _, r := range b.sockets {
		readers.Go(func() { r.read(ctx, heard) })
	}
	defer func() {
		cancel()
		for _, r := range b.sockets {
			r.conn.Close()
		}
		readers.Wait()
	}()
	next := time.NewTimer(0)
	defer next.Stop()
	for n := 0; ; {
		select {
		case <-ctx.Done():
			return b.result()
		case <-next.C:
			b.askAll()
			if n++; n < len(askAt) {
				next.Reset(askAt[n] - askAt[n-1])
			}
		case h := <-heard:
			b.answers.take(h.packet, h.zone)
			b.askNew()
		}
	}
}

// browsing is the state of one Browse.
type browsing struct {
	sockets []*socket
	answers *answers
	asked   map[dns.Question]bool // questions asked as soon as they were open
	sent    int                   // packets
	faults  []error
}

// open opens a port on every link, for each IP version that the link has.
func (b *browsing) open(links []net.Interface) {
	for i := range links {
		for _, open := range []func(*net.Interface) (*socket, error){open4, open6} {
			if r, err := open(&links[i]); err != nil {
				b.faults = append(b.faults, fmt.Errorf("%s: %w", links[i].Name, err))
			} else if r != nil {
				b.sockets = append(b.sockets, r)
			}
		}
	}
}

func (b *browsing) ask(list []dns.Question) {
	for _, packet := range questions(list) {
		for _, r := range b.sockets {
			if _, err := r.conn.WriteTo(packet, r.to); err != nil {
				b.faults = append(b.faults, fmt.Errorf("%s: %w", r.link, err))
			} else {
				b.sent++
			}
		}
	}
}

// askAll asks which services there are, and every open question.
func (b *browsing) askAll() {
	var list []dns.Question
	for _, t := range types {
		list = append(list, dns.Question{Name: t.name, Qtype: dns.TypePTR})
	}
	b.ask(append(list, b.answers.open()...))
}

// askNew asks the questions that are newly open.
func (b *browsing) askNew() {
	var list []dns.Question
	for _, q := range b.answers.open() {
		if !b.asked[q] {
			b.asked[q] = true
			list = append(list, q)
		}
	}
	b.ask(list)
}

func (b *browsing) result() ([]Service, error) {
	if b.sent == 0 {
		none := errors.New("no network takes multicast; check the cable or the Wi-Fi")
		return nil, errors.Join(append(b.faults, none)...)
	}
	return b.answers.list(), nil
}

// questions makes packets of several questions each. The top bit of the class asks for an answer to the sender only
// (RFC 6762, 5.4).
func questions(list []dns.Question) [][]byte {
	const perPacket = 10
	var packets [][]byte
	for len(list) > 0 {
		n := min(perPacket, len(list))
		m := dns.Msg{MsgHdr: dns.MsgHdr{Id: dns.Id()}, Compress: true} // answers to one port repeat the Id
		for _, q := range list[:n] {
			q.Qclass = dns.ClassINET | 1<<15
			m.Question = append(m.Question, q)
		}
		if packet, err := m.Pack(); err == nil { // a name that cannot be packed is skipped
			packets = append(packets, packet)
		}
		list = list[n:]
	}
	return packets
}

// socket is a socket on one link.
type socket struct {
	conn net.PacketConn
	to   *net.UDPAddr
	link string
}

type answerPacket struct {
	packet []byte
	zone   string
}

func (r *socket) read(ctx context.Context, out chan<- answerPacket) {
	buffer := make([]byte, 9000) // the longest packet allowed (RFC 6762, 17)
	for {
		n, _, err := r.conn.ReadFrom(buffer)
		if errors.Is(err, net.ErrClosed) || errors.Is(err, os.ErrDeadlineExceeded) {
			return
		}
		if err != nil {
			if ctx.Err() != nil {
				return
			}
			time.Sleep(time.Millisecond) // some systems report a closed port somewhere this way
			continue
		}
		select {
		case out <- answerPacket{append([]byte(nil), buffer[:n]...), r.link}:
		case <-ctx.Done():
			return
		}
	}
}

// open4 opens an IPv4 socket on a link, or returns nil if the link has no such address.
func open4(link *net.Interface) (*socket, error) {
	at := address(link, func(a netip.Addr) bool { return a.Is4() })
	if !at.IsValid() {
		return nil, nil
	}
	conn, err := net.ListenUDP("udp4", net.UDPAddrFromAddrPort(netip.AddrPortFrom(at, 0)))
	if err != nil {
		return nil, err
	}
	p := ipv4.NewPacketConn(conn)
	err = errors.Join(p.SetMulticastInterface(link), p.SetMulticastTTL(255), p.SetMulticastLoopback(true))
	if err != nil {
		conn.Close()
		return nil, err
	}
	return &socket{conn, group4, link.Name}, nil
}

func open6(link *net.Interface) (*socket, error) {
	at := address(link, func(a netip.Addr) bool { return a.Is6() && a.IsLinkLocalUnicast() })
	if !at.IsValid() {
		return nil, nil
	}
	conn, err := net.ListenUDP("udp6", net.UDPAddrFromAddrPort(netip.AddrPortFrom(at.WithZone(link.Name), 0)))
	if err != nil {
		return nil, err
	}
	p := ipv6.NewPacketConn(conn)
	err = errors.Join(p.SetMulticastInterface(link), p.SetMulticastHopLimit(255), p.SetMulticastLoopback(true))
	if err != nil {
		conn.Close()
		return nil, err
	}
	to := *group6
	to.Zone = link.Name
	return &socket{conn, &to, link.Name}, nil
}

// address is the first address of a link that `fits` accepts.
func address(link *net.Interface, fits func(netip.Addr) bool) (found netip.Addr) {
	list, err := link.Addrs()
	if err != nil {
		return found
	}
	for _, a := range list {
		if prefix, err := netip.ParsePrefix(a.String()); err == nil && fits(prefix.Addr().Unmap()) {
			return prefix.Addr().Unmap()
		}
	}
	return found
}
