package simulated

import (
	"strings"
	"testing"
	"time"

	"backfield/layout/source"
	"backfield/osc"
	"backfield/osc/mixer"
	"backfield/osc/virtual"
	"backfield/osc/wire"
)

func TestPicture(t *testing.T) {
	var p source.Problems
	d := mixer.Read(&source.File{Name: "mixer.toml", Text: "channels = 200\n[mute]\naddress = " +
		"\"/m/{channel}\"\n[level]\naddress = \"/l/{channel}\"\noff = -120\n" +
		"[pan]\naddress = \"/p/{channel}\"\n[delay]\naddress = \"/d/{channel}\"\nmax = 500\n"}, &p)
	m := virtual.New(d)
	for _, x := range []osc.Message{{Address: "/m/3", Args: []osc.Arg{osc.Int32(0)}},
		{Address: "/l/3", Args: []osc.Arg{osc.Float32(-12.5)}}, {Address: "/p/3", Args: []osc.Arg{osc.Float32(-0.3)}},
		{Address: "/d/3", Args: []osc.Arg{osc.Float32(62.3)}}, {Address: "/d/150",
			Args: []osc.Arg{osc.Float32(499.9)}}, {Address: "/x", Args: nil}} {
		m.Handle(time.Time{}, "a", wire.Encode(x))
	}
	want := "1 of 200 channels open; 6 messages, 1 for unknown addresses\n" +
		"    3 open    -12.5 dB  L0.30   62.3 ms   150 closed       off center  499.9 ms"
	if got := strings.Join(mixerLines(d, m.State()), "\n"); got != want {
		t.Errorf("it shows\n%s\nwant\n%s", got, want)
	}
	m.WakeOpen = true
	m.Wake()
	lines := mixerLines(d, m.State())
	if len(lines) != 1+pictureRows || !strings.HasPrefix(lines[0], "200 of 200 channels open; ") ||
		!strings.HasSuffix(lines[0], "; 160 not shown") {
		t.Errorf("%d lines, the first %q", len(lines), lines[0])
	}
	for _, line := range lines {
		if len(line) > 80 {
			t.Errorf("%d characters: %q", len(line), line)
		}
	}
}
