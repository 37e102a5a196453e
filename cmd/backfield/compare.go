package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/nights"
	"backfield/cmd/backfield/problemlist"
	"backfield/cmd/backfield/show"
	"backfield/cmd/backfield/verb"
)

func compareCommand() *cobra.Command {
	var venues []string
	var airs string
	var asJSON bool
	c := &cobra.Command{
		Use:   "compare [SHOW]",
		Short: "compare delays and seats in time between venues and weather",
		Long: `Compiles the show for each venue and each air temperature that you give. For each channel it lists how
much the delays differ and how many seats are in time, worst channels first. Without --venue it uses the
score's own; --venue "" is the rig without a venue.

    backfield compare SHOW --air 18C,24C,31C
    backfield compare SHOW --venue "" --venue venues/away.toml`,
		Args: verb.OneShow,
		RunE: func(c *cobra.Command, args []string) error {
			given := c.Flags().Changed("venue")
			if !given {
				venues = []string{""}
			}
			temperatures := strings.Split(airs, ",")
			switch n := len(venues) * len(temperatures); {
			case n < 2:
				return verb.Usage("compare needs two nights or more: --air 18C,24C,31C, or --venue twice")
			case n > nights.Most:
				return verb.Usage("%s at %s make %d nights; compare takes up to %d",
					verb.Plural(len(venues), "venue"), verb.Plural(len(temperatures), "temperature"), n, nights.Most)
			}
			var list []nights.Night
			for _, v := range venues {
				for _, air := range temperatures {
					flags := verb.ShowFlags{LoadOptions: show.LoadOptions{Venue: v, Air: strings.TrimSpace(air)}}
					flags.Bare = given && v == ""
					s, problems, err := flags.Watched(c, show.Disk{}, verb.Show(args))
					if err != nil {
						return err
					}
					if s.Result.Show == nil {
						verb.PrintProblems(c, c.ErrOrStderr(), problems)
						fmt.Fprintf(c.ErrOrStderr(), "%s: %s; nothing was compared\n", show.Path(verb.Show(args)),
							problemlist.Tally(problems))
						return verb.Exit(verb.ExitProblems)
					}
					flags.Mention(c, problems, verb.Show(args))
					list = append(list, nights.New(s.Show, v))
				}
			}
			rows := nights.Compare(list)
			if asJSON {
				return verb.WriteJSON(c, rows)
			}
			nights.Print(c.OutOrStdout(), list, rows)
			return nil
		},
	}
	c.Flags().StringArrayVar(&venues, "venue", nil,
		"a venue `FILE` to use with the rig; repeat for more, \"\" for the rig without a venue")
	c.Flags().StringVar(&airs, "air", "", "air `TEMPERATURES` separated by commas, such as 18C,24C,88F")
	c.Flags().BoolVar(&asJSON, "json", false, "print JSON")
	return c
}
