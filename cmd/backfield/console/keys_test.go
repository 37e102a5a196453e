package console

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	tea "charm.land/bubbletea/v2"

	"backfield/osc/run"
	"backfield/osc/waiting"
)

func TestMain(m *testing.M) { os.Exit(waiting.Run(m)) }

// play plays a list of presses: "500" (two digits at least) waits that many milliseconds, "paste:x" pastes, "~k" is a
// repeat that the terminal reports, "^k" a release, anything else a key. The timeout is checked every 10 ms.
func play(v run.View, presses string) (given []string, h *keyReader) {
	h = &keyReader{}
	now := time.Unix(1_700_000_000, 0)
	give := func(list []run.Command) {
		for _, c := range list {
			given = append(given, c.String())
		}
	}
	for _, p := range strings.Fields(presses) {
		if ms, err := strconv.Atoi(p); err == nil && len(p) > 1 {
			for end := now.Add(time.Duration(ms) * time.Millisecond); now.Before(end); {
				now = now.Add(10 * time.Millisecond)
				give(h.timeout(now))
			}
			continue
		}
		switch rest := p[1:]; {
		case strings.HasPrefix(p, "paste:"):
			h.paste(strings.NewReplacer("_", " ", "|", "\n").Replace(p[len("paste:"):]), now)
		case p[0] == '~' && rest != "":
			give(h.press(key{rest, rest, true}, v, now))
		case p[0] == '^' && rest != "":
			h.release(rest)
		case p == "space":
			give(h.press(key{"space", " ", false}, v, now))
		case len(p) == 1:
			give(h.press(key{p, p, false}, v, now))
		default:
			give(h.press(key{p, "", false}, v, now))
		}
	}
	return given, h
}

func TestKeys(t *testing.T) {
	held := func(k string, firstMS, everyMS, n int) string {
		return fmt.Sprintf("%s %d %s", k, firstMS, strings.Repeat(fmt.Sprintf("%s %d ", k, everyMS), n))
	}
	stopped, running, hushed := run.View{}, run.View{Running: true}, run.View{Running: true, Hush: true}
	for name, x := range map[string]struct {
		v       run.View
		presses string
		want    string
		said    string
	}{
		"go":                             {running, "space", "go", ""},
		"go and go":                      {running, "space 1100 space", "go, go", ""},
		"space bounces":                  {running, "space 80 space", "go", "GO ignored"},
		"a burst of space":               {running, strings.Repeat("space ", 200), "go", "GO ignored"},
		"space held, fast":               {running, held("space", 250, 30, 300), "go", "GO ignored"},
		"space held, slow":               {running, held("space", 660, 90, 100), "go", "GO ignored"},
		"space held, reported":           {running, "space 500 ~space 30 ~space 30 ~space", "go", "held"},
		"space let go and pressed":       {running, "space 100 ^space 400 space", "go, go", ""},
		"another key between spaces":     {running, "space 100 x 100 space", "go, go", ""}, // the engine has its guard
		"back once":                      {running, "b 3000", "", ""},
		"back":                           {running, "b 400 b 200", "back", ""},
		"back with caps":                 {running, "B 400 B 200", "back", ""},
		"back too late":                  {running, "b 2100 b 500", "", ""},
		"back held, fast":                {running, held("b", 250, 30, 300), "", "held"},
		"back held, slow":                {running, held("b", 660, 90, 100), "", "held"},
		"back in a burst":                {running, strings.Repeat("b ", 50) + "500", "", "too fast"},
		"back, other key between":        {running, "b 100 x 100 b 3000", "", ""},
		"back, space between":            {running, "b 300 space 300 b 3000", "go", ""},
		"back, hush between":             {running, "b 300 h 300 b 3000", "", ""},
		"back twice":                     {running, "b 300 b 300 b 300 b 300", "back, back", ""},
		"hush":                           {running, "h 300 h", "hush", ""},
		"hush, hammered":                 {running, "h 90 h", "hush", ""},
		"hush held does not unhush":      {hushed, held("h", 500, 33, 300), "", "held"},
		"unhush":                         {hushed, "h 300 h 200", "unhush", ""},
		"hush while one is open alone":   {run.View{Hush: true, Only: "A (channel 1)"}, "h 300 h 200", "hush", ""},
		"hush once":                      {running, "h 2500", "", ""},
		"start":                          {stopped, "s 300 s", "start", ""},
		"stop":                           {running, "s 300 s 200", "stop", ""},
		"stop held":                      {running, held("s", 500, 33, 100), "", "held"},
		"quit":                           {running, "q 300 q 200", "quit", ""},
		"takeover":                       {standbyView(), "t 300 t 200", "takeover", ""},
		"takeover held":                  {standbyView(), held("t", 500, 33, 100), "", "held"},
		"takeover on one laptop":         {running, "t 300 t 2500", "", ""},
		"quit held":                      {running, held("q", 500, 33, 100), "", "held"},
		"quit by ctrl+c":                 {running, "ctrl+c 300 ctrl+c 200", "quit", ""},
		"q and ctrl+c are no pair":       {running, "q 300 ctrl+c 1900", "", ""},
		"enter is not go":                {running, "enter", "", "does nothing"},
		"a pasted go":                    {running, "paste:____", "", "pasted text ignored"},
		"a command":                      {running, ": h o l d space T p t space 3 enter", `hold "Tpt 3"`, ""},
		"a command by slash":             {running, "/ j u m p space 1 2 A enter", "jump 12A", ""},
		"a command pasted":               {running, ": paste:jump_2:33 enter", "jump 2:33", ""},
		"two lines pasted":               {running, ": paste:go|go enter esc", "", "no command"},
		"fixed":                          {running, ": j x backspace u m p space 3 enter", "jump 3", ""},
		"wrong":                          {running, ": x y enter", "", "no command"},
		"canceled":                       {running, ": g o esc 100 space", "go", ""},
		"space in an empty command line": {running, ": space 100 space", "", "Esc cancels it"},
		"keys are letters in a command":  {running, ": q q h h b b enter", "", "no command"},
		"cleared":                        {running, ": q q ctrl+u b a c k enter", "back", ""},
		"the last line again":            {running, ": j u m p space 3 enter : up enter", "jump 3, jump 3", ""},
		"go after a refused command":     {running, ": b a d enter space", "go", "no command"},
		"hush after a refused command":   {running, ": b a d enter h 300 h", "hush", "no command"},
		"a new line after a refused one": {running, ": b a d enter : j u m p space 3 enter", "jump 3", "no command"},
		"a refused line, fixed":          {running, ": j x enter : up backspace u m p space 3 enter", "jump 3", "no command"},
		"Esc and : in one read":          {running, "alt+: j u m p space 6 enter", "jump 6", ""},
		"Esc and space in one read":      {running, ": j u alt+space", "go", ""},
		"Esc and H in one read, h":       {running, ": j u alt+shift+h 300 h", "hush", ""},
		"no letters left":                {running, ": backspace backspace enter", "", "no command"},
	} {
		given, h := play(x.v, x.presses)
		if got := strings.Join(given, ", "); got != x.want {
			t.Errorf("%s: %s: gave %q, want %q", name, x.presses, got, x.want)
		}
		if x.said != "" && (!strings.Contains(h.said, x.said) || !h.wrong) {
			t.Errorf("%s: said %q, want something with %q", name, h.said, x.said)
		}
	}
}

func TestHelpOpensAndCloses(t *testing.T) {
	for presses, open := range map[string]bool{"?": true, "? ?": false, "? esc": false, "? space": false, "? b": true} {
		if _, h := play(run.View{}, presses); (h.sheet != nil) != open {
			t.Errorf("%s: help is open: %v", presses, h.sheet != nil)
		}
	}
	for _, v := range []run.Verb{run.Back, run.Hush, run.Unhush, run.Start, run.Stop, run.Quit} {
		if pressMeaning[v] == "" {
			t.Errorf("nothing says what a second press does for %s", v)
		}
	}
}

// fakeRun is a run that records its commands.
type fakeRun struct {
	mu    sync.Mutex
	given []string
	ended bool
	slow  chan struct{} // Do waits for it, if there is one
}

func (f *fakeRun) Do(c run.Command) (string, error) {
	if f.slow != nil {
		<-f.slow
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	f.given = append(f.given, c.String())
	if c.Verb == run.Back {
		return "", errors.New("this is the beginning")
	}
	return "well done", nil
}

func (f *fakeRun) View() (run.View, bool) {
	f.mu.Lock()
	defer f.mu.Unlock()
	return showView(), !f.ended
}

func (f *fakeRun) list() []string {
	f.mu.Lock()
	defer f.mu.Unlock()
	return slices.Clone(f.given)
}

// screenOf starts the screen over pipes, with a Space that is typed too early, and waits until it takes keys. The
// channel gets its error.
func screenOf(t *testing.T, ctx context.Context, f *fakeRun) (keys io.Writer, done chan error) {
	t.Helper()
	r, w := io.Pipe()
	t.Cleanup(func() { w.Close() })
	out := &lockedText{}
	done = make(chan error, 1)
	go func() { done <- show(ctx, f, nil, r, out, tea.WithWindowSize(80, 24)) }()
	io.WriteString(w, " ")
	wait(t, "a picture", func() bool {
		out.mu.Lock()
		defer out.mu.Unlock()
		return strings.Contains(out.text.String(), "not up yet")
	})
	time.Sleep(2 * ignoreKeysFor)
	return w, done
}

type lockedText struct {
	mu   sync.Mutex
	text strings.Builder
}

func (l *lockedText) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.text.Write(p)
}

func wait(t *testing.T, what string, yes func() bool) {
	t.Helper()
	for end := time.Now().Add(10 * time.Second); !yes(); time.Sleep(5 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("%s: not in 10 s", what)
		}
	}
}

func ends(t *testing.T, done chan error) {
	t.Helper()
	select {
	case err := <-done:
		if err != nil {
			t.Error(err)
		}
	case <-time.After(10 * time.Second):
		t.Fatal("the screen did not end in 10 s")
	}
}

// The whole screen, from bytes on: a burst of Space as a terminal sends it is one go, a paste is none, a typed command
// is carried out, and q q quits.
func TestRun(t *testing.T) {
	t.Parallel()
	f := &fakeRun{}
	keys, done := screenOf(t, context.Background(), f)
	io.WriteString(keys, strings.Repeat(" ", 40))
	wait(t, "go", func() bool { return len(f.list()) == 1 })
	io.WriteString(keys, "\x1b[200~   \x1b[201~")
	io.WriteString(keys, ":jump 12A\r")
	wait(t, "jump", func() bool { return len(f.list()) == 2 })
	io.WriteString(keys, "q")
	time.Sleep(2 * heldKeyGap)
	io.WriteString(keys, "q")
	ends(t, done)
	if got := strings.Join(f.list(), ", "); got != "go, jump 12A, quit" {
		t.Errorf("the run got %s", got)
	}
}

func TestRunEnds(t *testing.T) {
	t.Parallel()
	ctx, cancel := context.WithCancel(context.Background())
	_, done := screenOf(t, ctx, &fakeRun{})
	time.Sleep(50 * time.Millisecond)
	cancel()
	ends(t, done)

	f := &fakeRun{}
	_, done = screenOf(t, context.Background(), f)
	time.Sleep(50 * time.Millisecond)
	f.mu.Lock()
	f.ended = true
	f.mu.Unlock()
	ends(t, done)
}

// A run that does not answer holds up no key: a go that would come late is refused, and q q still quits.
func TestRunStuck(t *testing.T) {
	t.Parallel()
	f := &fakeRun{slow: make(chan struct{})}
	defer close(f.slow)
	keys, done := screenOf(t, context.Background(), f)
	io.WriteString(keys, " ")
	time.Sleep(50 * time.Millisecond)
	io.WriteString(keys, "q")
	time.Sleep(2 * heldKeyGap)
	io.WriteString(keys, "q")
	ends(t, done)
}

func TestLateGo(t *testing.T) {
	m := &model{stage: &fakeRun{}, now: time.Now, queue: []run.Command{{Verb: run.Start}}}
	m.give([]run.Command{{Verb: run.Go}})
	if len(m.queue) != 1 || !m.keys.wrong || !strings.Contains(m.keys.said, "start is still running") {
		t.Errorf("%d in the queue; said %q", len(m.queue), m.keys.said)
	}
	if m.give([]run.Command{{Verb: run.Hush}}); len(m.queue) != 2 {
		t.Error("hush was not kept")
	}
}

func TestAnswers(t *testing.T) {
	m := &model{stage: &fakeRun{}, now: time.Now}
	for _, x := range []struct {
		a     saidMsg
		said  string
		wrong bool
		sheet int
	}{
		{saidMsg{run.Command{Verb: run.Go}, "cue 3", nil}, "cue 3", false, 0},
		{saidMsg{run.Command{Verb: run.Start}, "", nil}, "start: done", false, 0},
		{saidMsg{run.Command{Verb: run.Back}, "", errors.New("no")}, "back: no", true, 0},
		{saidMsg{run.Command{Verb: run.Status}, "a\nb", nil}, "", false, 2},
	} {
		m.keys = keyReader{}
		m.queue = []run.Command{x.a.c}
		if m.Update(x.a); m.keys.said != x.said || m.keys.wrong != x.wrong || len(m.keys.sheet) != x.sheet {
			t.Errorf("%+v: said %q, %v, %q", x.a, m.keys.said, m.keys.wrong, m.keys.sheet)
		}
	}
	var _ tea.Model = m
}

// fakePage records what it is asked, and has news once.
type fakePage struct {
	mu    sync.Mutex
	asked []string
	news  string
}

func (d *fakePage) Command(rest string) (Overlay, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.asked = append(d.asked, rest)
	if rest == "old" {
		return Overlay{}, errors.New("no such thing")
	}
	return Overlay{Lines: []string{"the link"}, Code: []string{"▀▄"}}, nil
}

func (d *fakePage) News() string {
	d.mu.Lock()
	defer d.mu.Unlock()
	defer func() { d.news = "" }()
	return d.news
}

// The word page goes to the page if there is one, not to the run. Its overlay goes away with Esc and with go.
func TestPageCommand(t *testing.T) {
	d := &fakePage{}
	h := &keyReader{page: d.Command}
	now := time.Unix(1_700_000_000, 0)
	enter := func(line string) []run.Command {
		h.press(key{":", ":", false}, run.View{}, now)
		for _, r := range line {
			h.press(key{string(r), string(r), false}, run.View{}, now)
		}
		return h.press(key{"enter", "", false}, run.View{}, now)
	}
	if given := enter("page"); len(given) > 0 || h.typing || len(h.sheet) != 1 || len(h.code) != 1 {
		t.Errorf("page gives %v, shows %q", given, h.sheet)
	}
	h.press(key{"esc", "", false}, run.View{}, now)
	if h.sheet != nil || h.code != nil {
		t.Errorf("Esc leaves %q %q", h.sheet, h.code)
	}
	enter(" Page  NEW ")
	if given := h.press(key{"space", " ", false}, run.View{}, now); len(given) != 1 || h.code != nil {
		t.Errorf("go gives %v over %q", given, h.code)
	}
	if enter("page old"); h.typing || !h.wrong || h.said != "no such thing" {
		t.Errorf("a page that refuses: typing %v, said %q", h.typing, h.said)
	}
	if got := strings.Join(d.asked, "|"); got != "|NEW|old" {
		t.Errorf("asked %q", got)
	}
	h = &keyReader{}
	if enter("page"); !h.wrong || !strings.Contains(h.said, "no command") {
		t.Errorf("without a page: %q", h.said)
	}
}

// The screen starts with the page's link, and shows its news.
func TestRunWithPage(t *testing.T) {
	t.Parallel()
	d := &fakePage{news: "page 1 is in"}
	r, w := io.Pipe()
	defer w.Close()
	out := &lockedText{}
	done := make(chan error, 1)
	go func() { done <- show(context.Background(), &fakeRun{}, d, r, out, tea.WithWindowSize(80, 24)) }()
	for _, want := range []string{"the link", "page 1 is in"} {
		wait(t, want, func() bool {
			out.mu.Lock()
			defer out.mu.Unlock()
			return strings.Contains(out.text.String(), want)
		})
	}
	time.Sleep(2 * ignoreKeysFor)
	io.WriteString(w, "q")
	time.Sleep(2 * heldKeyGap)
	io.WriteString(w, "q")
	ends(t, done)
}

// A slow line brings Esc and what follows in one read: the space of the command is no go.
func TestEscInOneRead(t *testing.T) {
	t.Parallel()
	f := &fakeRun{}
	w, done := screenOf(t, t.Context(), f)
	io.WriteString(w, "\x1b:")
	io.WriteString(w, "jump 6\r")
	wait(t, "a command", func() bool { return len(f.list()) > 0 })
	io.WriteString(w, "q")
	time.Sleep(2 * heldKeyGap)
	io.WriteString(w, "q")
	ends(t, done)
	if got := strings.Join(f.list(), ", "); got != "jump 6, quit" {
		t.Errorf("gave %q", got)
	}
}

// What the last answer said ends with the next command that another machine or a page gives; a refusal stays.
func TestOthersEndTheMessage(t *testing.T) {
	t.Parallel()
	now := time.Now()
	m := &model{now: func() time.Time { return now }}
	v := showView()
	m.see(viewMsg{v, true}, now)
	for _, x := range []struct {
		err    error
		before string
		after  string
	}{{nil, "jumped to cue 6; show clock stopped", ""}, {errors.New("no cue 99"), "jump 99: no cue 99", "jump 99: no cue 99"}} {
		m.answer(saidMsg{run.Command{Verb: run.Jump, Name: "99"}, x.before, x.err}, now)
		m.see(viewMsg{v, true}, now)
		if m.keys.said != x.before {
			t.Errorf("says %q, want %q", m.keys.said, x.before)
		}
		v.ByOthers++
		if m.see(viewMsg{v, true}, now); m.keys.said != x.after {
			t.Errorf("after a command of another: says %q, want %q", m.keys.said, x.after)
		}
	}
}

// When another laptop takes over, or this one does, nothing that was said before and no longer holds stays.
func TestTakeoverLeavesNoStaleMessage(t *testing.T) {
	t.Parallel()
	now := time.Now()
	m := &model{now: func() time.Time { return now }}
	sends, follows := viewMsg{standbyView(), true}, viewMsg{standbyView(), true}
	sends.v.Pair = &run.PairView{Sends: true}
	said := func(what, want string) {
		t.Helper()
		if m.keys.said != want {
			t.Errorf("%s: the message is %q, want %q", what, m.keys.said, want)
		}
	}
	m.see(follows, now)
	m.answer(saidMsg{c: run.Command{Verb: run.TakeOver}, err: errors.New("NOT TAKEN OVER: laptop 1 may still send. Switch it off")}, now)
	said("asked", "not taken over yet: the top of the screen says why")
	m.see(sends, now)
	said("taken over", "")
	m.answer(saidMsg{c: run.Command{Verb: run.Start}, text: "show clock running"}, now)
	m.see(sends, now)
	said("sending", "show clock running")
	m.see(follows, now)
	said("the other took over", "")
	m.answer(saidMsg{c: run.Command{Verb: run.TakeOver}, text: "this laptop sends to the mixers now"}, now)
	m.see(sends, now)
	said("taken back", "this laptop sends to the mixers now")
}
