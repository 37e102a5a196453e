package glance

import (
	"fmt"
	"slices"
	"strings"

	"backfield/osc/run"
)

// MixerName is a mixer's address as screens show it, without the transport.
func MixerName(to string) string {
	if _, name, ok := strings.Cut(to, "://"); ok {
		return name
	}
	return to
}

// MixerTail is the end of a mixer's name that no other mixer's name ends in, after an ellipsis, or the whole name.
func MixerTail(to string, mixers []run.MixerView) string {
	name := MixerName(to)
	for i := len(name) - 1; i > 0; i-- {
		shared := func(d run.MixerView) bool { return d.To != to && strings.HasSuffix(MixerName(d.To), name[i:]) }
		if strings.ContainsRune(".:", rune(name[i])) && !slices.ContainsFunc(mixers, shared) {
			return "…" + name[i:]
		}
	}
	return name
}

// Ago says how long ago something was.
func Ago(s float64) string {
	if s >= 100 {
		return fmt.Sprintf("%.0f min", s/60)
	}
	return fmt.Sprintf("%.0f s", s)
}
