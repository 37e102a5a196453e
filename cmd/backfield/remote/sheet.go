package remote

import (
	"fmt"
	"net"
	"net/netip"
	"slices"
	"strings"
	"time"

	"rsc.io/qr"
)

// Invitation is what an operator needs to let a device in: lines of text, and the link as a QR code to be drawn dark on
// light, two modules to a cell. There is no code if only this machine can open the link.
type Invitation struct {
	Lines []string
	Code  []string
}

// Sheet shows the current link.
func (s *Server) Sheet() Invitation {
	s.access.mu.Lock()
	key, devices := s.access.key, slices.Clone(s.access.devices)
	s.access.mu.Unlock()
	at := s.Addr()
	hosts := reachable(at.Addr())
	what := "THE PAGE"
	if s.o.ReadOnly {
		what = "THE READ-ONLY PAGE"
	}
	sh := Invitation{Lines: []string{what + ": this link lets in one device, once"}}
	for _, h := range hosts {
		sh.Lines = append(sh.Lines, "  "+link(h, at.Port(), grouped(key)))
	}
	for _, d := range devices {
		sh.Lines = append(sh.Lines, fmt.Sprintf("%s is in, last seen %s", d, ago(time.Since(d.lastSeen()))))
	}
	sh.Lines = append(sh.Lines, "page new removes every device and makes a new link")
	if !at.Addr().IsLoopback() {
		sh.Lines = append(sh.Lines, "Plain HTTP: anyone who listens on this network can take the key. Use a "+
			"network just for the show.")
		// In capitals the code needs fewer modules. A scheme has no case, and the server accepts /K/.
		if code, err := qrRows(strings.ToUpper(link(hosts[0], at.Port(), key))); err == nil {
			sh.Code = code
		}
	}
	return sh
}

// Link is the link that lets in a device, at the first address.
func (s *Server) Link() string {
	s.access.mu.Lock()
	defer s.access.mu.Unlock()
	return link(reachable(s.Addr().Addr())[0], s.Addr().Port(), grouped(s.access.key))
}

// Renew removes every device and makes a new key.
func (s *Server) Renew() error { return s.access.renew() }

func link(host netip.Addr, port uint16, key string) string {
	at := netip.AddrPortFrom(host, port).String()
	if port == 80 {
		at = strings.TrimSuffix(at, ":80")
	}
	return "http://" + at + "/k/" + key
}

func ago(d time.Duration) string {
	if d < 2*time.Second {
		return "now"
	}
	return d.Round(time.Second).String() + " ago"
}

// reachable lists the addresses at which other machines can reach a listener, at least one: IPv4 first, and private
// networks before others (RFC 1918).
func reachable(bound netip.Addr) []netip.Addr {
	if !bound.IsUnspecified() {
		return []netip.Addr{bound}
	}
	var list []netip.Addr
	all, _ := net.InterfaceAddrs()
	for _, x := range all {
		p, err := netip.ParsePrefix(x.String())
		if err != nil {
			continue
		}
		if a := p.Addr().Unmap(); (a.IsGlobalUnicast() || a.Is4() && a.IsLinkLocalUnicast()) &&
			(a.Is4() || bound.Is6()) {
			list = append(list, a)
		}
	}
	slices.SortStableFunc(list, func(a, b netip.Addr) int { return rank(a) - rank(b) })
	if list == nil {
		list = []netip.Addr{netip.AddrFrom4([4]byte{127, 0, 0, 1})}
	}
	return list
}

func rank(a netip.Addr) int {
	switch {
	case a.Is4() && a.IsPrivate():
		return 0
	case a.Is4() && !a.IsLinkLocalUnicast():
		return 1
	}
	return 2
}

// qrMarginModules is the light margin that a QR code needs, in modules (ISO/IEC 18004).
const qrMarginModules = 4

// qrRows draws a text as a QR code, in cells that are two modules high.
func qrRows(text string) ([]string, error) {
	code, err := qr.Encode(text, qr.L)
	if err != nil {
		return nil, err
	}
	cells := map[[2]bool]string{{false, false}: " ", {true, false}: "▀", {false, true}: "▄", {true, true}: "█"}
	var rows []string
	for y := -qrMarginModules; y < code.Size+qrMarginModules; y += 2 {
		row := ""
		for x := -qrMarginModules; x < code.Size+qrMarginModules; x++ {
			row += cells[[2]bool{code.Black(x, y), code.Black(x, y+1)}]
		}
		rows = append(rows, row)
	}
	return rows, nil
}
