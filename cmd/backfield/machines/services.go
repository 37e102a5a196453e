// Package machines puts into words and JSON what is found of the machines on a network: the services that they announce, and
// how a mixer answers. Asking is in osc/discover and osc/ping.
package machines

import (
	"fmt"
	"io"
	"net/netip"
	"strings"
	"unicode"

	"backfield/layout/source"
	"backfield/osc/discover"
)

// Service is a service as it is shown: nothing in it can steer a terminal.
type ServiceRow struct {
	Name string   `json:"name"`
	Host string   `json:"host"`
	Port int      `json:"port"`
	To   []string `json:"to"` // what mixer.toml takes
	Text []string `json:"text"`
}

// Services are the services as they are shown, in their order.
func Services(list []discover.Service) []ServiceRow {
	rows := []ServiceRow{}
	for _, s := range list {
		r := ServiceRow{Name: harmless(s.Name), Host: harmless(s.Host), Port: s.Port, To: []string{}, Text: []string{}}
		for _, a := range s.Addrs {
			if s.Port > 0 {
				r.To = append(r.To, s.Scheme+"://"+netip.AddrPortFrom(a, uint16(s.Port)).String())
			}
		}
		for _, t := range s.Text {
			r.Text = append(r.Text, harmless(t))
		}
		rows = append(rows, r)
	}
	return rows
}

// PrintServices writes each service with the line that mixer.toml wants.
func PrintServices(w io.Writer, list []ServiceRow) {
	for _, r := range list {
		fmt.Fprintf(w, "%s\n", r.Name)
		for _, to := range r.To {
			fmt.Fprintf(w, "    to = %q\n", to)
		}
		if len(r.To) == 0 {
			fmt.Fprintln(w, "    it did not say where it is")
		}
		if r.Host != "" {
			fmt.Fprintf(w, "    # %s\n", strings.Join(append([]string{r.Host}, r.Text...), ", "))
		}
	}
}

// longest is how much of a text from the network is shown.
const maxShown = 80

// harmless is a text from the network as it may be shown: what is no mark to be seen becomes a point, so that nobody far
// away steers the terminal or turns the writing around.
func harmless(text string) string {
	shown := []rune{}
	for _, r := range text {
		if len(shown) == maxShown {
			return string(append(shown, '…'))
		}
		if !unicode.IsPrint(r) {
			r = '·'
		}
		shown = append(shown, r)
	}
	return string(shown)
}

func count(n int, word string) string { return source.Count(float64(n), word) }
