package liverun

import (
	"net"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"backfield/cmd/backfield/term"
	"backfield/layout/source"
	"backfield/osc/run"
)

// BenchmarkGoWhileFilling times a go of the demo from the command to the arrival of its first datagram: while the loops of
// its mics are computed beside it, as in the first seconds of a run, and with nothing beside it, in turn. Read it with
// -benchtime 20x.
func BenchmarkGoWhileFilling(b *testing.B) {
	s := nightOf(b, noiseRead+brassRead)
	var p source.Problems
	loudness := s.Loudness(&p)
	mixer, err := net.ListenUDP("udp", &net.UDPAddr{IP: net.IPv4(127, 0, 0, 1)})
	if err != nil {
		b.Fatal(err)
	}
	defer mixer.Close()
	o := StartOptions{Score: "show.toml", To: []string{"udp://" + mixer.LocalAddr().String()}, Rehearsal: true,
		Journal: filepath.Join(b.TempDir(), "run.jsonl"), Plain: true, Notices: term.NewNotices(&safeBuffer{})}
	defer o.Notices.Close()
	r, err := Start(b.Context(), s, o)
	if err != nil {
		b.Fatal(err)
	}
	defer r.Close()
	buffer := make([]byte, 1<<16)
	quiet := func() { // until nothing came for 30 ms
		for {
			mixer.SetReadDeadline(time.Now().Add(30 * time.Millisecond))
			if _, err := mixer.Read(buffer); err != nil {
				return
			}
		}
	}
	took := map[bool][]float64{}
	ids := idsOf(s)
	step := func(filling bool, n int) {
		quiet()
		start := time.Now()
		if _, err := r.Do(run.Command{Verb: run.Jump, Name: ids[n%len(ids)]}); err != nil {
			b.Fatal(err)
		}
		mixer.SetReadDeadline(start.Add(time.Second))
		if _, err := mixer.Read(buffer); err == nil { // else the cue changes nothing
			took[filling] = append(took[filling], float64(time.Since(start).Microseconds()))
		}
	}
	n := 0
	for b.Loop() {
		filled := make(chan struct{})
		go func() {
			loudness.LoopTracks()
			close(filled)
		}()
		for filling := true; filling; {
			step(true, n)
			n++
			select {
			case <-filled:
				filling = false
			default:
			}
		}
		for len(took[false]) < len(took[true]) {
			step(false, n)
			n++
		}
	}
	for filling, name := range map[bool]string{false: "alone", true: "filling"} {
		list := took[filling]
		slices.Sort(list)
		b.ReportMetric(list[len(list)/2], name+"-median-us")
		b.ReportMetric(list[len(list)*99/100], name+"-p99-us")
	}
}
