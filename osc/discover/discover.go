// Package discover finds OSC services on the local network by DNS-SD over multicast DNS (RFC 6763, RFC 6762). It asks
// and announces nothing. What it tells is what machines on the network say of themselves: anybody there can say
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

// Service is one OSC service. All texts are as they came: they may hold anything that UTF-8 can.
type Service struct {
	Name   string // "front of house"
	Scheme string // "udp" or "tcp"
	Host   string // "mixer.local"; empty where nobody said
	Port   int    // 0 where nobody said
	Addrs  []netip.Addr
	Text   []string // "key=value" (RFC 6763, 6)
}

// types are the service types of OSC (registered with IANA as "osc").
var types = []struct{ name, scheme string }{{"_osc._udp.local.", "udp"}, {"_osc._tcp.local.", "tcp"}}

var (
	group4 = &net.UDPAddr{IP: net.IPv4(224, 0, 0, 251), Port: 5353}
	group6 = &net.UDPAddr{IP: net.ParseIP("ff02::fb"), Port: 5353}
)

// askAt are the times, from the beginning, at which everything that is open is asked: the gaps begin at a second and
// double (RFC 6762, 5.2). A new question is asked at once.
var askAt = []time.Duration{0, time.Second, 3 * time.Second, 7 * time.Second, 15 * time.Second}

// NoLink is the error of a name that no interface has.
type NoLink struct {
	Name  string
	Known []string
}

func (n *NoLink) Error() string { return fmt.Sprintf("no network interface is called %q", n.Name) }

// Links are the interfaces of the names given, or without any those that multicast goes over: they are up and not the
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
		return nil, errors.New("no network is connected that a question to all (multicast) goes over")
	}
	return list, nil
}

// Browse asks on every link until the context ends or the time is up, and returns what was found by then, sorted by
// name. The error is for a computer on which no link takes the question.
//
// It asks from a port of its own, so that whatever else on this computer speaks multicast DNS is not disturbed; the
// answers then come back to that port alone (RFC 6762, 6.7).
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

// browsing is what one Browse knows.
type browsing struct {
	sockets []*socket
	answers *answers
	asked   map[dns.Question]bool // as soon as it was open
	sent    int                   // packets
	faults  []error
}

// open opens a port on every link, for each version of IP that it has.
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

// askAll asks which services there are, and all that is open.
func (b *browsing) askAll() {
	var list []dns.Question
	for _, t := range types {
		list = append(list, dns.Question{Name: t.name, Qtype: dns.TypePTR})
	}
	b.ask(append(list, b.answers.open()...))
}

// askNew asks at once what has come to be open.
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
		none := errors.New("no network takes a question to all (multicast): is one connected?")
		return nil, errors.Join(append(b.faults, none)...)
	}
	return b.answers.list(), nil
}

// questions packs them, some in a packet. The top bit of the class asks for an answer to the sender alone (RFC 6762,
// 5.4).
func questions(list []dns.Question) [][]byte {
	const perPacket = 10
	var packets [][]byte
	for len(list) > 0 {
		n := min(perPacket, len(list))
		m := dns.Msg{MsgHdr: dns.MsgHdr{Id: dns.Id()}, Compress: true} // answers to one port alone repeat the number
		for _, q := range list[:n] {
			q.Qclass = dns.ClassINET | 1<<15
			m.Question = append(m.Question, q)
		}
		if packet, err := m.Pack(); err == nil { // a name that cannot be packed came from no packet
			packets = append(packets, packet)
		}
		list = list[n:]
	}
	return packets
}

// road is a socket on one link.
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
	buffer := make([]byte, 9000) // RFC 6762, 17: the longest that may be sent
	for {
		n, _, err := r.conn.ReadFrom(buffer)
		if errors.Is(err, net.ErrClosed) || errors.Is(err, os.ErrDeadlineExceeded) {
			return
		}
		if err != nil {
			if ctx.Err() != nil {
				return
			}
			time.Sleep(time.Millisecond) // a port that is closed somewhere, as some systems tell it
			continue
		}
		select {
		case out <- answerPacket{append([]byte(nil), buffer[:n]...), r.link}:
		case <-ctx.Done():
			return
		}
	}
}

// open4 opens a socket on a link; nil without an error where the link has no address of the kind.
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

// address is the first of a link's addresses that will do.
func address(link *net.Interface, will func(netip.Addr) bool) (found netip.Addr) {
	list, err := link.Addrs()
	if err != nil {
		return found
	}
	for _, a := range list {
		if prefix, err := netip.ParsePrefix(a.String()); err == nil && will(prefix.Addr().Unmap()) {
			return prefix.Addr().Unmap()
		}
	}
	return found
}
