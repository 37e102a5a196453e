package linechecking

import (
	"slices"
	"testing"
)

func TestMatch(t *testing.T) {
	t.Parallel()
	players := []string{"Tuba 7", "Tpt 7", "Tpt 17", "Mello 2", "Élan 7", "Sax"}
	for typed, want := range map[string][]string{
		"":       players,
		"t7":     {"Tuba 7", "Tpt 7", "Tpt 17"},
		"tpt7":   {"Tpt 7", "Tpt 17"},
		"TPT 1":  {"Tpt 17"},
		"é7":     {"Élan 7"},
		"sax":    {"Sax"},
		"s":      {"Sax"},
		"me":     {"Mello 2"},
		"7":      {"Tuba 7", "Tpt 7", "Tpt 17", "Élan 7"},
		"nobody": nil,
	} {
		if got := Match(players, typed); !slices.Equal(got, want) {
			t.Errorf("%q means %q, want %q", typed, got, want)
		}
	}
}
