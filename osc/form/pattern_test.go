package form

import (
	"strings"
	"testing"
)

func TestPattern(t *testing.T) {
	for _, c := range []struct {
		pattern string
		n       int
		want    string
	}{
		{"/in/{channel}/level", 7, "/in/7/level"},
		{"/in/{channel:02}/level", 7, "/in/07/level"},
		{"/in/{channel:02}/level", 123, "/in/123/level"},
		{"/{channel:09}", 10000, "/000010000"},
		{"/a{channel:03}b/{channel}", 42, "/a042b/42"},
		{"/in/{channel}/zone/{zone:02}", 7, "/in/7/zone/03"},
	} {
		p, faults := Parse(c.pattern, "channel", "zone")
		x := Filling{Channel: c.n}
		if p.Has("zone") {
			x.Zone = 3
		}
		if len(faults) > 0 || p.Of(x) != c.want {
			t.Errorf("%s on channel %d is %q (%v), want %q", c.pattern, c.n, p.Of(x), faults, c.want)
		}
		if back, ok := p.Match(c.want); !ok || back != x {
			t.Errorf("%s in %s is found as %+v, %t", c.want, c.pattern, back, ok)
		}
	}
}

func FuzzPattern(f *testing.F) {
	for _, s := range []string{"/in/{channel}/level", "/{channel:02}", "x", "/{", "/{channel", "/{{channel}}", "//",
		"/é{channel}", "/{channel:}", "/{channel:99}"} {
		f.Add(s, 3)
	}
	f.Fuzz(func(t *testing.T, text string, n int) {
		p, faults := Parse(text, "channel", "zone", "slot")
		for _, x := range faults {
			if x.Lo < 0 || x.Hi < x.Lo || x.Hi > len(text) {
				t.Errorf("%q: fault at %d-%d", text, x.Lo, x.Hi)
			}
		}
		if (p == nil) != (len(faults) > 0) {
			t.Errorf("%q: pattern %v with faults %v", text, p, faults)
		}
		if p == nil || n < 1 || n > 10000 {
			return
		}
		a := p.Of(Filling{Channel: n, Zone: 3, Slot: 7})
		if back, ok := p.Match(a); !ok || p.Of(back) != a {
			t.Errorf("%q makes the address %q, which is found as %+v, %t", text, a, back, ok)
		}
		if a[0] != '/' || strings.ContainsAny(a, " #*,?[]{}") || strings.Contains(a, "//") {
			t.Errorf("%q makes the address %q", text, a)
		}
		for i := range len(a) {
			if a[i] <= ' ' || a[i] > '~' {
				t.Errorf("%q makes the address %q", text, a)
			}
		}
	})
}
