// Package machines prints what was found on a network, as text and JSON: the services that machines announce, and how a
// mixer replies. The queries are in osc/discover and osc/ping.
package machines

import (
	"fmt"
	"io"
	"net/netip"
	"strings"

	"backfield/layout/source"
	"backfield/layout/visible"
	"backfield/osc/discover"
)

// ServiceRow is a service for display. Nothing in it can control a terminal.
type ServiceRow struct {
	Name string   `json:"name"`
	Host string   `json:"host"`
	Port int      `json:"port"`
	To   []string `json:"to"` // as in mixer.toml
	Text []string `json:"text"`
}

// Services returns the services for display, in the same order.
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

// PrintServices writes each service with the line for mixer.toml.
func PrintServices(w io.Writer, list []ServiceRow) {
	for _, r := range list {
		fmt.Fprintf(w, "%s\n", r.Name)
		for _, to := range r.To {
			fmt.Fprintf(w, "    to = %q\n", to)
		}
		if len(r.To) == 0 {
			fmt.Fprintln(w, "    (it does not give its address)")
		}
		if r.Host != "" {
			fmt.Fprintf(w, "    # %s\n", strings.Join(append([]string{r.Host}, r.Text...), ", "))
		}
	}
}

// maxShown is how much of a text from the network is shown, in characters.
const maxShown = 80

// harmless makes a text from the network safe to show, and cuts one that nobody would read.
func harmless(text string) string {
	shown := []rune(text)
	if len(shown) > maxShown {
		shown = append(shown[:maxShown], '…')
	}
	return visible.Text(string(shown))
}

func count(n int, word string) string { return source.Count(float64(n), word) }
