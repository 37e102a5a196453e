package live

import (
	"fmt"
	"math"
	"testing"
	"time"

	"backfield/osc"
	"backfield/osc/wire"
)

// BenchmarkLoss sends the 256 values of a cue to a receiver with a buffer of 4 KiB that takes 0.1 ms and more for
// each message, at the default rate and with no rate. It reports how many are lost, how many the buffer has room for
// while nothing reads, how far apart datagrams arrive in the median, and the least time that any three in a row take:
// at the default rate of a message each 500 us one that was late may come close to the next, but lost time is not
// caught up with.
func BenchmarkLoss(b *testing.B) {
	for _, c := range []struct{ name, settings string }{{"default", ""}, {"unpaced", "rate = 2147483647\n"}} {
		b.Run(c.name, func(b *testing.B) {
			e := listenTo(b)
			show, d := benchShow(b, 64, 0, c.settings)
			stage := stageFor(b, show, d, e.port, unwritten)
			e.hear(b, 1<<20, 200*time.Millisecond)
			work := wire.NewWakeTimer() // which does not spin: the receiver must not need a core to itself
			defer work.Close()
			lost, sent := 0, 0
			var gaps []float64
			three := math.MaxFloat64
			for b.Loop() {
				do(b, stage, "jump open")
				e.hear(b, 1<<20, 200*time.Millisecond)
				e.room(4096)
				do(b, stage, "jump closed")
				got := 0
				for last, before := (time.Time{}), (time.Time{}); ; got++ {
					n, _, at := e.hear(b, 1, 200*time.Millisecond)
					if n == 0 {
						break
					}
					if !last.IsZero() {
						gaps = append(gaps, float64(at.Sub(last).Nanoseconds())/1e3)
					}
					if !before.IsZero() {
						three = min(three, float64(at.Sub(before).Nanoseconds())/1e3)
					}
					last, before = at, last
					work.Set(time.Now().Add(100*time.Microsecond), time.Second)
					<-work.C
				}
				e.room(4 << 20)
				lost, sent = lost+256-got, sent+256
			}
			b.ReportMetric(float64(lost)*256/float64(sent), "lost-of-256")
			b.ReportMetric(float64(room(b)), "room")
			if c.settings == "" {
				b.ReportMetric(median(gaps), "us-apart")
				b.ReportMetric(three, "us-three-in-a-row")
			}
		})
	}
}

// room is how many of these datagrams a buffer of 4 KiB holds.
func room(b *testing.B) (n int) {
	e := listenTo(b)
	e.room(4096)
	to, err := wire.Open(fmt.Sprintf("127.0.0.1:%d", e.port))
	if err != nil {
		b.Fatal(err)
	}
	defer to.Close()
	for range 256 {
		to.Write(wire.Encode(osc.Message{Address: "/in/23/level", Args: []osc.Arg{osc.Float32(1)}}))
	}
	n, _, _ = e.hear(b, 256, 100*time.Millisecond)
	return n
}

// BenchmarkPace reports how much of a core it takes to send at the default rate of 2,000 messages a second, beside the
// same messages through wire.Send, whose clock spins.
func BenchmarkPace(b *testing.B) {
	e := listenTo(b)
	show, d := benchShow(b, 64, 0, "")
	stage := stageFor(b, show, d, e.port, unwritten)
	link, err := wire.Open(fmt.Sprintf("127.0.0.1:%d", e.port))
	if err != nil {
		b.Fatal(err)
	}
	defer link.Close()
	var list []osc.Message
	for _, s := range d.Settings(&show.Cues[0]) {
		list = append(list, s.Message)
	}
	packets, err := wire.Pack(list, false, 1472)
	if err != nil {
		b.Fatal(err)
	}
	e.hear(b, 1<<20, 200*time.Millisecond)
	var ours, spun, oursWall, spunWall float64
	for b.Loop() {
		do(b, stage, "jump open")
		e.hear(b, 1<<20, 200*time.Millisecond)
		cpu, start := spent(), time.Now()
		do(b, stage, "jump closed")
		for !stage.Settled() {
			time.Sleep(10 * time.Millisecond)
		}
		ours, oursWall = ours+(spent()-cpu).Seconds(), oursWall+time.Since(start).Seconds()
		cpu, start = spent(), time.Now()
		if err := wire.Send(link, packets, 2000, wire.Wall{}); err != nil {
			b.Fatal(err)
		}
		spun, spunWall = spun+(spent()-cpu).Seconds(), spunWall+time.Since(start).Seconds()
		e.hear(b, 1<<20, 200*time.Millisecond)
	}
	b.ReportMetric(100*ours/oursWall, "%core")
	b.ReportMetric(100*spun/spunWall, "%core-spun")
}
