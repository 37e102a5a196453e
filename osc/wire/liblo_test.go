package wire

import (
	"bufio"
	"errors"
	"fmt"
	"net"
	"os"
	"os/exec"
	"strings"
	"testing"
	"time"

	"backfield/layout/osctype"
	"backfield/osc"
)

// outside returns the path of a program that shares no code with this one, or skips; where
// BACKFIELD_REQUIRE_TOOLS is set its absence is a failure.
func outside(t *testing.T, program, debian string) string {
	t.Helper()
	path, err := exec.LookPath(program)
	if err != nil {
		absent(t, fmt.Sprintf("%s is not installed (Debian: %s)", program, debian))
	}
	return path
}

func absent(t *testing.T, what string) {
	t.Helper()
	if os.Getenv("BACKFIELD_REQUIRE_TOOLS") != "" {
		t.Fatal(what + ", and BACKFIELD_REQUIRE_TOOLS is set")
	}
	t.Skip(what + ": nothing outside this program confirms the packets")
}

// all is a message of every type of argument, and others that a mixer may be sent.
var all = []osc.Message{
	oscillator, foo,
	{Address: "/in/03/mute", Args: []osc.Arg{osc.Int32(1)}},
	{Address: "/in/3/mute", Args: []osc.Arg{osc.Bool(true)}},
	{Address: "/in/3/mute", Args: []osc.Arg{osc.Bool(false)}},
	{Address: "/in/3/mute", Args: []osc.Arg{osc.String("ON")}},
	{Address: "/in/3/level", Args: []osc.Arg{osc.Float32(0.8)}},
	{Address: "/in/3/level", Args: []osc.Arg{osc.Float32(-120)}},
	{Address: "/in/3/delay", Args: []osc.Arg{osc.Float64(123456789.125)}},
	{Address: "/in/3/delay", Args: []osc.Arg{osc.Int64(-1 << 40)}},
	{Address: "/in/3/delay", Args: []osc.Arg{osc.Int32(-0x3F242340), osc.Int32(-0x24233F3F)}},
	// C0 DB DC C0, DB DC C0 C1: every byte that SLIP escapes
	{Address: "/all", Args: []osc.Arg{osc.Int32(-2147483648), osc.String(""), osc.Bool(true), osc.Float64(0.5),
		osc.Float32(0.25), osc.Int64(1), osc.Bool(false), osc.String("four")}},
	{Address: "/nothing"},
}

// dump is an oscdump that listens, and a Link to it that has been tried.
type dump struct {
	link  Link
	lines chan string
}

// next returns a line without its time stamp, and skips probes.
func (d dump) next(wait time.Duration) (string, bool) {
	for limit := time.After(wait); ; {
		select {
		case line := <-d.lines:
			_, line, _ = strings.Cut(line, " ")
			if !strings.HasPrefix(line, "/probe") {
				return strings.TrimSpace(line), true
			}
		case <-limit:
			return "", false
		}
	}
}

// oscdump starts liblo's listener. Sometimes it ends at once because another program took the port. Then it gets
// another one.
func oscdump(t *testing.T, scheme string) dump {
	t.Helper()
	path := outside(t, "oscdump", "liblo-tools")
	for range 10 {
		at := closedPort(t)
		_, port, _ := net.SplitHostPort(at)
		url := "osc.tcp://:" + port
		if scheme == "udp" {
			url = "osc.udp://:" + port
		}
		cmd := exec.Command(path, "-L", url)
		out, err := cmd.StdoutPipe()
		if err != nil {
			t.Fatal(err)
		}
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		d := dump{lines: make(chan string, 1000)}
		ended := make(chan struct{})
		go func() {
			defer close(ended)
			for s := bufio.NewScanner(out); s.Scan(); {
				d.lines <- s.Text()
			}
		}()
		t.Cleanup(func() {
			cmd.Process.Kill()
			<-ended
			cmd.Wait()
		})
		if d.hears(t, scheme+"://"+at, ended) {
			return d
		}
	}
	t.Fatal("oscdump does not listen")
	return dump{}
}

// hears opens the Link once that is possible, and sends probes until the first is shown. It returns whether oscdump is
// still running.
func (d *dump) hears(t *testing.T, to string, ended <-chan struct{}) bool {
	t.Helper()
	for range 100 {
		if d.link == nil {
			if l, err := Open(to); err == nil {
				d.link = l
				t.Cleanup(func() { l.Close() })
			} else if !errors.Is(err, ErrRefused) {
				t.Fatal(err)
			}
		}
		if d.link != nil {
			if err := d.link.Write(Encode(osc.Message{Address: "/probe"})); err != nil && !errors.Is(err, ErrRefused) {
				t.Fatal(err)
			}
		}
		select {
		case <-ended:
			return false
		case <-time.After(50 * time.Millisecond):
		}
		if len(d.lines) > 0 {
			return true
		}
	}
	t.Fatal("oscdump shows nothing within 5 s")
	return false
}

// TestOscdump sends messages and bundles over each transport to liblo's oscdump, which finds the framing from the first
// bytes of a connection. Version 0.31 hangs on an END and a bundle, but takes an END and a message, or a bundle without
// the END. So over SLIP the first packet here is a message.
func TestOscdump(t *testing.T) {
	for _, scheme := range schemes {
		t.Run(scheme, func(t *testing.T) {
			d := oscdump(t, scheme)
			for _, bundle := range []bool{false, true} {
				if err := Send(d.link, pack(t, all, bundle), 1000, Wall{}); err != nil {
					t.Fatal(err)
				}
				for _, m := range all {
					got, ok := d.next(5 * time.Second)
					if want := dumped(m); !ok || got != want {
						t.Fatalf("bundle %t: oscdump shows %q, want %q", bundle, got, want)
					}
				}
			}
			if err := d.link.Settle(50 * time.Millisecond); err != nil {
				t.Error(err)
			}
			if extra, ok := d.next(100 * time.Millisecond); ok {
				t.Errorf("oscdump also shows %q", extra)
			}
		})
	}
}

// dumped is a message as oscdump prints it.
func dumped(m osc.Message) string {
	line := m.Address
	if len(m.Args) > 0 {
		line += " " + m.Tags()
	}
	for _, a := range m.Args {
		switch t := a.Type(); {
		case t.Kind == osctype.Bool:
			line += " #" + string(t.Tag)
		case t.Kind == osctype.Text:
			line += fmt.Sprintf(" %q", a.Any())
		case t.Whole:
			line += fmt.Sprintf(" %d", a.Any())
		default:
			line += fmt.Sprintf(" %f", a.Any())
		}
	}
	return line
}

// TestOscsend listens to liblo's oscsend, over UDP and over TCP, where it writes lengths.
func TestOscsend(t *testing.T) {
	path := outside(t, "oscsend", "liblo-tools")
	for _, scheme := range []string{"udp", "tcp"} {
		l := listener(t, scheme+"://127.0.0.1:0")
		for _, m := range all {
			args := []string{"osc." + l.Addr().String(), m.Address}
			if len(m.Args) > 0 {
				args = append(args, m.Tags())
			}
			for _, a := range m.Args {
				if a.Type().Kind != osctype.Bool {
					args = append(args, fmt.Sprint(a))
				}
			}
			if out, err := exec.Command(path, args...).CombinedOutput(); err != nil {
				t.Fatalf("oscsend %q: %v %s", args, err, out)
			}
			hears(t, l, m)
		}
	}
}

// slipSender makes liblo send messages over one SLIP connection, which none of its own programs does: an address, and
// one int32 for each message.
const slipSender = `
import ctypes, sys
lo = ctypes.CDLL("liblo.so.7")
lo.lo_address_new_from_url.restype = lo.lo_message_new.restype = ctypes.c_void_p
mixer = ctypes.c_void_p(lo.lo_address_new_from_url(sys.argv[1].encode()))
lo.lo_address_set_stream_slip(mixer, 1)
for value in sys.argv[3:]:
    message = ctypes.c_void_p(lo.lo_message_new())
    lo.lo_message_add_int32(message, ctypes.c_int32(int(value)))
    if lo.lo_send_message(mixer, sys.argv[2].encode(), message) < 0:
        sys.exit("liblo could not send")
lo.lo_address_free(mixer)
`

// TestLibloSendsSLIP listens to liblo's SLIP, in which a packet has an END after it and none before it.
func TestLibloSendsSLIP(t *testing.T) {
	python := outside(t, "python3", "python3")
	if exec.Command(python, "-c", `import ctypes; ctypes.CDLL("liblo.so.7")`).Run() != nil {
		absent(t, "liblo.so.7 is not installed (Debian: liblo7)")
	}
	values := []int32{1, -0x3F3F3F40, -0x3F242340, -0x24233F3F, 0}
	args := []string{"-c", slipSender, "", "/in/3/delay"}
	for _, v := range values {
		args = append(args, fmt.Sprint(v))
	}
	l := listener(t, "slip://127.0.0.1:0")
	args[2] = "osc.tcp://" + l.Addr().HostPort
	ended := make(chan error, 1)
	go func() {
		out, err := exec.Command(python, args...).CombinedOutput()
		if err != nil {
			err = fmt.Errorf("%w: %s", err, out)
		}
		ended <- err
	}()
	for _, v := range values {
		hears(t, l, osc.Message{Address: "/in/3/delay", Args: []osc.Arg{osc.Int32(v)}})
	}
	if err := <-ended; err != nil {
		t.Error(err)
	}
}
