package main

import (
	"fmt"
	"io"
	"net/http"
	"strings"
	"sync"
	"time"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/console"
	"backfield/cmd/backfield/page"
	"backfield/cmd/backfield/remote"
	"backfield/cmd/backfield/show"
	"backfield/cmd/backfield/term"
	"backfield/osc/journal"
	"backfield/osc/live"
)

// ownAddress is where --page without a value listens: on this machine only, at any port that is free.
const ownAddress = "127.0.0.1:0"

// beside is the page of a run as the terminal deals with it: it shows the key, and tells who came in.
type beside struct {
	*remote.Server

	mu   sync.Mutex
	news string
}

// pageMakesSense is an error where what was said of the page does not.
func (f *runFlags) pageMakesSense() error {
	if f.page == "" && f.pageReadOnly {
		return usage("--page-read-only says how the page is, and there is none; add --page")
	}
	if _, err := remote.Address(f.page); f.page != "" && err != nil {
		return wrong("--page: %w", err)
	}
	return nil
}

// besides serves the page of a run, if that was asked for; nil where not.
func (f *runFlags) besides(c *cobra.Command, s *show.Show, stage *live.Stage, j *journalFile, talk *term.Notices) (*beside, error) {
	if f.page == "" {
		return nil, nil
	}
	b := &beside{}
	site := page.NewSite(explained, nil, "")
	if err := site.Update(s, nil); err != nil {
		return nil, err
	}
	server, err := remote.Listen(stage, remote.Options{
		At: f.page, ReadOnly: f.pageReadOnly, Where: whereabouts(s),
		Field: ground(s),
		// The whole show's page as well, behind the same key; the server has seen to the host's name by then.
		Extra: map[string]http.Handler{"GET /show/": http.StripPrefix("/show", site.Handler(func(string) bool { return true }))},
		Tell: func(text string) {
			j.write(journal.Entry{At: time.Now(), Kind: "page", Text: text})
			if f.plain(c) {
				talk.Say(text)
				return
			}
			b.mu.Lock()
			defer b.mu.Unlock()
			b.news = text
		},
	})
	if err != nil {
		return nil, world(fmt.Errorf("--page: %w", err))
	}
	b.Server = server
	return b, nil
}

// ground is the field with as much before and behind it as the show has use for.
func ground(s *show.Show) remote.Field {
	f := s.Rig.Field
	frontM, backM := s.Margins()
	return remote.Field{LengthM: f.LengthM, EndZoneM: f.EndZoneM, WidthM: f.WidthM, HashM: f.HashM, FrontM: frontM, BackM: backM, MiddleYard: f.MiddleYard}
}

// whereabouts tells where who wears a mic, and where a fixed one stands.
func whereabouts(s *show.Show) func(name string, showS float64) (xM, yM float64, ok bool) {
	return func(name string, showS float64) (xM, yM float64, ok bool) {
		at, ok := s.Where(name, s.Clock.At(showS))
		return at.X, at.Y, ok
	}
}

// Command is what "page" and "page new" do.
func (b *beside) Command(rest string) (console.Sheet, error) {
	switch strings.ToLower(rest) {
	case "":
	case "new":
		if err := b.Renew(); err != nil {
			return console.Sheet{}, err
		}
	default:
		return console.Sheet{}, fmt.Errorf("%q is not understood; write it like: page   (or: page new)", "page "+rest)
	}
	return console.Sheet(b.Sheet()), nil
}

// News is who came in since it was last asked for.
func (b *beside) News() string {
	b.mu.Lock()
	defer b.mu.Unlock()
	defer func() { b.news = "" }()
	return b.news
}

// print writes the sheet where there is no screen; the code only where there is a terminal for a camera to look at.
func (b *beside) print(talk io.Writer, rest string) {
	s, err := b.Command(rest)
	if err != nil {
		fmt.Fprintf(talk, "backfield: %v\n", err)
		return
	}
	for _, line := range s.Lines {
		fmt.Fprintln(talk, line)
	}
	if term.Drawable(talk) {
		for _, row := range s.Code {
			fmt.Fprintf(talk, "\x1b[30;107m%s\x1b[m\n", row) // ECMA-48 SGR: black on white
		}
	}
}
