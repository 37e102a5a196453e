package main

import (
	"encoding/binary"
	"encoding/json"
	"fmt"
	"math"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"backfield/cmd/backfield/browser"
	"backfield/cmd/backfield/hearing"
	"backfield/cmd/backfield/page"
	"backfield/cmd/backfield/show"
	"backfield/cue/seat"
	"backfield/layout"
	"backfield/layout/seatname"
	"backfield/layout/source"
	"backfield/osc/ears"
)

// thinned is the demo with 96 seats in place of 2400, which compiles in a part of the time.
func thinned(t *testing.T) (dir string, s *show.Loaded) {
	t.Helper()
	dir = copied(t, "../../examples/harbor")
	fewerSeats(t, dir, 6, 16)
	var p source.Problems
	s, err := show.Load(show.Disk{}, filepath.Join(dir, "show.toml"), show.LoadOptions{}, &p)
	if err != nil || s.Result.Show == nil {
		t.Fatal(err, p.All())
	}
	return dir, s
}

// flamSeat is one of them at which the stacks come well before Tpt 1, in cue 6, and in time with zones.
const flamSeat = "3-13"

// listened is what the command writes for that seat: its words, and the two sides of the file.
func listened(t *testing.T, dir string, args ...string) (words string, sides [2][]float64) {
	t.Helper()
	file := filepath.Join(t.TempDir(), "seat.wav")
	cmd := exec.Command("backfield", append([]string{"listen", dir, "6", "--seat", flamSeat, "--player", "Tpt 1", "-q", "-o",
		file}, args...)...)
	cmd.Stderr = os.Stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	data, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	for at := 44; at < len(data); at += 4 {
		for side := range sides {
			v := int16(binary.LittleEndian.Uint16(data[at+2*side:]))
			sides[side] = append(sides[side], float64(v)/math.MaxInt16)
		}
	}
	return string(out), sides
}

// expected is what is heard at that seat.
func expected(t *testing.T, s *show.Loaded, way seat.Way) *seat.Heard {
	t.Helper()
	place, err := seatname.Of(s.Rig).Find(flamSeat)
	if err != nil {
		t.Fatal(err)
	}
	for i := range s.Cues {
		if s.Cues[i].Cue.ID.V == "6" {
			h, err := seat.New(s.Result, s.Loudness(new(source.Problems))).Hear(seat.Question{Seat: place, Mic: "Tpt 1", At: s.Cues[i].At, Way: way})
			if err != nil {
				t.Fatal(err)
			}
			return h
		}
	}
	t.Fatal("no cue 6")
	return nil
}

// atEar is when a sound is at an ear after the middle of the head, in seconds, and the ear's filter, as y = b0 x + b1 x' - a1
// y'. These are the formulas of Woodworth and of Brown and Duda again, written from backfield help listen.
func atEar(a seat.HeardSound, right bool) (s, b0, b1, a1 float64) {
	const radius, c, rate = 0.0875, 343.0, 48000.0
	x := math.Sin(a.AzimuthDeg/180*math.Pi) * math.Cos(a.ElevationDeg/180*math.Pi)
	if !right {
		x = -x
	}
	angle := math.Pi/2 - math.Asin(x)
	if s = -x; x < 0 {
		s = math.Asin(-x)
	}
	alpha := 1.05 + 0.95*math.Cos(angle*180/150)
	beta := 2 * c / radius
	return s * radius / c, (beta + 2*rate*alpha) / (beta + 2*rate), (beta - 2*rate*alpha) / (beta + 2*rate),
		(beta - 2*rate) / (beta + 2*rate)
}

// found is where and how loud a dry sound is in a side of a file, near a time, after the filter of the ear is undone.
func found(y, dry []float64, nearS, b0, b1, a1 float64) (atS, gain float64) {
	const rate, reach = 48000, 150
	first := int(nearS*rate) - reach - 200
	plain, before, last := make([]float64, 2*reach+len(dry)+400), 0.0, 0.0
	for i := range plain {
		x := (y[first+i] + a1*last - b1*before) / b0
		plain[i], before, last = x, x, y[first+i]
	}
	correlate := func(lag int) (sum float64) {
		for i, x := range dry {
			sum += x * plain[lag+i]
		}
		return sum
	}
	best := 200
	for lag := 200; lag < 200+2*reach; lag++ {
		if correlate(lag) > correlate(best) {
			best = lag
		}
	}
	l, m, r := correlate(best-1), correlate(best), correlate(best+1)
	part, energy := (l-r)/(2*(l-2*m+r)), 0.0
	for _, x := range dry {
		energy += x * x
	}
	return (float64(first+best) + part) / rate, (m - (l-r)*part/4) / energy
}

// TestListenIsMeasured measures the file that the command writes: each arrival at each ear is there within 0.05 ms and 0.1
// dB of the show's own numbers, which are computed here from the rig and the snapshot.
func TestListenIsMeasured(t *testing.T) {
	t.Parallel()
	dir, s := thinned(t)
	snapshot, _ := s.Show.Find("6")
	dry, _ := ears.Dry("click", ears.Rate)
	for _, way := range []seat.Way{seat.Compiled, seat.NoDelay} {
		words, sides := listened(t, dir, "--sound", "click", "--way", string(way))
		h := expected(t, s, way)
		at := layout.Point{X: h.XM, Y: h.YM, Z: h.ZM}
		for _, a := range h.Arrivals {
			flightS := 0.0
			for _, c := range snapshot.Channels {
				if c.Channel == h.Channel && a.Kind == seat.PlayerKind {
					flightS = at.Distance(layout.Point{X: c.X, Y: c.Y, Z: c.Z}) / s.Show.SoundMPS
				}
				for _, k := range s.Show.Rig.Stacks {
					if c.Channel == h.Channel && k.Name == a.From {
						flightS = (s.Show.Rig.LatencyMS+k.DelayMS)/1000 + at.Distance(layout.Point{X: k.X, Y: k.Y, Z: k.Z})/s.Show.SoundMPS
						if way == seat.Compiled {
							flightS += c.DelayMS / 1000
						}
					}
				}
			}
			if line := fmt.Sprintf("%11.2f", 1000*flightS); !strings.Contains(words, line) {
				t.Errorf("%s, %s: the command does not list%s ms:\n%s", way, a.From, line, words)
			}
			for right, y := range sides {
				earS, b0, b1, a1 := atEar(a, right == 1)
				gotS, gain := found(y, dry, ears.LeadS+flightS+earS, b0, b1, a1)
				ms, dB := 1000*(gotS-ears.LeadS-flightS-earS), 20*math.Log10(gain)-ears.LoudestDB-a.LevelDB
				t.Logf("%s, %s, ear %d: %+.4f ms, %+.3f dB", way, a.From, right, ms, dB)
				if math.Abs(ms) > 0.05 || math.Abs(dB) > 0.1 {
					t.Errorf("%s, %s, ear %d: %.3f ms and %.2f dB off", way, a.From, right, ms, dB)
				}
			}
		}
	}
}

// TestFlamIsHeard looks at the waveform alone: at this seat a stack is heard as a stroke of its own, well before the player,
// and with zones the player's stroke comes first and nothing loud is outside the window.
func TestFlamIsHeard(t *testing.T) {
	t.Parallel()
	dir, s := thinned(t)
	for _, way := range []seat.Way{seat.Compiled, seat.Zones} {
		_, sides := listened(t, dir, "--sound", "click", "--way", string(way))
		h := expected(t, s, way)
		ownS := 0.0
		for _, a := range h.Arrivals {
			if a.Kind == seat.PlayerKind {
				ownS = ears.LeadS + a.TimeMS/1000
			}
		}
		most, strokes := 0.0, map[bool]float64{} // the greatest sample outside and inside of the player's window
		for _, y := range sides {
			for i, x := range y {
				s := float64(i)/ears.Rate - ownS
				in := s > -0.001 && s < h.WindowMS[1]/1000+0.002
				strokes[in], most = max(strokes[in], math.Abs(x)), max(most, math.Abs(x))
			}
		}
		outsideDB := 20 * math.Log10(strokes[false]/most)
		t.Logf("%s: outside of the window %.1f dB under the peak", way, -outsideDB)
		if flam := outsideDB > -6; flam != (way == seat.Compiled) || way == seat.Zones && outsideDB > -25 {
			t.Errorf("%s: %.1f dB outside of the window", way, outsideDB)
		}
	}
}

// TestPageHearsTheSame renders arrivals in a browser with hear.js and here: the samples are the same to less than the last
// bit of a file of 16 bits.
func TestPageHearsTheSame(t *testing.T) {
	t.Parallel()
	tab := browser.Open(t, 400, 300)
	files := http.FileServerFS(page.Static())
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		page.Guard(w)
		if r.URL.Path == "/blank" {
			w.Header().Set("Content-Type", "text/html")
			fmt.Fprint(w, `<!doctype html><link rel="icon" href="data:,">`)
			return
		}
		files.ServeHTTP(w, r)
	}))
	defer server.Close()
	tab.Go(server.URL + "/blank")
	_, s := thinned(t)
	h := expected(t, s, seat.Compiled)
	text, err := json.Marshal(h.Arrivals)
	if err != nil {
		t.Fatal(err)
	}
	for i, name := range ears.DryNames() {
		for _, rate := range []int{44100, ears.Rate}[i%2 : i%2+1] {
			browser.Eval[bool](tab, fmt.Sprintf(`window.heard = null; import("/hear.js").then(m => {
				const r = m.render(%s, m.dry(%q, %d), %[3]d)
				window.heard = {left: Array.from(r.left), right: Array.from(r.right), down: r.downDB, names: m.dryNames.join()}
			}); true`, text, name, rate))
			tab.Await("window.heard", time.Minute)
			got := browser.Eval[struct {
				Left, Right []float64
				Down        float64
				Names       string
			}](tab, "window.heard")
			dry, _ := ears.Dry(name, rate)
			want := ears.Render(dry, rate, hearable(h))
			if len(got.Left) != len(want.Left) || len(got.Right) != len(want.Right) || got.Names != strings.Join(ears.DryNames(), ",") ||
				math.Abs(got.Down-want.DownDB) > 1e-6 {
				t.Fatalf("%s: %d samples, want %d; turned down by %g, want %g; %s", name, len(got.Left), len(want.Left), got.Down,
					want.DownDB, got.Names)
			}
			worst := 0.0
			for i := range got.Left {
				worst = max(worst, math.Abs(got.Left[i]-want.Left[i]), math.Abs(got.Right[i]-want.Right[i]))
			}
			t.Logf("%s at %d: %.2g off at most", name, rate, worst)
			if worst > 1e-6 {
				t.Errorf("%s at %d: %g off", name, rate, worst)
			}
		}
	}
	if faults := tab.Faults(); faults != "" {
		t.Error(faults)
	}
}

func hearable(h *seat.Heard) (list []ears.EarArrival) {
	for _, a := range h.Arrivals {
		list = append(list, ears.EarArrival{TimeS: a.TimeMS / 1000, LevelDB: a.LevelDB,
			Direction: ears.Direction{AzimuthDeg: a.AzimuthDeg, ElevationDeg: a.ElevationDeg}})
	}
	return list
}

// The page about it quotes what the command prints for the demo.
func TestHelpQuotesListen(t *testing.T) {
	s := compiledOnce()
	place, err := seatname.Of(s.Rig).Find("12-66")
	if err != nil {
		t.Fatal(err)
	}
	snapshot, _ := s.Show.Find("6")
	h, err := seat.New(s.Result, s.Loudness(new(source.Problems))).Hear(seat.Question{Seat: place, Mic: "Tpt 1",
		At: s.Clock.At(snapshot.TimeS + 1e-6), Way: seat.Compiled})
	if err != nil {
		t.Fatal(err)
	}
	var text strings.Builder
	hearing.List(&text, h)
	quoted(t, "listen", strings.TrimSuffix(text.String(), "\n"))
}
