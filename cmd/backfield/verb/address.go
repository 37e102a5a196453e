package verb

import (
	"github.com/spf13/cobra"

	"backfield/cue"
	"backfield/layout/source"
	"backfield/osc/mixer"
	"backfield/osc/wire"
)

// Address is where to send: what --to gives, or else the mixer file's own. An address that cannot be read is reported
// at its place in the file.
func Address(c *cobra.Command, to string, d *mixer.Mixer) (string, error) {
	if c.Flags().Changed("to") {
		if _, err := wire.Address(to); err != nil {
			return "", Wrong("--to %w", err)
		}
		return to, nil
	}
	if _, err := wire.Address(d.To.V); err != nil {
		var p source.Problems
		p.Error("mixer-to", d.To.Span, err.Error(), "or use --to")
		PrintProblems(c, c.ErrOrStderr(), p.All())
		return "", Exit(ExitProblems)
	}
	return d.To.V, nil
}

// MixerAddresses lists where to send to all mixers of a show: what --to gives, or else the mixer file's own and those
// under also.
func MixerAddresses(c *cobra.Command, to string, d *mixer.Mixer) ([]string, error) {
	first, err := Address(c, to, d)
	if err != nil {
		return nil, err
	}
	all := []string{first}
	if c.Flags().Changed("to") {
		return all, nil
	}
	for _, t := range d.Also {
		if _, err := wire.Address(t.V); err != nil {
			return nil, Wrong("%s: also: %w", t.Span.Where(), err)
		}
		all = append(all, t.V)
	}
	return all, nil
}

// CueIDs lists the ids of the cues of a show, in order.
func CueIDs(s *cue.Show) []string {
	var ids []string
	for _, c := range s.Cues {
		ids = append(ids, c.ID)
	}
	return ids
}
