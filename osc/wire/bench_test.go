package wire

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	model "github.com/hypebeast/go-osc/osc"

	"backfield/osc"
)

const fader = "/in/23/level"

// libloFade times what a program does with liblo at each step of a fade: it makes a message with its value and
// serializes it into existing memory. It prints ns a message, for that and for serializing an existing message only.
const libloFade = `
#include <stdio.h>
#include <stdlib.h>
#include <time.h>
#include <lo/lo.h>
static double now(void) { struct timespec t; clock_gettime(CLOCK_MONOTONIC, &t); return t.tv_sec * 1e9 + t.tv_nsec; }
static char room[256];
static volatile char sink;
static double fade(const char *path, long n) {
	double start = now();
	for (long i = 0; i < n; i++) {
		lo_message m = lo_message_new();
		lo_message_add_float(m, (float)i);
		size_t size = sizeof room;
		lo_message_serialise(m, path, room, &size);
		sink += room[size - 1];
		lo_message_free(m);
	}
	return (now() - start) / n;
}
static double serialise(const char *path, long n) {
	lo_message m = lo_message_new();
	lo_message_add_float(m, 0.5f);
	double start = now();
	for (long i = 0; i < n; i++) {
		size_t size = sizeof room;
		lo_message_serialise(m, path, room, &size);
		sink += room[size - 1];
	}
	return (now() - start) / n;
}
int main(int argc, char **argv) {
	double f = 1e9, s = 1e9, x;
	for (int round = atoi(argv[2]); round > 0; round--) {
		f = (x = fade(argv[1], atol(argv[3]))) < f ? x : f;
		s = (x = serialise(argv[1], atol(argv[3]))) < s ? x : s;
	}
	printf("%f %f\n", f, s);
	return 0;
}
`

// libloBuilt builds the program above, or returns why it cannot.
func libloBuilt(b *testing.B) (program string, why string) {
	b.Helper()
	gcc, err := exec.LookPath("gcc")
	if err != nil {
		return "", "gcc is not installed"
	}
	dir := b.TempDir()
	source, program := filepath.Join(dir, "fade.c"), filepath.Join(dir, "fade")
	if err := os.WriteFile(source, []byte(libloFade), 0o666); err != nil {
		b.Fatal(err)
	}
	if out, err := exec.Command(gcc, "-O3", "-o", program, source, "-llo").CombinedOutput(); err != nil {
		return "", fmt.Sprintf("liblo is not there to be built with (Debian: liblo-dev): %s", out)
	}
	return program, ""
}

// nsEach is how long one of n calls takes, in ns.
func nsEach(n int, do func(i int)) float64 {
	start := time.Now()
	for i := range n {
		do(i)
	}
	return float64(time.Since(start).Nanoseconds()) / float64(n)
}

// BenchmarkFade times the packet of a fade's next value: the ValuePacket that a run sends, next to go-osc's encoder
// with an existing message, the same including making the message, and liblo in C. Other programs can only slow this
// down, so the fastest of many short rounds counts. Read x-go-osc and x-liblo.
func BenchmarkFade(b *testing.B) {
	const n, rounds = 20_000, 50
	liblo, why := libloBuilt(b)
	if why != "" {
		if os.Getenv("BACKFIELD_REQUIRE_TOOLS") != "" {
			b.Fatal(why)
		}
		b.Log(why + ": no figure beside liblo's")
	}
	var sink byte
	line, batch := NewValuePacket(fader), NewBatch(false, 1472)
	patch := func(i int) { p := line.With(osc.Float32(float32(i))); sink += p[len(p)-1] }
	b.ReportAllocs()
	for i := 0; b.Loop(); i++ {
		patch(i)
	}
	made := model.NewMessage(fader, float32(0.5))
	kinds := []struct {
		name string
		do   func(i int)
		ns   float64
	}{
		{name: "line", do: patch},
		{name: "line-in-batch", do: func(i int) {
			if i%64 == 0 {
				batch.Reset()
			}
			batch.Add(line.With(osc.Float32(float32(i))))
		}},
		{name: "go-osc-encoder", do: func(int) { p, _ := made.MarshalBinary(); sink += p[len(p)-1] }},
		{name: "go-osc-message", do: func(i int) {
			p, _ := model.NewMessage(fader,
				float32(i)).MarshalBinary()
			sink += p[len(p)-1]
		}},
	}
	for round := range rounds {
		for k := range kinds {
			if ns := nsEach(n, kinds[k].do); round == 0 || ns < kinds[k].ns {
				kinds[k].ns = ns
			}
		}
	}
	for _, k := range kinds {
		b.ReportMetric(k.ns, "ns/"+k.name)
	}
	ns := kinds[0].ns
	b.ReportMetric(kinds[2].ns/ns, "x-go-osc")
	if liblo != "" {
		out, err := exec.Command(liblo, fader, strconv.Itoa(rounds), strconv.Itoa(n)).Output()
		var fade, serialise float64
		if _, scan := fmt.Sscan(string(out), &fade, &serialise); err != nil || scan != nil {
			b.Fatal(err, scan)
		}
		b.ReportMetric(fade, "ns/liblo-message")
		b.ReportMetric(serialise, "ns/liblo-serialise")
		b.ReportMetric(fade/ns, "x-liblo")
		b.ReportMetric(serialise/ns, "x-liblo-serialise")
	}
	_ = sink
}

// BenchmarkDecode times packets from a mixer: a message of one float, and a bundle of 40 of them.
func BenchmarkDecode(b *testing.B) {
	for _, count := range []int{1, 40} {
		b.Run(strconv.Itoa(count), func(b *testing.B) {
			packets, err := Pack(numbered(count), count > 1, 1472)
			if err != nil || len(packets) != 1 {
				b.Fatal(err, len(packets))
			}
			b.ReportAllocs()
			for b.Loop() {
				if ms, err := Decode(packets[0]); err != nil || len(ms) != count {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N*count), "ns/message")
		})
	}
}
