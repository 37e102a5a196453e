package sheet

import (
	"reflect"
	"strings"
	"testing"
)

func TestRows(t *testing.T) {
	s := evening()
	s.Cues[2].TimeS = 12 // two seconds after cue 2
	rows := Rows(s, []WatchNote{{"1", "of the first"}, {"3", "of the cue"}, {"9", "of none"}})
	if len(rows) != 4 {
		t.Fatalf("%d rows", len(rows))
	}
	names := func(list []ChannelMic) (text string) {
		for _, m := range list {
			text += m.Player + " "
		}
		return strings.TrimSpace(text)
	}
	for i, want := range []struct {
		id, opens, closes string
		packs             []Pack
		changes           int
		open              int
		watch             string
	}{
		{"1", "A B", "", nil, 0, 2, "of the first"},
		{"2", "", "", []Pack{{"channel 2 goes from B to C", "support"}}, 1, 2, ""},
		{"3", "", "A C", nil, 0, 0, "quick: 2.0 s after cue 2|of the cue"},
		{"4", "C", "", nil, 0, 1, ""},
	} {
		r := rows[i]
		if r.ID != want.id || names(r.Opens) != want.opens || names(r.Closes) != want.closes ||
			!reflect.DeepEqual(r.Packs, want.packs) ||
			len(r.Changes) != want.changes || r.Open != want.open ||
			strings.Join(r.Watch, "|") != want.watch {
			t.Errorf("row %+v, want %+v", r, want)
		}
	}
	if want := []LevelChange{{ChannelMic{1, "A", "worn", "support", -9}, "feature", 1.5}}; !reflect.DeepEqual(rows[1].Changes, want) {
		t.Errorf("changes %+v", rows[1].Changes)
	}
	// Nobody presses an automatic cue.
	s.Cues[2].Auto = true
	if rows := Rows(s, nil); len(rows[2].Watch) != 0 {
		t.Errorf("%v", rows[2].Watch)
	}
}

// B gives a pack to C at 10 s; B's mic closes in cue 2 and C's opens with it, so there is no time at all.
func TestHandovers(t *testing.T) {
	wears := []PackUse{{"A", "horn", "P1", 1, 0, 40}, {"B", "horn", "P2", 2, 0, 10}, {"C", "horn", "P2", 2, 10, 40}}
	got := PackHandovers(evening(), wears, line{"B": {3, 0}, "C": {7, 0}})
	if len(got) != 1 {
		t.Fatalf("%+v", got)
	}
	h := got[0]
	if h.Giver != "B" || h.Taker != "C" || h.Pack != "P2" || h.ClosedIn != "2" || h.OpensIn != "2" || h.FreeS() != 0 ||
		h.ApartM != 4 || h.At.Count != 11 {
		t.Errorf("%+v", h)
	}
}
