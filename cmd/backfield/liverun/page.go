package liverun

import (
	"fmt"
	"io"
	"net/http"
	"net/netip"
	"slices"
	"strings"
	"sync"
	"time"

	"backfield/cmd/backfield/console"
	"backfield/cmd/backfield/page"
	"backfield/cmd/backfield/remote"
	"backfield/cmd/backfield/show"
	"backfield/cmd/backfield/term"
	"backfield/layout/visible"
	"backfield/osc/journal"
	"backfield/osc/live"
	"backfield/osc/run"
)

// PageOptions are the settings of a run's page.
type PageOptions struct {
	At       string       // HOST:PORT
	ReadOnly bool         // it cannot send commands
	From     []netip.Addr // the machines that may connect, other than this one; none: all
	Explain  func(s *show.Loaded, cueID, player string) (string, error)
}

// RunPage is the run's page for the terminal, which shows the key and who came in.
type RunPage struct {
	*remote.Server

	mu   sync.Mutex
	news string
}

// commandedRun is the run as its page commands it: a device that was let in may have this laptop take over, unlike another
// machine's trigger.
type commandedRun struct{ *live.Driver }

func (p commandedRun) DoWithin(c run.Command, most time.Duration) (said string, err error) {
	if c.Verb == run.TakeOver {
		return p.Do(c)
	}
	return p.Driver.DoWithin(c, most)
}

// Page serves the run's page until Close, and the show's page behind the same key.
func (r *LiveRun) Page(o PageOptions) (*RunPage, error) {
	p := &RunPage{}
	site := page.NewSite(o.Explain, nil, "")
	if err := site.ShowUnchecked(r.show); err != nil {
		return nil, err
	}
	server, err := remote.Listen(commandedRun{r.Driver}, remote.ServerOptions{
		At: o.At, ReadOnly: o.ReadOnly, From: o.From, Where: whereIs(r.show), Field: fieldOf(r.show),
		Channels: channelsOf(r.show), MixerChannels: r.show.Mixer.Channels,
		// The server has checked the host's name before this handler is called.
		Extra: map[string]http.Handler{
			"GET /show/": http.StripPrefix("/show", site.Handler(func(string) bool { return true })),
		},
		Report: func(text string) {
			r.journal.Write(journal.Entry{At: time.Now(), Kind: "page", Text: text})
			if r.o.Plain {
				r.notices.Say(text)
				return
			}
			p.mu.Lock()
			defer p.mu.Unlock()
			p.news = text
		},
	})
	if err != nil {
		return nil, fmt.Errorf("--page: %w", err)
	}
	p.Server = server
	r.reached(fmt.Sprintf("on its page at http://%v, from a device that was let in", server.Addr()))
	r.closers = append(r.closers, func() { server.Close() })
	return p, nil
}

// fieldOf is the field with the margins in front and in back that the show needs.
func fieldOf(s *show.Loaded) remote.FieldLines {
	f := s.Rig.Field
	frontM, backM := s.Margins()
	return remote.FieldLines{LengthM: f.LengthM, EndZoneM: f.EndZoneM, WidthM: f.WidthM, HashM: f.HashM, FrontM: frontM,
		BackM: backM, MiddleYard: f.MiddleYard}
}

// channelsOf lists the show's channels in the order of their numbers.
func channelsOf(s *show.Loaded) (list []int) {
	for _, c := range s.Show.Cues[0].Channels {
		list = append(list, c.Channel)
	}
	slices.Sort(list)
	return list
}

// whereIs returns the place of a player with a mic or of a fixed mic, in meters.
func whereIs(s *show.Loaded) func(name string, showS float64) (xM, yM float64, ok bool) {
	return func(name string, showS float64) (xM, yM float64, ok bool) {
		at, ok := s.Where(name, s.Clock.At(showS))
		return at.X, at.Y, ok
	}
}

// Command carries out "page" and "page new".
func (p *RunPage) Command(rest string) (console.Overlay, error) {
	switch strings.ToLower(rest) {
	case "":
	case "new":
		if err := p.Renew(); err != nil {
			return console.Overlay{}, err
		}
	default:
		return console.Overlay{}, fmt.Errorf("cannot read %q; type it like this: page   (or: page new)", "page "+rest)
	}
	return console.Overlay(p.Sheet()), nil
}

// News says who came in since the last call.
func (p *RunPage) News() string {
	p.mu.Lock()
	defer p.mu.Unlock()
	defer func() { p.news = "" }()
	return p.news
}

// Print writes the sheet without a screen. It draws the QR code only on a terminal, where a camera can see it.
func (p *RunPage) Print(talk io.Writer, rest string) {
	s, err := p.Command(rest)
	if err != nil {
		fmt.Fprintf(talk, "backfield: %v\n", err)
		return
	}
	for _, line := range s.Lines {
		fmt.Fprintln(talk, line)
	}
	if term.Drawable(talk) {
		for _, row := range s.Code {
			fmt.Fprintf(visible.Raw(talk), "\x1b[30;107m%s\x1b[m\n", row) // ECMA-48 SGR: black on white
		}
	}
}
