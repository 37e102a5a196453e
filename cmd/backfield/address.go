package main

import (
	"github.com/spf13/cobra"

	"backfield/layout/source"
	"backfield/osc/desk"
	"backfield/osc/wire"
)

// address is where to send: what --to gives, or else the desk's own. One that is none is told where it is written.
func address(c *cobra.Command, to string, d *desk.Desk) (string, error) {
	if c.Flags().Changed("to") {
		if _, err := wire.Address(to); err != nil {
			return "", wrong("--to %w", err)
		}
		return to, nil
	}
	if _, err := wire.Address(d.To.V); err != nil {
		var p source.Problems
		p.Error("desk-to", d.To.Span, err.Error(), "or use --to")
		printProblems(c, c.ErrOrStderr(), p.All())
		return "", told(exitProblems)
	}
	return d.To.V, nil
}

// deskAddresses lists where to send to all desks of a show: what --to gives, or else the desk file's own and those under
// also.
func deskAddresses(c *cobra.Command, to string, d *desk.Desk) ([]string, error) {
	first, err := address(c, to, d)
	if err != nil {
		return nil, err
	}
	all := []string{first}
	if c.Flags().Changed("to") {
		return all, nil
	}
	for _, t := range d.Also {
		if _, err := wire.Address(t.V); err != nil {
			return nil, wrong("%s: also: %w", t.Span.Where(), err)
		}
		all = append(all, t.V)
	}
	return all, nil
}
