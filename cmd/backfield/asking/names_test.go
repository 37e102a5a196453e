package asking

import (
	"strings"
	"testing"
)

// Names may be short where one alone fits.
func TestNameFor(t *testing.T) {
	names := []string{"Tpt 3", "Tuba 3", "Tpt 13", "Tenor 3", "Pit", "P03", "Mello 2"}
	for _, x := range []struct {
		typed, wearers, want, fault string
	}{
		{"Tpt 3", "", "Tpt 3", ""}, {"tpt 3", "", "Tpt 3", ""}, {"tpt3", "", "Tpt 3", ""}, {"tu3", "", "Tuba 3", ""},
		{"t13", "", "Tpt 13", ""}, {"m2", "", "Mello 2", ""}, {"p3", "", "P03", ""}, {"pit", "", "Pit", ""},
		{"t3", "", "", `"t3" fits several: Tpt 3, Tuba 3, Tenor 3; type more of the name`},
		{"t3", "Tpt 3", "Tpt 3", ""}, {"t3", "Tuba 3,Tpt 3", "", "fits several"},
		{"Tpx 3", "", "", `no player "Tpx 3"; did you mean "Tpt 3"?`}, {"zzz", "", "", "type the name again"},
	} {
		got, err := nameFor(x.typed, names, strings.Split(x.wearers, ","), "player")
		if got != x.want || (err == nil) != (x.fault == "") || err != nil && !strings.Contains(err.Error(), x.fault) {
			t.Errorf("%q: %q, %v, want %q, %s", x.typed, got, err, x.want, x.fault)
		}
	}
}

// Whatever is typed comes back from the file as it was.
func TestQuoted(t *testing.T) {
	for in, want := range map[string]string{`a"b`: `"a\"b"`, `a\b`: `"a\\b"`, "a\tb": `"a\u0009b"`, "né": `"né"`} {
		if got := quoted(in); got != want {
			t.Errorf("%q is %s, want %s", in, got, want)
		}
	}
}
