package main

import (
	"context"
	"errors"
	"fmt"
	"net"
	"os"
	"os/signal"
	"slices"
	"strings"
	"syscall"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/explain"
	"backfield/cmd/backfield/page"
	"backfield/cmd/backfield/problemlist"
	"backfield/cmd/backfield/show"
	"backfield/cmd/backfield/verb"
	"backfield/cue/work"
	"backfield/layout/source"
)

// pagePort is the default port of the page, so that its link stays the same from day to day.
const pagePort = "8127"

func pageCommand() *cobra.Command {
	var flags verb.ShowFlags
	var at, against string
	c := &cobra.Command{
		Use:   "page [SHOW]",
		Short: "show the field, the cues and the stands in a browser, updated on every save",
		Long: `Serves a page on this machine only. It shows the field from the press box, with the players walking along
a timeline; who is open, and where the sound will seem to come from; what the stands hear of a player;
the problems that check lists; and what each save changed. Ctrl-C ends it.

It writes no file and sends nothing to a mixer. In a show's folder you can leave SHOW out. See backfield
help page.`,
		Args: verb.OneShow,
		RunE: func(c *cobra.Command, args []string) error {
			host, _, err := net.SplitHostPort(at)
			if err != nil || !page.Loopback(host) {
				return verb.Wrong("--at %s: the page is for this machine only; write 127.0.0.1:PORT (for a tablet at "+
					"the live run: backfield run --page)", at)
			}
			ctx, stop := signal.NotifyContext(c.Context(), os.Interrupt, syscall.SIGTERM)
			defer stop()
			c.SetContext(ctx)
			return servePage(&flags, c, verb.Show(args), at, against)
		},
	}
	flags.Add(c)
	c.Flags().StringVar(&at, "at", "127.0.0.1:"+pagePort,
		"serve at this `HOST:PORT` of this machine; port 0 is any free one")
	c.Flags().StringVar(&against, "against", "", "mark what differs from the show at this `GITREV`, not from the "+
		"last save")
	return c
}

func servePage(f *verb.ShowFlags, c *cobra.Command, arg, at, against string) error {
	var older *show.Loaded
	if against != "" {
		var problems []source.Problem
		var err error
		if older, problems, err = f.Load(show.Commit{Rev: against}, arg); err != nil {
			return err
		}
		if older.Show == nil {
			verb.PrintProblems(c, c.ErrOrStderr(), problems)
			return verb.Wrong("at %s the show has %s, so there is nothing to compare with", against,
				problemlist.Tally(problems))
		}
	}
	ln, err := net.Listen("tcp", at)
	if err != nil && strings.HasSuffix(at, ":"+pagePort) && !c.Flags().Changed("at") {
		ln, err = net.Listen("tcp", "127.0.0.1:0") // another page is open, so this one gets its own port
	}
	if err != nil {
		return verb.Outside(fmt.Errorf("--at: %w", err))
	}
	site := page.NewSite(explain.Text, older, against)
	ctx, stop := context.WithCancel(c.Context())
	defer stop()
	c.SetContext(ctx)
	ended := make(chan error, 1)
	go func() {
		ended <- site.Serve(ctx, ln)
		stop() // a page that cannot be reached must not look alive
	}()
	f.Memo = &work.Memo{}
	first := true
	err = follow(c, f.Named(arg), func(watched []string) ([]string, error) {
		s, problems, err := f.Load(show.Disk{}, arg)
		if s == nil {
			return nil, err
		}
		if err != nil {
			if first {
				return nil, err
			}
			fmt.Fprintf(c.ErrOrStderr(), "backfield: %v; the page stays as it is\n", err)
			return watched, nil
		}
		if !slices.Equal(s.Files, watched) {
			return s.Files, nil
		}
		judge, err := site.Draw(s, problems)
		if err != nil {
			return nil, err
		}
		if first {
			fmt.Fprintf(c.OutOrStdout(), "http://%s/\n", ln.Addr())
			first = false
		}
		go func() { // the next save does not wait for it
			if all, newest := judge(); newest {
				fmt.Fprintf(c.ErrOrStderr(), "%s: %s\n", show.Path(arg), problemlist.Tally(all))
			}
		}()
		return s.Files, nil
	})
	stop()
	return errors.Join(err, verb.Outside(<-ended))
}
