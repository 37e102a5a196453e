// Package checkscreen is the terminal screen of a line check: the player's name in large letters, whether the mic is open,
// and a key for what is heard. Like the screen of a run it uses no color. Only this file knows the terminal.
package checkscreen

import (
	"context"
	"errors"
	"io"
	"time"

	tea "charm.land/bubbletea/v2"

	"backfield/cmd/backfield/linechecking"
	"backfield/osc/linecheck"
)

// CheckRun is a line check, such as a linechecking.Session. Its methods may be called from any goroutine.
type CheckRun interface {
	View() linechecking.CheckScreen
	// Give carries out a key and returns the answer. The error is for one that was refused.
	Give(linecheck.CheckPress) (said string, err error)
}

// PageLink shows how a device gets to the page: lines, and a QR code to be drawn dark on light.
type PageLink func() (lines, code []string)

const (
	lookEvery     = 50 * time.Millisecond
	ignoreKeysFor = 300 * time.Millisecond // after the first picture; nobody saw it when these were typed
)

// Run shows a line check and carries out its keys, until someone quits or the context ends. It does not end the check.
// link is nil without a page. The error is for a terminal that fails.
func Run(ctx context.Context, c CheckRun, link PageLink, in io.Reader, out io.Writer) error {
	return show(ctx, c, link, in, out)
}

// show is Run with more options, for tests without a terminal.
func show(ctx context.Context, c CheckRun, link PageLink, in io.Reader, out io.Writer,
	more ...tea.ProgramOption) error {
	m := &checkModel{check: c, now: time.Now, keys: keyState{link: link}}
	options := []tea.ProgramOption{
		tea.WithContext(ctx), tea.WithInput(in), tea.WithOutput(out), tea.WithoutSignalHandler(),
	}
	_, err := tea.NewProgram(m, append(options, more...)...).Run()
	if ctx.Err() != nil && errors.Is(err, tea.ErrProgramKilled) {
		return nil
	}
	return err
}

// checkModel is the screen between two messages of the terminal. Looks and keys run in their own goroutines.
type checkModel struct {
	check         CheckRun
	now           func() time.Time
	keys          keyState
	view          linechecking.CheckScreen
	first         time.Time // when the first view came; zero before
	looking, busy bool
	width, height int
}

type (
	lookMsg   struct{}
	checkMsg  struct{ v linechecking.CheckScreen }
	answerMsg struct {
		text string
		err  error
	}
)

func tick() tea.Cmd { return tea.Tick(lookEvery, func(time.Time) tea.Msg { return lookMsg{} }) }

func (m *checkModel) Init() tea.Cmd { return tea.Batch(m.look(), tick()) }

// look asks for a view, unless one is coming already.
func (m *checkModel) look() tea.Cmd {
	if m.looking {
		return nil
	}
	m.looking = true
	return func() tea.Msg { return checkMsg{m.check.View()} }
}

func (m *checkModel) Update(msg tea.Msg) (tea.Model, tea.Cmd) {
	now := m.now()
	switch msg := msg.(type) {
	case tea.WindowSizeMsg:
		m.width, m.height = msg.Width, msg.Height
	case lookMsg:
		m.keys.timeout(now)
		return m, tea.Batch(m.look(), tick())
	case checkMsg:
		m.looking = false
		if m.view = msg.v; m.first.IsZero() {
			m.first = now
		}
	case answerMsg:
		m.busy = false
		if msg.err != nil {
			m.keys.say(msg.err.Error(), true, now)
		} else {
			m.keys.say(msg.text, false, now)
		}
		return m, m.look()
	case tea.PasteMsg:
		m.keys.say("pasted text ignored", true, now)
	case tea.KeyReleaseMsg:
		m.keys.release(msg.String())
	case tea.KeyPressMsg:
		return m, m.press(msg, now)
	}
	return m, nil
}

func (m *checkModel) press(msg tea.KeyPressMsg, now time.Time) tea.Cmd {
	if m.first.IsZero() || now.Sub(m.first) < ignoreKeysFor {
		m.keys.say("keys typed early are ignored (the screen was not up yet): press again", true, now)
		return nil
	}
	p, ok := m.keys.press(keyPress{msg.String(), msg.Text, msg.IsRepeat}, m.view, now)
	switch {
	case !ok:
		return nil
	case p.Key == linechecking.KeyQuit:
		return tea.Quit
	case m.busy:
		m.keys.say(string(p.Key)+" ignored (the last key is still being carried out)", true, now)
		return nil
	}
	m.busy = true
	return func() tea.Msg { text, err := m.check.Give(p); return answerMsg{text, err} }
}

func (m *checkModel) View() tea.View {
	v := tea.NewView(Picture(m.view, m.keys.shown(m.now()), m.width, m.height))
	v.AltScreen = true
	v.KeyboardEnhancements.ReportEventTypes = true
	return v
}
