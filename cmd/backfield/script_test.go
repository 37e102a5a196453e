package main

import (
	"bytes"
	"context"
	"errors"
	"flag"
	"fmt"
	"io/fs"
	"math"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"

	"backfield/cmd/backfield/browser"
	"backfield/cmd/backfield/paper"
	"backfield/cmd/backfield/show"
	"backfield/cmd/backfield/verb"
	"backfield/layout/source"
	"backfield/osc/waiting"
)

var update = flag.Bool("update", false, "rewrite the golden texts")

func TestMain(m *testing.M) { testscript.Main(tests{m}, map[string]func(){"backfield": main}) }

// tests are all tests of the package, and the end of the browser that they share.
type tests struct{ m *testing.M }

func (x tests) Run() int {
	defer browser.End()
	return waiting.Run(x.m)
}

// TestScripts runs testdata/script/*.txtar on the real command. Each finds the small show of testdata/script/show
// by the command "show", the examples in the folder $EXAMPLES, and has these in addition to testscript's own:
//
//	show DIR            copy the small show to DIR
//	example NAME DIR    copy examples/NAME to DIR
//	sub FILE OLD NEW    replace OLD by NEW everywhere; OLD must be there; \n, \t and \r are escapes
//	code N ARG...       run backfield, which must end with exit code N and without a panic
//	await FILE PATTERN  wait until the file holds the pattern, for two minutes at most
//	holds DIR NAME...   the folder holds these and nothing else, hidden files included
//	truncate FILE SIZE  make a file of that many zero bytes
//	raw FILE TEXT       write bytes that no text archive holds; escapes as in a Go string
//	windows FILE...     give the files a byte order mark and Windows line ends
//	sets N, cues N      write a show of N sets, or of N cues, into the folder "large"
func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir: "../../testdata/script",
		Setup: func(e *testscript.Env) error {
			small, err := filepath.Abs("../../testdata/script/show")
			if err != nil {
				return err
			}
			e.Values["show"] = small
			e.Setenv("EXAMPLES", filepath.Join(small, "..", "..", "..", "examples"))
			e.Setenv("LOUD", filepath.Join(small, "..", "..", "loud"))
			e.Setenv("GORACE", "halt_on_error=1 atexit_sleep_ms=0") // or each command of a -race run sleeps a second
			pages := regexp.MustCompile(`\w+\.html`).FindAllString(paper.Help(), -1)
			e.Setenv("PAGES", strings.Join(pages, " "))
			port, err := closedPort()
			e.Setenv("CLOSED", "127.0.0.1:"+strconv.Itoa(port))
			return err
		},
		Condition: func(name string) (bool, error) {
			if name == "root" {
				return os.Geteuid() == 0, nil
			}
			return false, fmt.Errorf("no condition %q", name)
		},
		Cmds: map[string]func(ts *testscript.TestScript, neg bool, args []string){
			"show": func(ts *testscript.TestScript, neg bool, args []string) {
				ts.Check(os.CopyFS(ts.MkAbs(args[0]), os.DirFS(ts.Value("show").(string))))
			},
			"example": func(ts *testscript.TestScript, neg bool, args []string) {
				ts.Check(os.CopyFS(ts.MkAbs(args[1]),
					os.DirFS(filepath.Join(ts.Value("show").(string), "../../../examples", args[0]))))
			},
			"sub":   substitute,
			"code":  exitCode,
			"await": await,
			"holds": holds,
			"truncate": func(ts *testscript.TestScript, neg bool, args []string) {
				size, err := strconv.ParseInt(args[1], 10, 64)
				ts.Check(err)
				ts.Check(os.WriteFile(ts.MkAbs(args[0]), nil, 0o644))
				ts.Check(os.Truncate(ts.MkAbs(args[0]), size))
			},
			"raw": func(ts *testscript.TestScript, neg bool, args []string) {
				text, err := strconv.Unquote(`"` + args[1] + `"`)
				ts.Check(err)
				ts.Check(os.WriteFile(ts.MkAbs(args[0]), []byte(text), 0o644))
			},
			"windows": func(ts *testscript.TestScript, neg bool, args []string) {
				for _, file := range args {
					text := "\ufeff" + strings.ReplaceAll(ts.ReadFile(file), "\n", "\r\n")
					ts.Check(os.WriteFile(ts.MkAbs(file), []byte(text), 0o644))
				}
			},
			"sets": func(ts *testscript.TestScript, neg bool, args []string) { large(ts, args[0], "1") },
			"cues": func(ts *testscript.TestScript, neg bool, args []string) { large(ts, "1", args[0]) },
		},
		UpdateScripts:       *update,
		RequireExplicitExec: true,
	})
}

// closedPort is a UDP port of the loopback that nothing listens at.
func closedPort() (int, error) {
	c, err := net.ListenUDP("udp4", &net.UDPAddr{IP: net.IPv4(127, 0, 0, 1)})
	if err != nil {
		return 0, err
	}
	return c.LocalAddr().(*net.UDPAddr).Port, c.Close()
}

func substitute(ts *testscript.TestScript, neg bool, args []string) {
	if len(args) != 3 {
		ts.Fatalf("usage: sub FILE OLD NEW")
	}
	escapes := strings.NewReplacer(`\n`, "\n", `\t`, "\t", `\r`, "\r")
	before := ts.ReadFile(args[0])
	after := strings.ReplaceAll(before, escapes.Replace(args[1]), escapes.Replace(args[2]))
	if after == before {
		ts.Fatalf("%s does not hold %q", args[0], args[1])
	}
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), []byte(after), 0o644))
}

// slowest is how long one command may take before it is taken to hang.
const slowest = 5 * time.Minute

func exitCode(ts *testscript.TestScript, neg bool, args []string) {
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	began := time.Now()
	err = ts.Exec("backfield", args[1:]...)
	got := 0
	var exit *exec.ExitError
	if errors.As(err, &exit) {
		got = exit.ExitCode()
	} else if err != nil {
		ts.Fatalf("%v", err)
	}
	if took := time.Since(began); took > slowest {
		ts.Fatalf("took %v", took)
	}
	for _, stream := range []string{"stdout", "stderr"} {
		if text := ts.ReadFile(stream); strings.Contains(text, "goroutine ") || strings.Contains(text, "panic") {
			ts.Fatalf("it panicked")
		}
	}
	if got != want {
		ts.Fatalf("exit code %d, want %d", got, want)
	}
}

func await(ts *testscript.TestScript, neg bool, args []string) {
	pattern, err := regexp.Compile("(?m)" + args[1])
	ts.Check(err)
	var text []byte
	for deadline := time.Now().Add(2 * time.Minute); time.Now().Before(deadline); time.Sleep(10 * time.Millisecond) {
		text, _ = os.ReadFile(ts.MkAbs(args[0]))
		if pattern.Match(text) {
			return
		}
	}
	ts.Fatalf("%s has no %q after two minutes, but:\n%s", args[0], args[1], text)
}

func holds(ts *testscript.TestScript, neg bool, args []string) {
	entries, err := os.ReadDir(ts.MkAbs(args[0]))
	ts.Check(err)
	var names []string
	for _, e := range entries {
		names = append(names, e.Name())
	}
	// one may be a list, such as $PAGES
	want := slices.Sorted(slices.Values(strings.Fields(strings.Join(args[1:], " "))))
	if !slices.Equal(names, want) {
		ts.Fatalf("%s holds %q, want %q", args[0], names, want)
	}
}

// large writes a show with that many sets and cues: two players who walk to and fro.
func large(ts *testscript.TestScript, sets, cues string) {
	n, err := strconv.Atoi(sets)
	ts.Check(err)
	m, err := strconv.Atoi(cues)
	ts.Check(err)
	dir := ts.MkAbs("large")
	ts.Check(os.CopyFS(dir, os.DirFS(ts.Value("show").(string))))
	var score, list, dots strings.Builder
	fmt.Fprintf(&score, "drill = { sets = \"sets.csv\", dots = \"dots.csv\" }\nroster = \"roster.csv\"\nrig = "+
		"\"rig.toml\"\nmixer = \"mixer.toml\"\n[[movement]]\ntempo = 120\n")
	if n == 1 {
		fmt.Fprintf(&score, "counts = %d\n", 8*m)
	}
	for i := range m {
		fmt.Fprintf(&score, "[[cue]]\nid = \"%d\"\nat = \"1:%d\"\nopen.feature = [\"Horn %d\"]\n", i+1, 8*i+1, 1+i%2)
	}
	list.WriteString("set,movement,counts\n")
	dots.WriteString("set,player,lateral,depth\n")
	for i := range n {
		if n > 1 || i > 0 {
			fmt.Fprintf(&list, "%d,1,%d\n", i+1, min(8*i, 8))
		}
		for player := range 2 {
			fmt.Fprintf(&dots, "%d,Horn %d,S%d on %d,on front hash\n", i+1, player+1, player+1, 45-5*(i%2))
		}
	}
	if n == 1 {
		fmt.Fprintf(&list, "1,1,0\n2,1,%d\n", 8*m)
		fmt.Fprintf(&dots, "2,Horn 1,S1 on 40,on front hash\n2,Horn 2,S2 on 40,on front hash\n")
	}
	for name, text := range map[string]string{"show.toml": score.String(), "sets.csv": list.String(),
		"dots.csv":   dots.String(),
		"roster.csv": "player,section,pack,channel\nHorn 1,horn,P1,1\nHorn 2,horn,P2,2\n"} {
		ts.Check(os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644))
	}
}

// TestThirtyMistakes holds check to its promise: a show with over thirty mistakes, each of another kind, gets
// them all reported in one run, in the order of the files, each with its line and a caret under the place.
func TestThirtyMistakes(t *testing.T) {
	t.Chdir("../../testdata/bad/thirty")
	stdout, stderr, code := ran("check", ".")
	if code != verb.ExitProblems {
		t.Errorf("exit code %d", code)
	}
	if *update {
		if err := os.WriteFile("expected.txt", []byte(stdout), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile("expected.txt")
	if err != nil {
		t.Fatal(err)
	}
	if stdout != string(want) {
		t.Errorf("check says otherwise than expected.txt:\n%s", stdout)
	}

	var p source.Problems
	if _, err := show.Load(show.Disk{}, "show.toml", show.LoadOptions{}, &p); err != nil {
		t.Fatal(err)
	}
	codes, files := map[string]bool{}, map[string]bool{}
	last := source.Span{}
	for _, x := range p.All() {
		if x.Span.File == nil {
			t.Errorf("%s has no place", x.Code)
			continue
		}
		if x.Severity == source.Error {
			codes[x.Code] = true
		}
		files[x.Span.File.Name] = true
		if last.File != nil && (x.Span.File.Order < last.File.Order || x.Span.File == last.File &&
			x.Span.Start < last.Start) {
			t.Errorf("%s: %s is reported after %s", x.Code, x.Span.Where(), last.Where())
		}
		last = x.Span
		line, column := x.Span.Position()
		head := fmt.Sprintf("%s:%d:%d: %s: ", x.Span.File.Name, line, column, x.Severity)
		text := strings.Split(x.Span.File.Text, "\n")[line-1]
		caret := "\n      | " + strings.Repeat(" ", column-1) + "^"
		i := strings.Index(stdout, head+x.What)
		if i < 0 {
			t.Errorf("no line %q", head+x.What)
			continue
		}
		shown := strings.SplitN(stdout[i:], "\n", 4)
		if !strings.HasSuffix(shown[0], "["+x.Code+"]") || !strings.HasSuffix(shown[1], "| "+text) ||
			!strings.HasPrefix("\n"+shown[2], caret) {
			t.Errorf("%s is reported as\n%s", x.Code, strings.Join(shown[:3], "\n"))
		}
	}
	if len(codes) < 30 || len(files) < 6 {
		t.Errorf("%d kinds of error in %d files", len(codes), len(files))
	}
	if !strings.Contains(stderr, "show.toml: "+strconv.Itoa(p.Errors())+" errors") {
		t.Errorf("stderr: %s", stderr)
	}

	// Nothing is written for such a show.
	copied := filepath.Join(t.TempDir(), "show")
	if err := os.CopyFS(copied, os.DirFS(".")); err != nil {
		t.Fatal(err)
	}
	before := listing(t, copied)
	for _, args := range [][]string{{"compile", copied}, {"compile", "--json", copied},
		{"compile", "-o", filepath.Join(copied, "a", "b"), copied}, {"send", copied, "1"}} {
		stdout, stderr, code := ran(args...)
		if code != verb.ExitProblems || stdout != "" || strings.Count(stderr, " error: ") != p.Errors() {
			t.Errorf("%s: code %d\n%s%s", args[0], code, stdout, stderr)
		}
	}
	if after := listing(t, copied); after != before {
		t.Errorf("the folder was\n%sand is\n%s", before, after)
	}
}

// ran runs the command within the test.
func ran(args ...string) (stdout, stderr string, code int) {
	var out, talk bytes.Buffer
	code = execute(context.Background(), args, &out, &talk)
	return out.String(), talk.String(), code
}

// listing is every file below a folder with its size and time.
func listing(t *testing.T, dir string) string {
	t.Helper()
	var b strings.Builder
	err := filepath.Walk(dir, func(path string, info os.FileInfo, err error) error {
		if err == nil {
			fmt.Fprintln(&b, path, info.Size(), info.ModTime())
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// memory is a folder of files that a test makes up.
type memory map[string]string

func (m memory) Read(path string) ([]byte, error) {
	text, ok := m[path]
	if !ok {
		return nil, fs.ErrNotExist
	}
	return []byte(text), nil
}

// TestBrokenAnywhere takes every line out of each file of the small show, and at every fourth byte cuts the file off or
// puts a stray character there. Nothing may panic, a show comes out exactly when there is no error, and one mistake is
// never reported as a flood of others.
func TestBrokenAnywhere(t *testing.T) {
	t.Parallel()
	whole := memory{}
	for _, name := range []string{"show.toml", "sets.csv", "dots.csv", "roster.csv", "rig.toml", "mixer.toml"} {
		text, err := os.ReadFile("../../testdata/script/show/" + name)
		if err != nil {
			t.Fatal(err)
		}
		whole[name] = string(text)
	}
	const every = 4
	const flood = 40 // without its roster or its sets nearly every line of a show is wrong
	try := func(name, text, how string, most int) {
		broken := memory{}
		for n, t := range whole {
			broken[n] = t
		}
		broken[name] = text
		defer func() {
			if x := recover(); x != nil {
				t.Fatalf("%s %s: %v", name, how, x)
			}
		}()
		var p source.Problems
		s, err := show.Load(broken, "show.toml", show.LoadOptions{}, &p)
		if err != nil {
			return // the score is no text any more
		}
		if (s.Result.Show == nil) != (p.Errors() > 0) {
			t.Errorf("%s %s: %d errors, and a show: %v", name, how, p.Errors(), s.Result.Show != nil)
		}
		if n := len(p.All()); n > most {
			var b strings.Builder
			source.Print(&b, p.All())
			t.Errorf("%s %s: %d problems\n%s", name, how, n, b.String())
		}
	}
	for name, text := range whole {
		for i := 0; i < len(text); i += every {
			try(name, text[:i], fmt.Sprintf("cut off at byte %d", i), math.MaxInt)
			try(name, text[:i]+"]"+text[i+1:], fmt.Sprintf("with a stray ] at byte %d", i), flood)
			try(name, text[:i]+"9"+text[i+1:], fmt.Sprintf("with a stray 9 at byte %d", i), flood)
			try(name, text[:i]+"\""+text[i:], fmt.Sprintf("with a stray quote at byte %d", i), flood)
		}
		lines := strings.SplitAfter(text, "\n")
		for i := range lines {
			try(name, strings.Join(slices.Delete(slices.Clone(lines), i, i+1), ""), fmt.Sprintf("without line %d", i+1),
				flood)
		}
	}
}
