package attack

import (
	"bytes"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"backfield/osc/journal"
)

// The real command gets signals at any moment of a run: hang-ups, then the one that ends it, once or several times. It
// must end by itself, soon, and its journal must be whole, with an end.
func TestSignals(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("another process cannot be sent these signals on Windows")
	}
	if testing.Short() {
		t.Skip("it builds the command first")
	}
	program := filepath.Join(t.TempDir(), "backfield")
	if out, err := exec.Command("go", "build", "-o", program, "../../cmd/backfield").CombinedOutput(); err != nil {
		t.Fatalf("cannot build the command: %v\n%s", err, out)
	}
	dir := t.TempDir()
	seeds(t, 3, func(seed uint64) error {
		return signaled(program, filepath.Join(dir, fmt.Sprintf("%d.jsonl", seed)), rand.New(rand.NewPCG(seed, 7)))
	})
}

// signaled plays one run.
func signaled(program, path string, random *rand.Rand) error {
	defer os.Remove(path)
	cmd := exec.Command(program, "run", "../../testdata/script/show", "--rehearse", "--text", "--journal", path)
	var said said
	cmd.Stdout, cmd.Stderr = &said, &said
	in, err := cmd.StdinPipe()
	if err != nil {
		return err
	}
	if err := cmd.Start(); err != nil {
		return err
	}
	ended := make(chan error, 1)
	go func() { ended <- cmd.Wait() }()
	defer cmd.Process.Kill()
	for began := time.Now(); !strings.Contains(said.String(), "journal:"); time.Sleep(5 * time.Millisecond) {
		if time.Since(began) > 20*time.Second {
			return fmt.Errorf("it does not begin:\n%s", said.String())
		}
	}
	for range random.IntN(12) {
		line := []string{"go", "back", "hush", "unhush", "start", "jump 2", `nudge "Horn 1" +1`, "status"}[random.IntN(8)]
		io.WriteString(in, line+"\n")
		time.Sleep(time.Duration(random.IntN(60)) * time.Millisecond)
		if random.IntN(6) == 0 {
			cmd.Process.Signal(syscall.SIGHUP)
		}
	}
	select {
	case err := <-ended:
		return fmt.Errorf("a hang-up ended it: %v\n%s", err, said.String())
	default:
	}
	for range 1 + random.IntN(3) {
		cmd.Process.Signal([]os.Signal{os.Interrupt, syscall.SIGTERM, syscall.SIGHUP, syscall.SIGQUIT}[random.IntN(4)])
		time.Sleep(time.Duration(random.IntN(20)) * time.Millisecond)
	}
	cmd.Process.Signal(syscall.SIGTERM)
	select {
	case <-ended:
	case <-time.After(15 * time.Second):
		return fmt.Errorf("it has not ended 15 s after the signal:\n%s", said.String())
	}
	if text := said.String(); strings.Contains(text, "panic") || strings.Contains(text, "goroutine ") {
		return fmt.Errorf("it panicked:\n%s", text)
	}
	text, err := os.ReadFile(path)
	if err != nil {
		return err
	}
	entries, skipped, err := journal.Read(bytes.NewReader(text))
	if err != nil || len(skipped) > 0 || len(entries) == 0 || entries[len(entries)-1].Kind != "end" {
		return fmt.Errorf("the journal has %d entries, skipped %v, %w, and ends with\n%s", len(entries), skipped, err,
			text[max(0, len(text)-300):])
	}
	return nil
}

// said is what a command says, read while it runs.
type said struct {
	mu   sync.Mutex
	text bytes.Buffer
}

func (s *said) Write(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.text.Write(p)
}

func (s *said) String() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.text.String()
}
