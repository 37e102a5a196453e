package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"backfield/osc/wire"
)

// What arrives over each transport is what the dry run prints, and nothing else.
func TestSendOverEachTransport(t *testing.T) {
	t.Parallel()
	show := filepath.Join("..", "..", "testdata", "script", "show")
	var dry bytes.Buffer
	if code := execute(context.Background(), []string{"send", "--dry-run", show, "2"}, &dry,
		&bytes.Buffer{}); code != 0 {
		t.Fatalf("the dry run ended with %d", code)
	}
	for _, scheme := range []string{"udp", "tcp", "slip"} {
		mixer, err := wire.Listen(scheme + "://127.0.0.1:0")
		if err != nil {
			t.Fatal(err)
		}
		heard := make(chan string)
		go func() {
			var all strings.Builder
			for {
				packet, _, err := mixer.Receive()
				if errors.Is(err, wire.ErrClosed) {
					heard <- all.String()
					return
				}
				list, err2 := wire.Decode(packet)
				if err != nil || err2 != nil {
					t.Errorf("%s: %v, %v", scheme, err, err2)
				}
				for _, m := range list {
					fmt.Fprintln(&all, m)
				}
			}
		}()
		var talk bytes.Buffer
		to := mixer.Addr().String()
		if code := execute(context.Background(), []string{"send", "--to", to, show, "2"}, &bytes.Buffer{},
			&talk); code != 0 {
			t.Errorf("send to %s ended with %d: %s", to, code, &talk)
		}
		if want := to + " (" + strings.ToUpper(scheme) +
			"; send does not ask for a reply, so look at the mixer)\n"; !strings.HasSuffix(talk.String(), want) {
			t.Errorf("it says %q", &talk)
		}
		time.Sleep(100 * time.Millisecond) // for what is under way, and for what should not be
		mixer.Close()
		if got := <-heard; got != dry.String() {
			t.Errorf("over %s the mixer heard\n%s, want\n%s", scheme, got, &dry)
		}
	}
}
