package mixerverbs

import (
	"context"
	"errors"
	"os"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/term"
)

// errInterrupted is the error of a question that a signal has ended.
var errInterrupted = errors.New("interrupted")

// ask asks a question until the context ends. A signal must end a run that waits for an answer, too.
func ask(ctx context.Context, question func() error) error {
	done := make(chan error, 1)
	go func() { done <- question() }()
	select {
	case err := <-done:
		return err
	case <-ctx.Done():
		return errInterrupted // whatever reads the terminal ends with the program
	}
}

// confirm asks whether to resume a journal. Only a terminal can be asked: what comes on another stdin are the run's
// commands.
func (f *runFlags) confirm(ctx context.Context, c *cobra.Command, question string) (bool, error) {
	if f.yes {
		return true, nil
	}
	in := c.InOrStdin()
	if !term.CanAnswer(in) {
		return false, term.ErrNoAnswer
	}
	yes := make(chan bool, 1)
	err := ask(ctx, func() error {
		said, err := term.NewAsker(in, c.ErrOrStderr(), false).Yes(question)
		yes <- said
		return err
	})
	if err != nil {
		return false, err
	}
	return <-yes, nil
}

// plain reports whether commands are read from stdin instead of a screen.
func (f *runFlags) plain(c *cobra.Command) bool {
	in, ok := c.InOrStdin().(*os.File)
	return f.text || !ok || !term.Drawable(in) || !term.Drawable(c.OutOrStdout())
}
