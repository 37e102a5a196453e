package mixerverbs

import (
	"context"
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/restart"
	"backfield/cmd/backfield/show"
	"backfield/cmd/backfield/term"
	"backfield/cmd/backfield/verb"
)

// anyCue is the value of --restart without a cue.
const anyCue = "?"

func (f *runFlags) addRestart(c *cobra.Command) {
	fl := c.Flags()
	fl.StringVar(&f.restart, "restart", "", "start again after a break for weather: a checklist, what the mixer has, "+
		"and everything closed until you jump. --restart=`CUE` or a count says where you will go on")
	fl.Lookup("restart").NoOptDefVal = anyCue
}

// beforeRestart goes through the checklist, and compares the mixers with the show, before a run starts after a break. It
// sends the mixers only questions. The error is for an operator who does not want to start.
func (f *runFlags) beforeRestart(ctx context.Context, c *cobra.Command, s *show.Loaded, score string, to []string) (
	p restart.Plan, err error) {
	if f.restart == "" {
		return p, nil
	}
	w := c.ErrOrStderr()
	if !f.yes && !term.CanAnswer(c.InOrStdin()) {
		return p, verb.Usage("--restart asks whether it is safe to go on, and nobody can answer here: start it at a " +
			"terminal, or add --yes once everything on the list is done (backfield help run)")
	}
	asker := term.NewAsker(c.InOrStdin(), w, f.yes)
	fmt.Fprintln(w, "RESTART. Safety first. Nothing is sent to the mixer yet.")
	for _, item := range restart.Safety {
		if err := f.agree(ctx, w, asker, item); err != nil {
			return p, err
		}
	}
	before := restart.ReadBefore(score, s.Show.Title, f.rehearse, time.Now())
	fmt.Fprintln(w, before.Words)
	if p, err = f.whereTo(ctx, asker, s, before); err != nil {
		return p, err
	}
	at := p.Closed(s.Show)
	for _, mixer := range to {
		if s.Mixer.Query == nil {
			fmt.Fprintf(w, "%s: mixer.toml has no [query], so it cannot be asked: look at it for what is open\n", mixer)
			continue
		}
		found, err := restart.Look(ctx, s.Mixer, mixer, &at)
		if err != nil {
			fmt.Fprintf(w, "%s: %v\n", mixer, err)
			continue
		}
		if err := found.Print(w, mixer, p.CueID(s.Show)); err != nil {
			return p, verb.Outside(err)
		}
	}
	for _, item := range restart.Gear {
		printItem(w, item)
	}
	return p, f.agree(ctx, w, asker, restart.Item{
		What: []string{"The run starts with every channel of the show closed, and opens none until", "you jump or go."},
		Ask:  "Is all of this ready?",
	})
}

// agree shows an item of the checklist and asks about it. Any answer but yes is an error.
func (f *runFlags) agree(ctx context.Context, w io.Writer, asker *term.Asker, item restart.Item) error {
	printItem(w, item)
	if f.yes {
		return nil
	}
	yes := make(chan bool, 1)
	err := ask(ctx, func() error {
		said, err := asker.Yes(item.Ask)
		yes <- said
		return err
	})
	if err == nil && <-yes {
		return nil
	}
	return verb.Wrong("not started; nothing was sent. Start again with --restart when it is time")
}

func printItem(w io.Writer, item restart.Item) {
	if item.Name == "" {
		fmt.Fprintln(w, strings.Join(item.What, "\n"))
		return
	}
	fmt.Fprintf(w, "[ ] %-10s%s\n", item.Name, strings.Join(item.What, "\n"+strings.Repeat(" ", 14)))
}

// whereTo asks where the show goes on, unless --restart says it.
func (f *runFlags) whereTo(ctx context.Context, asker *term.Asker, s *show.Loaded, before restart.Before) (
	p restart.Plan, err error) {
	find := show.Timeline{Clock: s.Clock}.Find
	if f.restart != anyCue {
		if p, err = restart.PlanFor(s.Show, find, before, f.restart); err != nil {
			return p, verb.Usage("--restart: %w", err)
		}
		return p, nil
	}
	where := before.Step
	if _, found := s.Show.Find(where); !found {
		where = s.Show.Cues[0].ID
	}
	err = ask(ctx, func() error {
		return asker.Put("Cue or count to go on from", &where, func(typed string) error {
			_, err := restart.PlanFor(s.Show, find, before, typed)
			return err
		})
	})
	if err != nil {
		return p, verb.Wrong("not started; nothing was sent")
	}
	return restart.PlanFor(s.Show, find, before, where)
}
