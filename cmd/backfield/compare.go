package main

import (
	"cmp"
	"fmt"
	"io"
	"math"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/show"
	"backfield/cue"
)

func compareCommand() *cobra.Command {
	var venues []string
	var airs string
	var asJSON bool
	c := &cobra.Command{
		Use:   "compare SHOW",
		Short: "compare delays and fit over venues and weather",
		Long: `Compiles the show for every venue and every air temperature given and lists, channel by channel, how
far the delays lie apart and how many seats are inside the window, worst channels first. Without
--venue it is the score's own; --venue "" stands for the bare rig.

    backfield compare SHOW --air 18C,24C,31C
    backfield compare SHOW --venue "" --venue venues/away.toml`,
		Args: exactly(1, "one SHOW"),
		RunE: func(c *cobra.Command, args []string) error {
			given := c.Flags().Changed("venue")
			if !given {
				venues = []string{""}
			}
			temperatures := strings.Split(airs, ",")
			switch n := len(venues) * len(temperatures); {
			case n < 2:
				return usage("compare wants two nights or more: --air 18C,24C,31C, or --venue twice")
			case n > mostNights:
				return usage("%s at %s are %d nights, and compare takes up to %d: each has a letter and two columns", plural(len(venues), "venue"), plural(len(temperatures), "temperature"), n, mostNights)
			}
			var nights []night
			for _, v := range venues {
				for _, air := range temperatures {
					flags := showFlags{Options: show.Options{Venue: v, Air: strings.TrimSpace(air)}}
					flags.Bare = given && v == ""
					s, problems, err := flags.watched(c, show.Disk{}, args[0])
					if err != nil {
						return err
					}
					if s.Result.Show == nil {
						printProblems(c, c.ErrOrStderr(), problems)
						fmt.Fprintf(c.ErrOrStderr(), "%s: %s; nothing was compared\n", show.Path(args[0]), tally(problems))
						return told(exitProblems)
					}
					flags.mention(c, problems, args[0])
					nights = append(nights, night{label(s.Show, v), s.Show})
				}
			}
			rows := compareNights(nights)
			if asJSON {
				return writeJSON(c, rows)
			}
			printNights(c.OutOrStdout(), nights, rows)
			return nil
		},
	}
	c.Flags().StringArrayVar(&venues, "venue", nil, "a venue `FILE` to lay over the rig; give it again for more, \"\" for the bare rig")
	c.Flags().StringVar(&airs, "air", "", "air `TEMPERATURES` parted by commas, such as 18C,24C,88F")
	c.Flags().BoolVar(&asJSON, "json", false, "print JSON")
	return c
}

// mostNights is how many nights have a letter of their own.
const mostNights = 26

// night is the show compiled for one venue and one air.
type night struct {
	label string
	show  *cue.Show
}

func label(s *cue.Show, venue string) string {
	where := s.Venue
	if where == "" {
		where = strings.TrimSuffix(filepath.Base(venue), filepath.Ext(venue))
	}
	if where == "" || where == "." {
		where = "rig"
	}
	return fmt.Sprintf("%s, %.4g C", where, s.AirC)
}

// nightRow is one player's or fixed mic's channel over all nights: where his delays lie furthest apart, and
// his mean share of seats inside the window in each.
type nightRow struct {
	Channel  int        `json:"channel"`
	Player   string     `json:"player"`
	Cue      string     `json:"cue"` // where the delays lie furthest apart
	SpreadMS float64    `json:"spread_ms"`
	DelayMS  []*float64 `json:"delay_ms"` // a night each; null where the mic is not open
	Inside   []*float64 `json:"inside"`   // a night each; null without a stand
}

func compareNights(nights []night) []nightRow {
	type key struct {
		channel int
		player  string
	}
	rows := map[key]*nightRow{}
	var order []key
	inside := map[key][]float64{}
	count := map[key][]float64{}
	for n, x := range nights {
		for _, s := range x.show.Cues {
			for _, ch := range s.Channels {
				if !ch.Open {
					continue
				}
				k := key{ch.Channel, ch.Player}
				if rows[k] == nil {
					rows[k] = &nightRow{Channel: ch.Channel, Player: ch.Player, SpreadMS: -1}
					inside[k], count[k] = make([]float64, len(nights)), make([]float64, len(nights))
					order = append(order, k)
				}
				if ch.Fit != nil {
					inside[k][n] += ch.Fit.Inside
					count[k][n]++
				}
			}
		}
	}
	for _, s := range nights[0].show.Cues {
		if s.FollowOn {
			continue
		}
		for _, ch := range s.Channels {
			if !ch.Open {
				continue
			}
			k := key{ch.Channel, ch.Player}
			delays, lo, hi := make([]*float64, len(nights)), math.Inf(1), math.Inf(-1)
			for n, x := range nights {
				if v := delayOf(x.show, s.ID, k.channel, k.player); v != nil {
					delays[n], lo, hi = v, min(lo, *v), max(hi, *v)
				}
			}
			if row := rows[k]; hi-lo > row.SpreadMS+1e-9 {
				row.SpreadMS, row.Cue, row.DelayMS = math.Round((hi-lo)*100)/100, s.ID, delays
			}
		}
	}
	var list []nightRow
	for _, k := range order {
		row := rows[k]
		row.SpreadMS = max(row.SpreadMS, 0)
		row.Inside = make([]*float64, len(nights))
		for n := range nights {
			if count[k][n] > 0 {
				share := math.Round(1e4*inside[k][n]/count[k][n]) / 1e4
				row.Inside[n] = &share
			}
		}
		if row.DelayMS == nil { // open in follow-ons or in other nights only
			row.DelayMS = make([]*float64, len(nights))
		}
		list = append(list, *row)
	}
	slices.SortStableFunc(list, func(a, b nightRow) int {
		return cmp.Or(cmp.Compare(b.SpreadMS, a.SpreadMS), cmp.Compare(a.Channel, b.Channel))
	})
	return list
}

// delayOf is the delay of a mic in a cue, nil where it is not open then.
func delayOf(s *cue.Show, id string, channel int, player string) *float64 {
	c, ok := s.Find(id)
	if !ok {
		return nil
	}
	for i := range c.Channels {
		if ch := &c.Channels[i]; ch.Channel == channel && ch.Player == player && ch.Open {
			return &ch.DelayMS
		}
	}
	return nil
}

func printNights(w io.Writer, nights []night, rows []nightRow) {
	letter := func(i int) string { return string(rune('A' + i)) }
	for i, n := range nights {
		follow := 0
		for _, s := range n.show.Cues {
			if s.FollowOn {
				follow++
			}
		}
		fmt.Fprintf(w, "%s  %s: %s, %s", letter(i), n.label, plural(len(n.show.Cues)-follow, "cue"), plural(follow, "follow-on"))
		if share, ok := n.show.MeanInside(); ok {
			fmt.Fprintf(w, ", %.0f %% of the seats inside the window on average", 100*share)
		}
		fmt.Fprintln(w)
	}
	fmt.Fprintf(w, "\n%-4s %-18s %-6s %9s  ", "ch", "player", "cue", "spread ms")
	for i := range nights {
		fmt.Fprintf(w, "%8s", "ms "+letter(i))
	}
	for i := range nights {
		fmt.Fprintf(w, "%9s", "inside "+letter(i))
	}
	fmt.Fprintln(w)
	for _, r := range rows {
		fmt.Fprintf(w, "%-4d %-18s %-6s %9.1f  ", r.Channel, r.Player, r.Cue, r.SpreadMS)
		for _, v := range r.DelayMS {
			if v == nil {
				fmt.Fprintf(w, "%8s", "-")
			} else {
				fmt.Fprintf(w, "%8.1f", *v)
			}
		}
		for _, v := range r.Inside {
			if v == nil {
				fmt.Fprintf(w, "%9s", "-")
			} else {
				fmt.Fprintf(w, "%7.0f %%", 100**v)
			}
		}
		fmt.Fprintln(w)
	}
}
