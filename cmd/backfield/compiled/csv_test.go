package compiled

import (
	"bytes"
	"encoding/csv"
	"testing"

	"backfield/cue"
)

// csvOf reads snapshots.csv back: rows by the names of their columns.
func csvOf(t *testing.T, s *cue.Show) (head []string, rows []map[string]string) {
	t.Helper()
	all, err := csv.NewReader(bytes.NewReader(CSV(s))).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for _, cells := range all[1:] {
		row := map[string]string{}
		for i, name := range all[0] {
			row[name] = cells[i]
		}
		rows = append(rows, row)
	}
	return all[0], rows
}

// The sheet has sends by the zones' own numbers, and a fit where a channel has one.
func TestSheet(t *testing.T) {
	place, next, level := 0.5, 1.25, cue.Level(-2)
	open := cue.Channel{Channel: 3, Player: "Horn 1", Kind: cue.Worn, Role: "feature", Open: true, LevelDB: -1.5,
		DelayMS: 40.1,
		Sends:   []cue.Send{{Zone: 2, LevelDB: -3.01}, {Zone: 7, LevelDB: cue.Silent}}, Fit: &cue.SeatFit{
			Served: 0.7, InTime: 0.75, NoEcho: 0.65, Early: 0.2, Late: 0.05, Echo: 0.125, BoxLateMS: &[2]float64{4.5, 20.25},
		}, Place: &place, Glide: []cue.Knot{
			{Movement: 1, Count: 9.25, DelayMS: 38.7, Place: &next}, {Movement: 2, Count: 1, DelayMS: 40, Place: &place, LevelDB: &level},
		}, Notes: []string{"one", "two"}}
	closed := cue.Channel{Channel: 4, Player: "Horn 2", Kind: cue.Worn, LevelDB: cue.Silent,
		Sends: []cue.Send{{Zone: 2, LevelDB: cue.Silent}, {Zone: 7, LevelDB: 0}}}
	show := &cue.Show{Cues: []cue.Snapshot{{ID: "1", Movement: 1, Channels: []cue.Channel{open, closed}}}}
	_, rows := csvOf(t, show)
	for i, want := range []map[string]string{
		{"player": "Horn 1", "level_db": "-1.5", "zone_2": "-3.01", "zone_7": "", "inside": "0.7500", "early": "0.2000",
			"late": "0.0500", "served": "0.7000", "inside_no_echo": "0.6500", "echo": "0.1250", "box_least_ms": "4.5",
			"box_most_ms": "20.25", "place": "0.5", "glide": "9.25:38.7:1.25; 2:1:40:0.5:-2", "notes": "one; two"},
		{"player": "Horn 2", "level_db": "", "zone_2": "", "zone_7": "0", "inside": "", "early": "", "late": "",
			"box_least_ms": "", "place": "", "glide": "", "notes": ""},
	} {
		for name, text := range want {
			if got, has := rows[i][name]; got != text || !has {
				t.Errorf("row %d, %s: %q, want %q", i+1, name, got, text)
			}
		}
	}

	for i := range show.Cues[0].Channels { // stereo, without stands
		c := &show.Cues[0].Channels[i]
		c.Sends, c.Fit, c.Place, c.Glide = nil, nil, nil, []cue.Knot{{Movement: 1, Count: 9, DelayMS: 78.7, Pan: -0.14}}
	}
	head, rows := csvOf(t, show)
	if want := 29; len(head) != want {
		t.Errorf("%d columns in stereo, want %d: %q", len(head), want, head)
	}
	if got := rows[0]["glide"]; got != "9:78.7:-0.14" {
		t.Errorf("knots in stereo: %q", got)
	}
	if rows[0]["inside"] != "" || rows[0]["early"] != "" || rows[0]["late"] != "" {
		t.Errorf("a fit without stands: %v", rows[0])
	}
}
