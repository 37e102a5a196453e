package mixerverbs

import (
	"net/netip"

	"backfield/cmd/backfield/verb"
)

// addresses reads the IP addresses after a flag.
func addresses(flag string, texts []string) (list []netip.Addr, err error) {
	for _, text := range texts {
		a, err := netip.ParseAddr(text)
		if err != nil {
			return nil, verb.Usage("%s %q is not an IP address; write it like 192.0.2.7", flag, text)
		}
		list = append(list, a.Unmap())
	}
	return list, nil
}
