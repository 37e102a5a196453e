package discover

import (
	"cmp"
	"net/netip"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/miekg/dns"
)

// Limits on what is kept, whatever the network sends.
const (
	maxServices  = 200
	maxHosts     = 400
	maxAddresses = 8  // of a host
	maxTexts     = 16 // of a service
)

// answers is what the network has answered. Names compare without case (RFC 6762, 16).
type answers struct {
	services map[string]*service // by full name in lower case
	hosts    map[string][]netip.Addr
}

type service struct {
	Service
	full, target string // names as they came; target is empty until an SRV record comes
}

func newAnswers() *answers {
	return &answers{map[string]*service{}, map[string][]netip.Addr{}}
}

func fold(name string) string { return strings.ToLower(name) }

// take reads a packet from the link with this zone ("eth0"), and keeps its records on the types that were asked for. It
// ignores garbage.
func (a *answers) take(packet []byte, zone string) {
	var m dns.Msg
	if m.Unpack(packet) != nil || !m.Response || m.Opcode != dns.OpcodeQuery || m.Rcode != dns.RcodeSuccess {
		return
	}
	all := slices.Concat(m.Answer, m.Ns, m.Extra)
	for _, rr := range all { // the services first, then the records on them
		if ptr, ok := rr.(*dns.PTR); ok {
			a.found(ptr)
		}
	}
	for _, rr := range all {
		name := rr.Header().Name
		s := a.services[fold(name)]
		switch r := rr.(type) {
		case *dns.SRV:
			if s != nil {
				s.Port, s.target, s.Host = int(r.Port), r.Target, strings.TrimSuffix(unescape(r.Target), ".")
			}
		case *dns.TXT:
			if s != nil {
				s.Text = nil
				for _, t := range r.Txt[:min(len(r.Txt), maxTexts)] {
					if t != "" {
						s.Text = append(s.Text, unescape(t))
					}
				}
			}
		case *dns.A:
			if at, ok := netip.AddrFromSlice(r.A.To4()); ok {
				a.host(name, at)
			}
		case *dns.AAAA:
			if at, ok := netip.AddrFromSlice(r.AAAA); ok {
				if at.IsLinkLocalUnicast() {
					at = at.WithZone(zone)
				}
				a.host(name, at)
			}
		}
	}
}

// found adds a service that a record points to, if it has a type that was asked for.
func (a *answers) found(ptr *dns.PTR) {
	for _, t := range types {
		if !strings.EqualFold(ptr.Hdr.Name, t.name) {
			continue
		}
		labels := dns.SplitDomainName(ptr.Ptr)
		key := fold(ptr.Ptr)
		fresh := a.services[key] == nil && len(a.services) < maxServices
		if len(labels) < 2 || !strings.HasSuffix(key, "."+t.name) || !fresh {
			return
		}
		a.services[key] = &service{Service: Service{Name: unescape(labels[0]), Scheme: t.scheme}, full: ptr.Ptr}
	}
}

func (a *answers) host(name string, at netip.Addr) {
	key := fold(name)
	list := a.hosts[key]
	if slices.Contains(list, at) || len(list) >= maxAddresses || list == nil && len(a.hosts) >= maxHosts {
		return
	}
	a.hosts[key] = append(list, at)
}

// open lists the open questions: where a service is, and the addresses of its host.
func (a *answers) open() []dns.Question {
	var list []dns.Question
	ask := func(name string, types ...uint16) {
		for _, t := range types {
			list = append(list, dns.Question{Name: name, Qtype: t})
		}
	}
	for _, key := range sortedKeys(a.services) {
		switch s := a.services[key]; {
		case s.target == "":
			ask(s.full, dns.TypeSRV, dns.TypeTXT)
		case len(a.hosts[fold(s.target)]) == 0:
			ask(s.target, dns.TypeA, dns.TypeAAAA)
		}
	}
	return list
}

// list is what was found, sorted by name. A service that did not give its address has port 0.
func (a *answers) list() []Service {
	var list []Service
	for _, key := range sortedKeys(a.services) {
		s := a.services[key].Service
		s.Addrs = slices.Clone(a.hosts[fold(a.services[key].target)])
		slices.SortFunc(s.Addrs, func(x, y netip.Addr) int {
			if x.Is4() != y.Is4() {
				return cmp.Compare(boolInt(y.Is4()), boolInt(x.Is4())) // IPv4 first: it is shorter to write
			}
			return x.Compare(y)
		})
		list = append(list, s)
	}
	slices.SortStableFunc(list, func(x, y Service) int {
		return cmp.Or(cmp.Compare(x.Name, y.Name), cmp.Compare(x.Scheme, y.Scheme), cmp.Compare(x.Port, y.Port))
	})
	return list
}

func boolInt(b bool) int {
	if b {
		return 1
	}
	return 0
}

func sortedKeys[T any](m map[string]T) []string {
	keys := make([]string, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}

// unescape turns a name as the library writes it (RFC 1035, 5.1: \. and \065) into text, which should be UTF-8 (RFC
// 6763, 4.1.1). It replaces whatever is not.
func unescape(s string) string {
	var b []byte
	for i := 0; i < len(s); i++ {
		switch {
		case s[i] != '\\' || i+1 == len(s):
			b = append(b, s[i])
		case i+3 < len(s) && digits(s[i+1:i+4]):
			b = append(b, (s[i+1]-'0')*100+(s[i+2]-'0')*10+s[i+3]-'0')
			i += 3
		default:
			i++
			b = append(b, s[i])
		}
	}
	return strings.ToValidUTF8(string(b), string(utf8.RuneError))
}

func digits(s string) bool {
	return strings.IndexFunc(s, func(r rune) bool { return r < '0' || r > '9' }) < 0
}
