package main

import (
	"bytes"
	"context"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"backfield/layout/visible"
)

// hostileName is what a terminal must not get: an escape sequence that sets its title, one in a single character, a right
// to left override and, at its beginning, a formula.
const hostileName = "=1+Tpt\x1b]0;owned\x07\u009b2J\u202e1"

// hostileShow is the tiny show with a hostile text for each name and title, sent to the mixer at the address given.
func hostileShow(t *testing.T, mixer string) (dir string) {
	t.Helper()
	const inTOML = `=1+Tpt\u001b]0;owned\u0007\u009b2J\u202e1`
	dir = copied(t, "../../examples/tiny")
	for _, name := range []string{"Two Lanterns", "trumpet alone", "the baritone joins", "Tpt 1", "Dusk"} {
		replace(t, filepath.Join(dir, "show.toml"), `"`+name+`"`, `"`+inTOML+`"`)
	}
	for _, file := range []string{"roster.csv", "dots.csv"} {
		replace(t, filepath.Join(dir, file), "Tpt 1", hostileName)
	}
	replace(t, filepath.Join(dir, "roster.csv"), "trumpet", "trum\x1b[31mpet")
	replace(t, filepath.Join(dir, "rig.toml"), `"left"`, `"left\u001b[7m"`)
	replace(t, filepath.Join(dir, "mixer.toml"), "udp://127.0.0.1:9000", mixer)
	replace(t, filepath.Join(dir, "mixer.toml"), "[level]", `[echo]

[query]
address = "{address}"

[store]
address = "/scene/{slot}/store"
args    = ["{name}"]
slots   = 400

[level]`)
	return dir
}

// replyWithEscapes answers every packet with a message whose address and text are hostile, until the test ends.
func replyWithEscapes(t *testing.T) (address string) {
	t.Helper()
	l, err := net.ListenPacket("udp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { l.Close() })
	go func() {
		in := make([]byte, 1<<16)
		for {
			_, from, err := l.ReadFrom(in)
			if err != nil {
				return
			}
			l.WriteTo([]byte("/in/1/\x1b[2J\x00\x00,s\x00\x00\x1b]0;x\x07\x00\x00"), from)
		}
	}()
	return "udp://" + l.LocalAddr().String()
}

// TestNoFalseCalm10 plants escapes, a bidirectional override and a formula in every name of a show, in a journal and in
// the mixer's replies, and runs every command that ends: the terminal gets none of it raw, and no table has a formula.
func TestNoFalseCalm10(t *testing.T) {
	t.Parallel()
	dir := hostileShow(t, replyWithEscapes(t))
	broken := copied(t, dir)
	replace(t, filepath.Join(broken, "roster.csv"), ",2", ",1")
	journal := filepath.Join(t.TempDir(), "\x1b[5mjournal.jsonl")
	lines := `{"at":"2026-11-25T19:20:36Z","kind":"start","title":"\u001b]0;t\u0007","text":"\u202eudp"}
{"at":"2026-11-25T19:20:37Z","kind":"step","command":"go","step":"1","rate":1}
{"at":"2026-11-25T19:20:38Z","kind":"problem","text":"\u001b[2J\u009b2J"}
{"at":"2026-11-25T19:20:39Z","kind":"command","command":"nudge \"\u001b[31m\" +1","step":"\u001b[1m","text":"\u001b[0m"}
{"at":"2026-11-25T19:20:40Z","kind":"end"}
`
	if err := os.WriteFile(journal, []byte(lines), 0o600); err != nil {
		t.Fatal(err)
	}
	out, papers, drawn := t.TempDir(), t.TempDir(), filepath.Join(t.TempDir(), "{cue}.svg")
	for _, args := range [][]string{
		{"check", dir}, {"check", broken}, {"check", broken, "--color", "always"}, {"check", dir, "--json"},
		{"compile", dir, "-o", out}, {"compile", dir, "--json"}, {"compile", broken}, {"diff", dir, broken}, {"diff", dir, dir},
		{"explain", dir, "1", hostileName}, {"explain", dir, "\x1b[31m", "\u202ex"}, {"suggest", dir}, {"tune", dir},
		{"balance", dir}, {"balance", dir, "1"}, {"balance", dir, "\x1b[3m"},
		{"sheet", dir, "--no-pdf", "--csv", "-o", papers}, {"picture", dir, "1", "-o", drawn}, {"picture", dir, "\x1b[3m"},
		{"send", dir, "1", "--dry-run"}, {"send", dir, "1"}, {"send", dir, "\x1b[3m", "--dry-run"},
		{"store", dir, "--dry-run"}, {"ping", dir, "--count", "2", "--timeout", "200ms"}, {"ping", "\x1b[3m"},
		{"report", journal}, {"report", journal, "--show", dir}, {"compare", dir, "--air", "18C,31C"},
		{"check", "\x1b[3m"}, {"\x1b[3m"}, {"check", "--\x1b[3m"}, {"help", "\x1b[3m"}, {"import", dir + "/\x1b[3m"},
	} {
		var stdout, stderr bytes.Buffer
		ctx, stop := context.WithTimeout(context.Background(), 20*time.Second)
		code := execute(ctx, args, &stdout, &stderr)
		stop()
		said := stdout.String() + stderr.String()
		if args[0] == "check" && len(args) == 4 && args[2] == "--color" { // its own colors
			for _, color := range []string{"\x1b[1;31m", "\x1b[1;33m", "\x1b[0m"} {
				said = strings.ReplaceAll(said, color, "")
			}
		}
		if said != visible.Line(said) {
			t.Errorf("%q (exit code %d) printed raw: %q", args, code, said)
		}
	}
	cmd := exec.Command("backfield", "run", dir, "--text", "--journal", filepath.Join(t.TempDir(), "j"))
	cmd.Stdin = strings.NewReader("go\nstatus\ngo \x1b[3m\nnudge \"\x1b[3m\" +1\nquit\n")
	said, err := cmd.CombinedOutput()
	if err != nil || string(said) != visible.Line(string(said)) || !strings.Contains(string(said), "u202e") {
		t.Errorf("run: %v: %q", err, said)
	}
	checkTables(t, out, papers)
}

// checkTables looks for raw escapes and formulas in all tables of some folders.
func checkTables(t *testing.T, dirs ...string) {
	t.Helper()
	count := 0
	for _, dir := range dirs {
		files, _ := filepath.Glob(filepath.Join(dir, "*.csv"))
		for _, file := range files {
			text, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			count++
			if string(text) != visible.Line(string(text)) {
				t.Errorf("%s has raw escapes", file)
			}
			for _, cell := range strings.FieldsFunc(string(text), func(r rune) bool { return r == ',' || r == '\n' || r == '"' }) {
				if strings.HasPrefix(cell, "=") {
					t.Errorf("%s has the formula %q", filepath.Base(file), cell)
				}
			}
		}
	}
	if count < 2 {
		t.Errorf("%d tables", count)
	}
}
