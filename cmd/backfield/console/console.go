// Package console is the operator's terminal screen of a live run: what is open, what comes next and in how many
// counts, the state of the mixers, and a few keys. It uses no color, only bold, reverse and blank space, so that it
// reads in sunlight and on light and dark terminals. Picture draws the parts of the screen, and keyReader judges the
// keys. Only this file knows the terminal. What a command does is up to the run.
package console

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	tea "charm.land/bubbletea/v2"

	"backfield/osc/run"
)

// ScreenRun is a live run, such as a live.Driver. Both methods may be called from any goroutine.
type ScreenRun interface {
	// Do carries out a command and returns the run's answer. The error is for a command that was refused.
	Do(run.Command) (said string, err error)
	// View returns the state of the run; ok is false after its end.
	View() (v run.View, ok bool)
}

const (
	lookEvery     = 100 * time.Millisecond // between two looks at the run
	quitWait      = 2 * time.Second        // how long quit waits for the run
	ignoreKeysFor = 300 * time.Millisecond // after the first picture; nobody saw it when these were typed
)

// Overlay is a text that covers the players until Esc, with a QR code below it. The code's cells are drawn dark on
// light, whatever the terminal's colors are.
type Overlay struct {
	Lines []string
	Code  []string
}

// SecondScreen is the run's page in a browser, as the terminal shows it.
type SecondScreen interface {
	// Command carries out what was typed after the word "page", and returns what to show. The error says what is wrong
	// with it.
	Command(rest string) (Overlay, error)
	// News returns what the operator should know that is new since the last call, "" for nothing. It does not wait.
	News() string
}

// Run shows a run on a terminal and carries out what is typed there, until the operator quits, the context ends or the
// run ends; none of these is an error. It does not end the run. If there is a page (p is not nil), its link is shown
// first. The error is for a terminal that fails.
func Run(ctx context.Context, s ScreenRun, p SecondScreen, in io.Reader, out io.Writer) error {
	return show(ctx, s, p, in, out)
}

// show is Run with more options, for tests without a terminal.
func show(ctx context.Context, s ScreenRun, p SecondScreen, in io.Reader, out io.Writer,
	more ...tea.ProgramOption) error {
	m := &model{stage: s, page: p, now: time.Now}
	if p != nil {
		m.keys.page = p.Command
		if sheet, err := p.Command(""); err == nil {
			m.keys.show(sheet)
		}
	}
	options := []tea.ProgramOption{
		tea.WithContext(ctx), tea.WithInput(in), tea.WithOutput(out), tea.WithoutSignalHandler(),
	}
	options = append(options, more...)
	_, err := tea.NewProgram(m, options...).Run()
	if ctx.Err() != nil && errors.Is(err, tea.ErrProgramKilled) {
		return nil
	}
	return err
}

// model is the screen between two messages of the terminal. It never waits for the run: looks and commands run in their
// own goroutines, one of each at a time, and come back as messages.
type model struct {
	stage         ScreenRun
	page          SecondScreen // nil for none
	now           func() time.Time
	keys          keyReader
	view          run.View
	first, seen   time.Time // when the first and the latest view came; zero before
	looking       bool
	queue         []run.Command // the first is being carried out
	width, height int
}

type (
	tickMsg struct{}
	dueMsg  struct{}
	quitMsg struct{}
	viewMsg struct {
		v  run.View
		ok bool
	}
	saidMsg struct {
		c    run.Command
		text string
		err  error
	}
)

func tick() tea.Cmd { return tea.Tick(lookEvery, func(time.Time) tea.Msg { return tickMsg{} }) }

func (m *model) Init() tea.Cmd { return tea.Batch(m.look(), tick()) }

// look asks for a view, unless one is coming already.
func (m *model) look() tea.Cmd {
	if m.looking {
		return nil
	}
	m.looking = true
	return func() tea.Msg { v, ok := m.stage.View(); return viewMsg{v, ok} }
}

// give carries out commands, one after the other.
func (m *model) give(list []run.Command) tea.Cmd {
	var cmds []tea.Cmd
	for _, c := range list {
		if c.Verb == run.Quit {
			cmds = append(cmds, tea.Tick(quitWait, func(time.Time) tea.Msg { return quitMsg{} }))
		}
		if len(m.queue) > 0 && (c.Verb == run.Go || c.Verb == run.Back) { // it would come too late
			m.keys.say(fmt.Sprintf("%s ignored (%s is still running)", c, m.queue[0]), true, m.now())
			continue
		}
		if m.queue = append(m.queue, c); len(m.queue) == 1 {
			cmds = append(cmds, m.do())
		}
	}
	return tea.Batch(cmds...)
}

func (m *model) do() tea.Cmd {
	c := m.queue[0]
	return func() tea.Msg { text, err := m.stage.Do(c); return saidMsg{c, text, err} }
}

func (m *model) Update(msg tea.Msg) (tea.Model, tea.Cmd) {
	now := m.now()
	switch msg := msg.(type) {
	case tea.WindowSizeMsg:
		m.width, m.height = msg.Width, msg.Height
	case tickMsg:
		if m.page != nil {
			if text := m.page.News(); text != "" {
				m.keys.say(text, false, now)
			}
		}
		return m, tea.Batch(m.give(m.keys.timeout(now)), m.look(), tick())
	case dueMsg:
		return m, m.give(m.keys.timeout(now))
	case viewMsg:
		return m, m.see(msg, now)
	case saidMsg:
		return m, m.said(msg, now)
	case quitMsg:
		return m, tea.Quit
	case tea.PasteMsg:
		m.keys.paste(msg.Content, now)
	case tea.KeyReleaseMsg:
		m.keys.release(msg.String())
	case tea.KeyPressMsg:
		return m, m.press(key{msg.String(), msg.Text, msg.IsRepeat}, now)
	}
	return m, nil
}

// see takes a view of the run, or the end of the run.
func (m *model) see(msg viewMsg, now time.Time) tea.Cmd {
	m.looking = false
	if !msg.ok {
		return tea.Quit
	}
	// What was refused no longer would be; and what this laptop did is another's now.
	if turns := m.view.Follows() != msg.v.Follows(); turns && (m.keys.wrong || msg.v.Follows()) {
		m.keys.say("", false, now)
	}
	if msg.v.ByOthers != m.view.ByOthers && !m.keys.wrong { // what the last answer says may no longer hold
		m.keys.say("", false, now)
	}
	if m.view, m.seen = msg.v, now; m.first.IsZero() {
		m.first = now
	}
	return nil
}

// said takes the answer to the first command of the queue, and starts the next.
func (m *model) said(msg saidMsg, now time.Time) tea.Cmd {
	m.queue = m.queue[1:]
	m.answer(msg, now)
	if msg.c.Verb == run.Quit {
		return tea.Quit
	}
	cmds := []tea.Cmd{m.look()}
	if len(m.queue) > 0 {
		cmds = append(cmds, m.do())
	}
	return tea.Batch(cmds...)
}

// press takes a key, once the screen has been up for a moment.
func (m *model) press(k key, now time.Time) tea.Cmd {
	if m.first.IsZero() || now.Sub(m.first) < ignoreKeysFor {
		m.keys.say("keys typed early are ignored (the screen was not up yet): press again", true, now)
		return nil
	}
	cmds := []tea.Cmd{m.give(m.keys.press(k, m.view, now))}
	if !m.keys.secondAt.IsZero() {
		cmds = append(cmds, tea.Tick(secondPressWait, func(time.Time) tea.Msg { return dueMsg{} }))
	}
	return tea.Batch(cmds...)
}

// answer shows the answer to a command: in the message line, or as an overlay if it is long.
func (m *model) answer(a saidMsg, now time.Time) {
	switch lines := strings.Split(a.text, "\n"); {
	case a.err != nil && a.c.Verb == run.TakeOver && m.view.Pair != nil:
		m.keys.say("not taken over yet: the top of the screen says why", true, now)
	case a.err != nil:
		m.keys.say(fmt.Sprintf("%s: %v", a.c, a.err), true, now)
	case len(lines) > 1:
		m.keys.show(Overlay{Lines: lines})
	default:
		m.keys.say(cmp.Or(a.text, a.c.String()+": done"), false, now)
	}
}

func (m *model) View() tea.View {
	now := m.now()
	h := &m.keys
	s := ScreenState{Armed: h.armed, Typing: h.typing, Typed: h.typed, Sheet: h.sheet, Code: h.code, ViewAgeS: -1}
	if age := now.Sub(h.saidAt); age < messageStays {
		s.Said, s.Wrong = h.said, h.wrong
	}
	if !m.seen.IsZero() {
		s.ViewAgeS = now.Sub(m.seen).Seconds()
	}
	v := tea.NewView(Picture(m.view, s, m.width, m.height))
	v.AltScreen = true
	v.KeyboardEnhancements.ReportEventTypes = true
	return v
}
