package page_test

import (
	"io"
	"net/http"
	"strings"
	"testing"
)

// Every field that the seat's screen and hear.js read is there, and each slip in a request is answered in words.
func TestSeatRequests(t *testing.T) {
	t.Parallel()
	reply := fetched[map[string]any](t, "seat?row=12&seat=66&channel=1&count=56")
	for _, key := range strings.Fields("seat block row number index x y z player channel role cue closed rests delayMS faderDB way " +
		"ways arrivals windowMS gapMS inTime state verdict why levels giveOrTakeDB levelTakeDB") {
		if _, ok := reply[key]; !ok {
			t.Errorf("the reply has no %s", key)
		}
	}
	for _, a := range reply["arrivals"].([]any) {
		for _, key := range strings.Fields("from kind timeMS levelDB levelDBA azimuthDeg elevationDeg distanceM counts echo") {
			if _, ok := a.(map[string]any)[key]; !ok {
				t.Errorf("an arrival has no %s", key)
			}
		}
	}
	for query, same := range map[string]string{
		"place=12-66&channel=1&count=56":                                   "row 12, seat 66",
		"index=945&player=Tpt+1&count=56&way=compiled":                     "row 12, seat 66",
		"row=12&seat=66&block=home+side+lower&channel=1&count=56&way=none": "row 12, seat 66",
		"place=box&channel=1&count=56":                                     "press box",
	} {
		if got := fetched[map[string]any](t, "seat?"+query); got["seat"] != same {
			t.Errorf("%s is %v, want %s", query, got["seat"], same)
		}
	}
	for query, want := range map[string]string{
		"row=12&seat=66&channel=1":                   "400 count must be a count of the show",
		"row=12&seat=66&channel=1&count=-1":          "400 count must be",
		"row=12&seat=66&channel=1&count=NaN":         "400 count must be",
		"row=12&seat=66&channel=x&count=1":           "400 channel must be a whole number",
		"row=twelve&seat=66&channel=1&count=1":       "404 row and seat must be whole numbers; or ask for place=box",
		"row=31&seat=1&channel=1&count=1":            "404 no row 31; there are rows 1 (A) to 30 (AD), 80 seats in each",
		"row=1&seat=81&channel=1&count=1":            "404 no seat 81 in row 1",
		"index=2400&channel=1&count=1&way=mono":      "404 no way \"mono\"",
		"index=99999&channel=1&count=1":              "404 no seat has the index 99999; they go from 0 to 2399",
		"row=1&seat=1&channel=777&count=1":           "404 no channel 777",
		"row=1&seat=1&player=Nobody&count=1":         "404 no player and no fixed mic",
		"row=1&seat=1&block=upper&channel=1&count=1": "404 no block \"upper\"",
		"place=%1b[31m&channel=1&count=1":            "404 \"\\x1b[31m\" is no seat",
	} {
		reply, err := http.Get(harbor() + "seat?" + query)
		if err != nil {
			t.Fatal(err)
		}
		text, _ := io.ReadAll(reply.Body)
		reply.Body.Close()
		if got := reply.Status[:3] + " " + string(text); !strings.HasPrefix(got, want) {
			t.Errorf("%s: %s, want %s", query, got, want)
		}
	}
}
