package cuewords_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"backfield/cmd/backfield/cuewords"
	"backfield/cue"
	"backfield/cue/timeline"
)

// mics is a snapshot with open mics of that kind, level and role.
func mics(kind string, level cue.Level, role string, names ...string) (list []cue.Channel) {
	for _, name := range names {
		list = append(list, cue.Channel{Player: name, Open: true, Kind: kind, LevelDB: level, Role: role})
	}
	return list
}

func TestLoudest(t *testing.T) {
	pit := mics(cue.Fixed, 3, "fixed", "pit 1", "pit 2")
	for want, c := range map[string][]cue.Channel{
		"nobody: every mic is closed":                        {{Player: "Tpt 1", Kind: cue.Worn}},
		"no worn mic is open; of the fixed: pit 1, 2, +3 dB": pit,
		"Tpt 3, solo, +0.5 dB":                               slices.Concat(pit, mics(cue.Worn, -9, "pad", "Tpt 1"), mics(cue.Worn, 0.5, "solo", "Tpt 3")),
		"Tpt 1, 3, Bari 2, full and pad, −3 dB":              slices.Concat(mics(cue.Worn, -3, "full", "Tpt 3", "Tpt 1"), mics(cue.Worn, -3, "pad", "Bari 2")),
	} {
		if got := cuewords.Loudest(&cue.Snapshot{Channels: c}); got != want {
			t.Errorf("%q, not %q", got, want)
		}
	}
}

// A long list names whole sections as one, and then counts.
func TestShort(t *testing.T) {
	var all, tpts, others []string
	for n := range 30 {
		tpts, others = append(tpts, fmt.Sprintf("Tpt %d", n+1)), append(others, fmt.Sprintf("Mello %d", n+1))
	}
	all = slices.Concat(tpts, others)
	c := &cue.Snapshot{Channels: mics(cue.Worn, 0, "full", all...)}
	for want, names := range map[string][]string{
		"nobody": nil, "Tpt 2, 9": {"Tpt 9", "Tpt 2"}, "all 30 Tpt": tpts, "all 30 Tpt, Mello 1": all[:31],
		"29 Tpt, 29 Mello": slices.Concat(tpts[1:], others[1:]),
	} {
		if got := cuewords.Short(names, c); got != want {
			t.Errorf("%q, not %q", got, want)
		}
	}
}

func TestAccepted(t *testing.T) {
	list := []timeline.Remark{{Cue: "1", Code: "lead", Accepted: true}, {Cue: "2", Code: "near"}, {Cue: "2", Code: "lead", Accepted: true},
		{Cue: "2", Code: "lead", Accepted: true}, {Cue: "3", Code: "ring", Accepted: true}}
	if got := strings.Join(cuewords.Accepted(list), "; "); got != "lead in cues 1 and 2; ring in cue 3" {
		t.Error(got)
	}
	if got := fmt.Sprint(cuewords.AcceptedIn(append(list, timeline.Remark{Cue: "2", Code: "ring", Accepted: true}))); got != "map[1:1 2:2 3:1]" {
		t.Error(got)
	}
}
