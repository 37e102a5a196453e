package step

import (
	"strings"
	"testing"
)

func TestShorthand(t *testing.T) {
	t.Parallel()
	for in, want := range map[string]string{
		"":                                    "",
		"Tpt 1|Tpt 3|Tpt 6":                   "Tpt 1, 3, 6",
		"Bari 3|Bari 9|Bari 12|Bari 6|Tuba 1": "Bari 3, 6, 9, 12, Tuba 1",
		"Tpt 01|Tpt 2":                        "Tpt 01, Tpt 2",
		"Bari 3|Bari 12|Tuba 4|Tuba 7|Bari 9": "Bari 3, 12, Tuba 4, 7, Bari 9",
		"field left|field right":              "field left, field right",
		"Tpt 1|Tpt 2a|Tpt 3":                  "Tpt 1, Tpt 2a, Tpt 3",
		"1|2":                                 "1, 2",
		"Alto Sax 1|Alto Sax 2|Tenor Sax 2":   "Alto Sax 1, 2, Tenor Sax 2",
	} {
		if got := strings.Join(Shorthand(strings.Split(in, "|")), ", "); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}
