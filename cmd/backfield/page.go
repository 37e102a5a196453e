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

// pagePort is where the page is served unless told otherwise, so that its link stays the same from day to day.
const pagePort = "8127"

func pageCommand() *cobra.Command {
	var flags verb.ShowFlags
	var at, against string
	c := &cobra.Command{
		Use:   "page SHOW",
		Short: "show the field, the cues and the stand in a browser, following every save",
		Long: `Serves a page on this machine alone: the field as the press box sees it, with the players walking under a
ribbon of all counts; who is open, and where his sound seems to come from; what the stand hears of a player; the
problems that check tells, at their place; and what every save has changed. Ends with Ctrl-C.

It writes no file and moves no mixer. "backfield help page" tells what is to be seen on it.`,
		Args: verb.Exactly(1, "one SHOW"),
		RunE: func(c *cobra.Command, args []string) error {
			host, _, err := net.SplitHostPort(at)
			if err != nil || !page.Loopback(host) {
				return verb.Wrong("--at %s: the page is for this machine alone; write 127.0.0.1:PORT (a tablet can "+
					"follow the live run: backfield run --page)", at)
			}
			ctx, stop := signal.NotifyContext(c.Context(), os.Interrupt, syscall.SIGTERM)
			defer stop()
			c.SetContext(ctx)
			return servePage(&flags, c, args[0], at, against)
		},
	}
	flags.Add(c)
	c.Flags().StringVar(&at, "at", "127.0.0.1:"+pagePort,
		"serve at this `HOST:PORT` of this machine; port 0 takes a free one")
	c.Flags().StringVar(&against, "against", "", "mark what differs from the show as it was at this `GITREV`, not "+
		"from the save before")
	return c
}

func servePage(f *verb.ShowFlags, c *cobra.Command, arg, at, against string) error {
	var older *show.Show
	if against != "" {
		var problems []source.Problem
		var err error
		if older, problems, err = f.Load(show.Commit{Rev: against}, arg); err != nil {
			return err
		}
		if older.Show == nil {
			verb.PrintProblems(c, c.ErrOrStderr(), problems)
			return verb.Wrong("at %s the show has %s: there is nothing to tell changes against", against,
				problemlist.Tally(problems))
		}
	}
	ln, err := net.Listen("tcp", at)
	if err != nil && strings.HasSuffix(at, ":"+pagePort) && !c.Flags().Changed("at") {
		ln, err = net.Listen("tcp", "127.0.0.1:0") // another page is open: this one gets a port of its own
	}
	if err != nil {
		return verb.World(fmt.Errorf("--at: %w", err))
	}
	site := page.NewSite(explain.Text, older, against)
	ctx, stop := context.WithCancel(c.Context())
	defer stop()
	c.SetContext(ctx)
	ended := make(chan error, 1)
	go func() {
		ended <- site.Serve(ctx, ln)
		stop() // a page that cannot be reached is not to look as if it followed
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
		if err := site.Update(s, problems); err != nil {
			return nil, err
		}
		if first {
			fmt.Fprintf(c.OutOrStdout(), "http://%s/\n", ln.Addr())
			first = false
		}
		fmt.Fprintf(c.ErrOrStderr(), "%s: %s\n", show.Path(arg), problemlist.Tally(problems))
		return s.Files, nil
	})
	stop()
	return errors.Join(err, verb.World(<-ended))
}
