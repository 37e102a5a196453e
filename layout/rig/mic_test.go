package rig

import (
	"fmt"
	"strings"
	"testing"

	"backfield/layout/source"
)

func readText(text string) (*Rig, string) {
	var p source.Problems
	r := Read(&source.File{Name: "rig", Text: text}, nil, &p)
	var b strings.Builder
	for _, x := range p.All() {
		line, column := x.Span.Position()
		fmt.Fprintf(&b, "%d:%d %s: %s; ", line, column, x.Code, x.What)
	}
	return r, b.String()
}

// A latency is one for all, or one for each kind of source. A fixed mic of the field has its delay computed; the pit
// and lines have none unless the rig asks.
func TestFixedMics(t *testing.T) {
	mic := func(kind, more string) string {
		return fmt.Sprintf("[[mic]]\nname = \"m\"\nkind = %q\nchannel = 9\nat = { x = 0, y = -1, z = 1 }\n%s", kind, more)
	}
	const all, each = `latency = "4 ms"`, `latency = { worn = "4 ms", wired = 1.5, line = "500 us" }`
	for name, c := range map[string]struct {
		latency, mic string
		delayMS      float64 // -1: computed
		set          bool
		latencyS     float64
		words        string
	}{
		"field":          {all, mic("field", ""), -1, false, 0.004, "field mic"},
		"field set":      {each, mic("field", "delay = 12\n"), 12, true, 0.0015, "field mic"},
		"field auto":     {each, mic("field", "delay = \"auto\"\n"), -1, true, 0.0015, "field mic"},
		"pit":            {each, mic("pit", ""), 0, false, 0.0015, "pit mic"},
		"pit auto":       {all, mic("pit", "delay = \"auto\"\n"), -1, true, 0.004, "pit mic"},
		"line":           {each, mic("line", ""), 0, false, 0.0005, "line"},
		"line set":       {all, mic("line", "delay = \"3 ms\"\n"), 3, true, 0.004, "line"},
		"line auto":      {`latency = { worn = 4 }`, mic("line", "delay = \"auto\"\n"), -1, true, 0, "line"},
		"wired set only": {`latency = { worn = 4, line = 2 }`, mic("pit", ""), 0, false, 0, "pit mic"},
	} {
		r, got := readText(strings.Replace(plain, all, c.latency, 1) + c.mic)
		if got != "" || len(r.Mics) != 1 || r.LatencyS != 0.004 {
			t.Fatalf("%s: %s, latency %g", name, got, r.LatencyS)
		}
		m, delayMS := r.Mics[0], -1.0
		if m.DelayMS != nil {
			delayMS = *m.DelayMS
		}
		if delayMS != c.delayMS || m.DelaySet != c.set || m.LatencyS != c.latencyS || m.KindWords() != c.words {
			t.Errorf("%s: delay %g, set %t, latency %g, %s", name, delayMS, m.DelaySet, m.LatencyS, m.KindWords())
		}
	}
	for name, c := range map[string]struct{ latency, mic, want string }{
		"no worn":      {`latency = { wired = 1 }`, "", `2:11 missing-key: the key "worn" is missing; `},
		"long":         {`latency = { worn = 4, wired = "2 s" }`, "", "2:31 out-of-range: latency"},
		"a list":       {`latency = [4]`, "", "2:11 wrong-type: "},
		"slow":         {`latency = { worn = "60 ms" }`, "", "2:20 long-latency: a latency of 60 ms"},
		"unknown kind": {all, mic("synth", ""), `20:8 bad-choice: unknown kind of fixed mic "synth"`},
		"no delay":     {all, mic("pit", "delay = \"none\"\n"), "23:9 bad-quantity: "},
	} {
		if _, got := readText(strings.Replace(plain, all, c.latency, 1) + c.mic); !strings.HasPrefix(got, c.want) {
			t.Errorf("%s: got %s, want %s", name, got, c.want)
		}
	}
}
