package audio

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"backfield/cue"
	"backfield/layout/sound"
	"backfield/layout/source"
	"backfield/osc"
	"backfield/osc/audible"
	"backfield/osc/mixer"
	"backfield/osc/virtual"
	"backfield/osc/wave"
)

const mixerFile = `channels = 100
[mute]
address = "/m/{channel}"
[level]
address = "/l/{channel}"
off = -120
[pan]
address = "/p/{channel}"
[delay]
address = "/d/{channel}"
max = 500
[send]
address = "/s/{channel}/{zone}"
off = -120
`

// bench is a recording of a mixer.
type bench struct {
	*Recording
	t   *testing.T
	now time.Time
}

func newBench(t *testing.T, moves cue.Moves, own *audible.SoundLoop) *bench {
	t.Helper()
	var p source.Problems
	text := strings.Replace(mixerFile, "max = 500\n", "max = 500\nmoves = \""+string(moves)+"\"\n", 1)
	d := mixer.Read(&source.File{Name: "mixer.toml", Text: text}, &p)
	if p.Errors() > 0 {
		t.Fatal(p.All())
	}
	b := &bench{NewRecording(d, sound.ConstantPower, own), t, time.Unix(1_700_000_000, 0)}
	b.Start(b.now, virtual.New(d).State())
	return b
}

// takes gives it a value, some ms after the one before.
func (b *bench) takes(ms float64, address string, v float64) {
	b.now = b.now.Add(time.Duration(ms * 1e6))
	arg := osc.Float32(float32(v))
	if strings.HasPrefix(address, "/m/") {
		arg = osc.Int32(int32(v))
	}
	b.Take(b.now, osc.Message{Address: address, Args: []osc.Arg{arg}})
}

// written is the file as samples, the mean of both sides, and what was said.
func (b *bench) written(after time.Duration) (samples []float64, said string) {
	b.t.Helper()
	path := filepath.Join(b.t.TempDir(), "out.wav")
	var say strings.Builder
	if err := b.Write(path, b.now.Add(after), &say); err != nil {
		b.t.Fatal(err)
	}
	data, err := os.ReadFile(path)
	if os.IsNotExist(err) {
		return nil, say.String()
	}
	samples, _, err = wave.Read(data)
	if err != nil {
		b.t.Fatal(err)
	}
	return samples, say.String()
}

func loudest(samples []float64) (v float64) {
	for _, x := range samples {
		v = max(v, math.Abs(x))
	}
	return v
}

// roughest is the greatest change of direction from sample to sample, which a click has and a tone has not.
func roughest(samples []float64) (v float64) {
	for i := 2; i < len(samples); i++ {
		v = max(v, math.Abs(samples[i]-2*samples[i-1]+samples[i-2]))
	}
	return v
}

// A recording starts when the first channel opens, has each channel at its level, and the delay as the mixer moves it.
func TestRecording(t *testing.T) {
	t.Parallel()
	record := func(moves cue.Moves) []float64 {
		b := newBench(t, moves, nil)
		b.takes(60_000, "/d/3", 20)
		b.takes(1, "/l/3", 0)
		b.takes(1, "/unknown", 0)
		b.takes(60_000, "/m/3", 0)
		for i := range 50 {
			b.takes(20, "/d/3", 20+0.2*float64(i)) // 1 s
		}
		b.takes(0, "/l/3", -20)
		y, said := b.written(time.Second)
		if want := "channel 3 is the tone of 220 Hz"; !strings.Contains(said, want) || strings.Contains(said, "full") {
			t.Errorf("it says %q, want %q", said, want)
		}
		return y
	}
	clicks, clean := record(cue.Closed), record(cue.Glides)
	if want := int(2.25 * rate); len(clean) != want && len(clean) != want+1 {
		t.Errorf("%d samples, want %d", len(clean), want)
	}
	full := math.Pow(10, channelDB/20.0) / math.Sqrt2 // centered: each side has 3 dB less
	for _, c := range []struct {
		fromS, toS, want float64
	}{{0, 0.249, 0}, {0.3, 1.2, full}, {1.3, 2.2, full / 10}} {
		if got := loudest(clean[int(c.fromS*rate):int(c.toS*rate)]); math.Abs(got-c.want) > 0.01*full {
			t.Errorf("from %g s to %g s: %g, want %g", c.fromS, c.toS, got, c.want)
		}
	}
	if a, b := roughest(clicks[rate/2:rate]), roughest(clean[rate/2:rate]); a < 5*b {
		t.Errorf("the mixer that clicks is as smooth as the one that glides: %g, %g", a, b)
	}
}

// Sends to zones are heard from left to right, and their powers add up.
func TestRecordingOfZones(t *testing.T) {
	t.Parallel()
	b := newBench(t, cue.Closed, nil)
	for zone, dB := range []float64{-120, 0, -120} {
		b.takes(1, "/s/1/"+string(rune('1'+zone)), dB)
	}
	if s := b.inStereo(b.channel(1)); math.Abs(s.Pan) > 1e-9 {
		t.Errorf("the middle zone is at %+v", s)
	}
	b.takes(1, "/l/1", -3)
	b.takes(1, "/s/1/2", -120)
	b.takes(1, "/s/1/3", -6)
	if s := b.inStereo(b.channel(1)); math.Abs(s.Pan-1) > 1e-9 || math.Abs(s.LevelDB+9) > 1e-9 {
		t.Errorf("the right zone is at %+v", s)
	}
	b.takes(1, "/s/1/3", -120)
	if s := b.inStereo(b.channel(1)); !math.IsInf(s.LevelDB, -1) {
		t.Errorf("without a zone: %+v", s)
	}
}

// Nothing opened, too long, too many: each is said, and what fits is written.
func TestRecordingLimits(t *testing.T) {
	t.Parallel()
	if y, said := newBench(t, cue.Closed, nil).written(time.Hour); y != nil || !strings.Contains(said, "no channel opened") {
		t.Errorf("%d samples, %q", len(y), said)
	}
	loud := audible.Tone(8000, 1000, 0)
	b := newBench(t, cue.Closed, &loud)
	b.takes(0, "/m/20", 0)
	b.takes(0, "/l/20", 0)
	b.takes(650_000, "/l/20", -3)
	y, said := b.written(10 * time.Second)
	if want := "full at 10:00.3: the 1:00.0 after that are not in it"; !strings.Contains(said, want) {
		t.Errorf("it says %q, want %q", said, want)
	}
	if want := int(600.25 * 8000); len(y) != want && len(y) != want+1 {
		t.Errorf("%d samples, want %d", len(y), want)
	}
	if len(b.channels[20].settings) != 2 {
		t.Errorf("it keeps %+v", b.channels[20].settings)
	}

	b = newBench(t, cue.Closed, &loud)
	for i := range maxTracks + 2 {
		address := fmt.Sprintf("/l/%d", i+10)
		b.takes(0, address, 0)
		b.takes(0, strings.Replace(address, "l", "m", 1), 0)
		b.takes(0, address, -6)
	}
	_, said = b.written(time.Second)
	for _, want := range []string{"64 channels\n", "2 channels opened when 64 had", "more than the file can hold"} {
		if !strings.Contains(said, want) {
			t.Errorf("it says %q, want %q", said, want)
		}
	}
	b.settings = maxSettings // as after a storm of messages
	before := len(b.channels[21].settings)
	if b.takes(1000, "/l/21", -9); len(b.channels[21].settings) != before || b.full != b.now {
		t.Errorf("%d settings, full at %v", len(b.channels[21].settings), b.full)
	}
}

func TestTonesDiffer(t *testing.T) {
	t.Parallel()
	seen := map[int]bool{}
	for i := range maxTracks {
		if hz := toneOf(i); seen[hz] || hz < 200 || hz > 4000 {
			t.Errorf("channel %d of those that open has %d Hz", i+1, hz)
		}
		seen[toneOf(i)] = true
	}
}

// A reboot closes what was open, as the mixer does.
func TestRecordingOfAReboot(t *testing.T) {
	t.Parallel()
	b := newBench(t, cue.Closed, nil)
	b.takes(0, "/l/1", 0)
	b.takes(0, "/m/1", 0)
	b.now = b.now.Add(time.Second)
	b.Start(b.now, virtual.New(b.mixer).State())
	y, _ := b.written(time.Second)
	if a, z := loudest(y[rate/2:rate]), loudest(y[3*rate/2:]); a < 0.05 || z > 0 {
		t.Errorf("%g before the reboot, %g after it", a, z)
	}
}

// The demonstration is what its list says: only the clicks click.
func TestDemonstration(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	path := filepath.Join(folder, "out.wav")
	own := audible.Tone(8000, 300, 0)
	var list strings.Builder
	if err := Demonstrate(path, &own, &list); err != nil {
		t.Fatal(err)
	}
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	y, hz, err := wave.Read(data)
	if err != nil || hz != own.Rate {
		t.Fatalf("%d samples a second, %v", hz, err)
	}
	lines := strings.Split(strings.TrimSpace(list.String()), "\n")
	if n := 2*len(examples()) + 1; len(lines) != n || !strings.HasPrefix(lines[n-1], "  1:30.0  end of ") || len(y) != 90*hz {
		t.Errorf("%d lines, %d s of sound:\n%s", len(lines), len(y)/hz, list.String())
	}
	at := 0
	steady := 0.0
	for _, x := range examples() {
		part := y[at : at+int(x.seconds)*hz]
		at += (int(x.seconds) + gapS) * hz
		clicks := strings.Contains(x.title, "on a mixer that clicks")
		if strings.Contains(x.title, "nothing changes") {
			steady = roughest(part)
		} else if got := roughest(part) > 1.15*steady; got != clicks {
			t.Errorf("%s: clicks is %t (%g, steady %g)", x.title, got, roughest(part), steady)
		}
		if gap := y[at-gapS*hz+hz/10 : at]; loudest(gap) > 0 {
			t.Errorf("after %s there is no silence", x.title)
		}
	}
	if entries, _ := os.ReadDir(folder); len(entries) != 1 {
		t.Errorf("it leaves %v", entries)
	}
}

func TestReadSound(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	path := filepath.Join(folder, "own.wav")
	file := wave.NewStereo(8000, 1000)
	ones := make([]float64, 1000)
	for i := range ones {
		ones[i] = 0.5
	}
	file.Add(ones, ones)
	if err := write(path, file); err != nil {
		t.Fatal(err)
	}
	once, _, err := ReadSound(path)
	if err != nil || math.Abs(once.Samples[0]-0.5) > 1e-3 || math.Abs(once.Samples[999]-0.5) > 1e-3 {
		t.Errorf("a sound that is played once starts with %g, %v", once.Samples[0], err)
	}
	own, note, err := ReadLoop(path)
	if note != "" {
		t.Errorf("a whole file: %s", note)
	}
	if err != nil || own.Rate != 8000 || len(own.Samples) != 1000 || own.Samples[0] != 0 || own.Samples[999] != 0 ||
		math.Abs(own.Samples[500]-0.5) > 1e-3 {
		t.Errorf("%d samples, %v", len(own.Samples), err)
	}
	if err := CheckOutput(path, path); err == nil || !strings.Contains(err.Error(), "over the sound") {
		t.Errorf("it may be written over: %v", err)
	}
	if err := CheckOutput(folder, ""); err == nil || !strings.Contains(err.Error(), "is a folder") {
		t.Errorf("a folder: %v", err)
	}
	if err := CheckOutput(filepath.Join(folder, "none", "x.wav"), ""); err == nil {
		t.Error("a file in no folder")
	}
	data, _ := os.ReadFile(path)
	copy(data[40:], "\xff\xff\xff\xff") // the length of its samples
	os.WriteFile(path, data, 0o644)
	if _, note, err := ReadLoop(path); err != nil || !strings.Contains(note, "own.wav does not say how long it is") ||
		!strings.Contains(note, "all 0.12 s in it") {
		t.Errorf("a file that was cut off: %q, %v", note, err)
	}
	os.WriteFile(path, []byte("hello"), 0o644)
	if _, _, err := ReadSound(path); err == nil || !strings.Contains(err.Error(), "own.wav: not a WAV file") {
		t.Errorf("text: %v", err)
	}
}
