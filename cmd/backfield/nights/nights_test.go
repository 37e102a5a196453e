package nights

import (
	"encoding/json"
	"strings"
	"testing"

	"backfield/cue"
)

// snapshot is a cue with channels that are open if they have a delay over 0; the share of seats is that delay over 100.
func snapshot(id string, delaysMS map[string]float64) cue.Snapshot {
	s := cue.Snapshot{ID: id}
	for i, player := range []string{"Tpt 1", "Tpt 2", "Bari 1"} {
		v := delaysMS[player]
		ch := cue.Channel{Channel: i + 1, Player: player, Kind: cue.Worn, Open: v > 0, DelayMS: v}
		if v > 0 {
			ch.Fit = &cue.SeatFit{InTime: v / 100, NoEcho: v / 200, BoxLateMS: &[2]float64{v / 8, v / 4}}
		}
		s.Channels = append(s.Channels, ch)
	}
	return s
}

// show has its cues 10 s apart; the last one holds for a minute.
func show(airC float64, cues ...cue.Snapshot) *cue.Show {
	for i := range cues {
		cues[i].TimeS = 10 * float64(i)
	}
	return &cue.Show{AirC: airC, Cues: cues, EndS: 10*float64(len(cues)-1) + 60}
}

// Each mic has the first cue in which its delays are farthest apart, and its figures on each night, over
// the time for which it is open.
func TestCompare(t *testing.T) {
	cold := New(show(5,
		snapshot("1", map[string]float64{"Tpt 1": 40, "Tpt 2": 50}),
		snapshot("2", map[string]float64{"Tpt 1": 60}),
		snapshot("3", map[string]float64{"Bari 1": 20})), "venues/away.toml")
	warm := New(show(30,
		snapshot("1", map[string]float64{"Tpt 1": 41, "Tpt 2": 47}),
		snapshot("2", map[string]float64{"Tpt 1": 64})), "")
	text, err := json.Marshal(Compare([]Night{cold, warm}))
	if err != nil {
		t.Fatal(err)
	}
	// 10 s with 40 %, 10 s with 60 %; on the other night 10 s with 41 % and 60 s with 64 %.
	want := `[{"channel":1,"player":"Tpt 1","cue":"2","spread_ms":4,"delay_ms":[60,64],"in_time":[0.5,0.6071],` +
		`"no_echo":[0.25,0.3036],"box_ms":[[5,15],[5.125,16]]},` +
		`{"channel":2,"player":"Tpt 2","cue":"1","spread_ms":3,"delay_ms":[50,47],"in_time":[0.5,0.47],` +
		`"no_echo":[0.25,0.235],"box_ms":[[6.25,12.5],[5.875,11.75]]},` +
		`{"channel":3,"player":"Bari 1","cue":"3","spread_ms":0,"delay_ms":[20,null],"in_time":[0.2,null],` +
		`"no_echo":[0.1,null],"box_ms":[[2.5,5],null]}]`
	if string(text) != want {
		t.Errorf("%s\nwant\n%s", text, want)
	}
}

// The nights come above the table, with their letters.
func TestPrint(t *testing.T) {
	list := []Night{
		New(show(5, snapshot("1", map[string]float64{"Tpt 1": 40})), "venues/away.toml"),
		New(show(30, snapshot("1", map[string]float64{"Tpt 1": 42.25})), ""),
	}
	var b strings.Builder
	Print(&b, list, Compare(list))
	after := "ms after the player\n"
	want := "A  away, 5 C (41 F): 1 cue\n   on average 40 % of seats in time, 20 % without an echo; press box 5.0 to 10.0 " +
		after + "B  rig, 30 C (86 F): 1 cue\n   on average 42 % of seats in time, 21 % without an echo; press box 5.3 to 10.6 " +
		after + `
seats: in time, and in time without an echo; box: arrival gap at the press box, ms
ch   player             cue    spread ms      ms A    ms B   seats A      box A   seats B      box B
1    Tpt 1              1            2.2      40.0    42.2  40, 20 %   5.0-10.0  42, 21 %   5.3-10.6
`
	if b.String() != want {
		t.Errorf("%s\nwant\n%s", b.String(), want)
	}
}
