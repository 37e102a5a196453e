package main

import (
	"bytes"
	"fmt"
	"io"
	"maps"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/publish"
	"backfield/cmd/backfield/show"
	"backfield/cue"
	"backfield/layout/source"
	"backfield/osc/desk"
)

func compileCommand() *cobra.Command {
	var flags showFlags
	var dir string
	var asJSON, full bool
	c := &cobra.Command{
		Use:   "compile SHOW",
		Short: "compute every channel's state at every cue and write the snapshots",
		Long: `Reads the whole show and writes, into the folder "compiled" beside the score or the one that -o names:

    snapshots.json   every channel's full state at every cue
    snapshots.csv    the same as a table, a row per cue and channel
    messages.txt     the OSC messages in the order they are sent: the full state of the first
                     cue, then only what changes (--full: full states throughout)

The files are replaced together, and only when the show has no errors.
Exit code 0: written, 1: the show has errors, 3: a file could not be read or written.`,
		Args: exactly(1, "one SHOW"),
		RunE: func(c *cobra.Command, args []string) error {
			s, problems, err := flags.faultless(c, show.Disk{}, args[0])
			if err != nil {
				return err
			}
			data, err := s.Show.Encode()
			if err != nil {
				return world(err)
			}
			if asJSON {
				printProblems(c, c.ErrOrStderr(), problems)
				_, err := c.OutOrStdout().Write(data)
				return world(err)
			}
			if dir == "" {
				dir = filepath.Join(filepath.Dir(show.Path(args[0])), "compiled")
			}
			if err := publish.Files(dir, outputs(s, data, full)); err != nil {
				return world(err)
			}
			printProblems(c, c.ErrOrStderr(), problems)
			if quiet(c) {
				return nil
			}
			summary(c.OutOrStdout(), s, problems)
			fmt.Fprintf(c.OutOrStdout(), "written to %s: snapshots.json, snapshots.csv, messages.txt\n", dir)
			return nil
		},
	}
	flags.add(c)
	c.Flags().StringVarP(&dir, "out", "o", "", "write into this `DIR` (default: \"compiled\" beside the score)")
	c.Flags().BoolVar(&asJSON, "json", false, "print snapshots.json to stdout and write nothing")
	c.Flags().BoolVar(&full, "full", false, "messages.txt: the full state of every cue, not only what changes")
	return c
}

// outputs are the files that compile writes; snapshots.json comes last, so that it is renamed last.
func outputs(s *show.Show, snapshots []byte, full bool) []publish.File {
	return []publish.File{
		{Name: "snapshots.csv", Data: table(s.Show)},
		{Name: "messages.txt", Data: messages(s.Show, s.Desk, full)},
		{Name: "snapshots.json", Data: snapshots},
	}
}

// table is snapshots.csv. It has a column of sends for each zone of the rig, and none in stereo; and one for each
// parameter of the desk's own.
func table(s *cue.Show) []byte {
	zones := zonesOf(s)
	head := []string{"cue", "at", "movement", "count", "time_s", "name", "fade_s", "channel", "player", "kind", "role", "open", "level_db", "pan", "delay_ms"}
	for _, zone := range zones {
		head = append(head, fmt.Sprintf("zone_%d", zone))
	}
	for _, x := range s.Params {
		head = append(head, ownColumn(x))
	}
	t := publish.NewTable(append(head, "x_m", "y_m", "z_m", "inside", "early", "late", "notes")...)
	number := func(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
	for _, c := range s.Cues {
		for _, ch := range c.Channels {
			open, level := "no", ""
			if ch.Open {
				open, level = "yes", number(float64(ch.LevelDB))
			}
			row := []string{c.ID, c.At, strconv.Itoa(c.Movement), number(c.Count), number(c.TimeS), c.Name, number(c.FadeS),
				strconv.Itoa(ch.Channel), ch.Player, ch.Kind, ch.Role, open, level, number(ch.Pan), number(ch.DelayMS)}
			sends := map[int]string{}
			for _, x := range ch.Sends {
				if x.LevelDB != cue.Silent {
					sends[x.Zone] = number(float64(x.LevelDB))
				}
			}
			for _, zone := range zones {
				row = append(row, sends[zone])
			}
			for _, x := range s.Params {
				cell := ""
				if v, ok := ch.Value(x.Name); ok && x.Switch {
					cell = x.Words(v)
				} else if ok {
					cell = number(v)
				}
				row = append(row, cell)
			}
			row = append(row, number(ch.X), number(ch.Y), number(ch.Z))
			row = append(row, shares(ch.Fit)...)
			t.Row(append(row, strings.Join(ch.Notes, "; "))...)
		}
	}
	return t.Bytes()
}

// ownColumn names the column of a parameter of the desk's own, with its unit.
func ownColumn(x cue.Own) string {
	switch x.Unit {
	case "":
		return x.Name
	case "%":
		return x.Name + "_percent"
	}
	return x.Name + "_" + strings.ToLower(x.Unit)
}

// zonesOf lists the zones that the show has sends to, ascending.
func zonesOf(s *cue.Show) []int {
	all := map[int]bool{}
	for _, c := range s.Cues {
		for _, ch := range c.Channels {
			for _, x := range ch.Sends {
				all[x.Zone] = true
			}
		}
	}
	return slices.Sorted(maps.Keys(all))
}

// shares are the cells of a fit, empty where there is none.
func shares(f *cue.Fit) []string {
	if f == nil {
		return []string{"", "", ""}
	}
	share := func(v float64) string { return strconv.FormatFloat(v, 'f', 4, 64) }
	return []string{share(f.Inside), share(f.Early), share(f.Late)}
}

// messages is messages.txt: a comment line a cue, then one message a line.
func messages(s *cue.Show, d *desk.Desk, full bool) []byte {
	var b bytes.Buffer
	var prev *cue.Snapshot
	for i := range s.Cues {
		c := &s.Cues[i]
		list := d.Go(prev, c)
		fmt.Fprintf(&b, "# %s, %s\n", title(c), plural(len(list), "message"))
		for _, m := range list {
			fmt.Fprintln(&b, m)
		}
		if !full {
			prev = c
		}
	}
	return b.Bytes()
}

// title names a cue in one line: cue 12A at set 7 + 4 = 2:33, 1:52.4, "trumpet alone", fade 2 counts (0.91 s).
func title(c *cue.Snapshot) string {
	count := fmt.Sprintf("%d:%s", c.Movement, strconv.FormatFloat(c.Count, 'f', -1, 64))
	where := count
	if c.At != count {
		where = fmt.Sprintf("%s = %s", c.At, count)
	}
	text := fmt.Sprintf("cue %s at %s, %s", c.ID, where, cue.ClockTime(c.TimeS))
	if c.Name != "" {
		text += fmt.Sprintf(", %q", c.Name)
	}
	if c.FadeCounts > 0 {
		text += fmt.Sprintf(", fade %s (%.2f s)", source.Count(c.FadeCounts, "count"), c.FadeS)
	}
	return text
}

// shownAttention is how many of the things that need attention the summary lists.
const shownAttention = 8

// summary tells a person what was compiled and what needs attention.
func summary(w io.Writer, s *show.Show, problems []source.Problem) {
	worn, fixed, most := 0, 0, 0
	if len(s.Show.Cues) > 0 {
		for _, ch := range s.Show.Cues[0].Channels {
			if ch.Kind == cue.Worn {
				worn++
			} else {
				fixed++
			}
		}
	}
	for _, c := range s.Show.Cues {
		open := 0
		for _, ch := range c.Channels {
			if ch.Open {
				open++
			}
		}
		most = max(most, open)
	}
	follow := 0
	for _, c := range s.Show.Cues {
		if c.FollowOn {
			follow++
		}
	}
	cues := plural(len(s.Show.Cues)-follow, "cue")
	if follow > 0 {
		cues += " and " + plural(follow, "follow-on")
	}
	fmt.Fprintf(w, "%s: %s in %s, %s; %s (%d worn, %d fixed), at most %d open\n", name(s.Show.Title), cues,
		plural(len(s.Clock.Movements), "movement"), cue.ClockTime(s.Clock.Seconds(s.Clock.End())), plural(worn+fixed, "channel"), worn, fixed, most)
	at := ""
	if s.Show.Venue != "" {
		at = s.Show.Venue + ", "
	}
	fmt.Fprintf(w, "%sair %.4g C, sound %.1f m/s, %s\n", at, s.Show.AirC, s.Show.SoundMPS, plural(len(s.Show.Rig.Stacks), "stack"))
	if share, ok := s.Show.MeanInside(); ok {
		fmt.Fprintf(w, "%s: %.0f %% inside the %.4g ms window on average over the open worn mics%s\n", plural(s.Show.Rig.Delay.Seats, "seat"), 100*share, s.Show.Rig.Delay.WindowMS, worstFit(s.Show))
	}
	if list := s.Attention(); len(list) > 0 {
		fmt.Fprintf(w, "needs attention, worst first:\n")
		for i, a := range list {
			if i == shownAttention {
				fmt.Fprintf(w, "  and %d more, in the notes of snapshots.csv\n", len(list)-i)
				break
			}
			fmt.Fprintf(w, "  cue %s, %s: %s\n", a.Cue, a.Player, a.Text)
		}
	}
	if len(problems) > 0 {
		fmt.Fprintf(w, "check: %s\n", tally(problems))
	}
}

// worstFit words the snapshot and worn mic that serve the fewest seats.
func worstFit(s *cue.Show) string {
	worst, where := 2.0, ""
	for _, c := range s.Cues {
		for _, ch := range c.Channels {
			if ch.Fit != nil && ch.Kind == cue.Worn && ch.Fit.Inside < worst {
				worst, where = ch.Fit.Inside, fmt.Sprintf("; least: cue %s, %s, %.0f %%", c.ID, ch.Player, 100*ch.Fit.Inside)
			}
		}
	}
	return where
}

func name(title string) string {
	if title == "" {
		return "untitled show"
	}
	return title
}
