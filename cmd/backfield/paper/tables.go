package paper

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"backfield/cue/sheet"
)

// tableSpec is one of the CSV tables: the name of its file without .csv, its columns, and its rows for one show. rows
// returns nil if the show has no such table.
type tableSpec struct {
	name string
	head []string
	rows func(*Papers) [][]string
}

// tables lists the CSV tables in the order in which they are written. The page "sheet" of the help describes the
// columns.
var tables = []tableSpec{
	{"run", []string{"cue", "auto", "at", "movement", "count", "set", "time_s", "after_s", "name", "fade_s",
		"fade_out_s", "opens", "closes", "changes", "sends", "glides", "opens_early", "open", "watch",
		"lead_db", "lead_take_db"}, runTable},
	{"packs", []string{"pack", "channel", "player", "section", "from_s", "until_s"}, packTable},
	{"handovers", []string{"pack", "channel", "giver", "taker", "at_s", "movement", "count", "set", "giver_at",
		"taker_at",
		"apart_m", "closed_in", "opens_in", "free_s"}, handoverTable},
	{"chart", []string{"channel", "player", "kind", "role", "from_s", "to_s", "from_cue", "to_cue", "peak_db"},
		barTable},
	{"open", []string{"at_s", "cue", "open", "cost_db"}, openTable},
	{"sharing", []string{"pack", "player", "from_s", "to_s", "taken_at_s", "taken_from", "apart_m"}, sharingTable},
	{"batteries", []string{"fresh_at", "when", "ran_min", "sets"}, batteryTable},
}

// CSVTable is a table of one show: the name of its file, and its rows. The first row has the names of the columns.
type CSVTable struct {
	File string
	Rows [][]string
}

// Tables returns the CSV tables of the show.
func (p *Papers) Tables() []CSVTable {
	var list []CSVTable
	for _, t := range tables {
		if rows := t.rows(p); rows != nil {
			list = append(list, CSVTable{t.name + ".csv", append([][]string{t.head}, rows...)})
		}
	}
	return list
}

// exact writes a number with all its decimals.
func exact(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

func fixed(v float64, decimals int) string { return strconv.FormatFloat(v, 'f', decimals, 64) }

// seconds writes a time in seconds, to the millisecond.
func seconds(v float64) string { return fixed(v, 3) }

// distance writes a distance in meters, with one decimal. It is empty if a place is unknown.
func distance(m float64) string {
	if math.IsNaN(m) {
		return ""
	}
	return fixed(m, 1)
}

func runTable(p *Papers) [][]string {
	rows := [][]string{}
	for _, r := range p.Rows {
		var changes, sends, early []string
		for _, x := range r.Packs {
			changes = append(changes, x.Text)
		}
		for _, x := range r.Changes {
			changes = append(changes, fmt.Sprintf("%s %s to %s dB", x.Player, exact(x.WasDB), exact(x.LevelDB)))
		}
		changes = append(changes, r.Params...)
		for _, x := range r.Also {
			sends = append(sends, x.String())
		}
		for _, x := range r.Early {
			early = append(early, fmt.Sprintf("%s at %s", strings.Join(x.Players, ", "), x.At))
		}
		auto := "no"
		if r.Auto {
			auto = "yes"
		}
		lead, take := "", ""
		if x := p.leads[r.ID]; x != nil {
			lead, take = fixed(x.DB, 1), exact(x.TakeDB)
		}
		rows = append(rows, []string{
			r.ID, auto, r.At, strconv.Itoa(r.Movement), exact(r.Count), r.Set, seconds(r.TimeS), seconds(r.AfterS),
			r.Name, seconds(r.FadeS), seconds(r.Closing().S), players(r.Opens), players(r.Closes),
			strings.Join(changes, "; "), strings.Join(sends, "; "), strings.Join(r.Glides, "; "),
			strings.Join(early, "; "), strconv.Itoa(r.Open), strings.Join(r.Watch, "; "), lead, take,
		})
	}
	return rows
}

func players(list []sheet.ChannelMic) string {
	var names []string
	for _, m := range list {
		names = append(names, m.Player)
	}
	return strings.Join(names, "; ")
}

func packTable(p *Papers) [][]string {
	rows := [][]string{}
	for _, w := range p.Wears {
		rows = append(rows, []string{
			w.Pack, strconv.Itoa(w.Channel), w.Player, w.Section, seconds(w.FromS), seconds(w.UntilS),
		})
	}
	return rows
}

func handoverTable(p *Papers) [][]string {
	rows := [][]string{}
	for _, h := range p.Handovers {
		rows = append(rows, []string{
			h.Pack, strconv.Itoa(h.Channel), h.Giver, h.Taker, seconds(h.AtS), strconv.Itoa(h.At.Movement),
			exact(h.At.Count), h.At.Set, h.GiverAt.Words, h.TakerAt.Words, distance(h.ApartM), h.ClosedIn, h.OpensIn,
			seconds(h.FreeS()),
		})
	}
	return rows
}

func barTable(p *Papers) [][]string {
	rows := [][]string{}
	for _, b := range p.Bars {
		rows = append(rows, []string{
			strconv.Itoa(b.Channel), b.Player, b.Kind, b.Role, seconds(b.FromS), seconds(b.ToS), b.FromCue, b.ToCue,
			exact(b.PeakDB),
		})
	}
	return rows
}

func openTable(p *Papers) [][]string {
	rows := [][]string{}
	for _, s := range p.Steps {
		rows = append(rows, []string{seconds(s.AtS), s.Cue, strconv.Itoa(s.Open), fixed(s.CostDB, 1)})
	}
	return rows
}

func sharingTable(p *Papers) [][]string {
	rows := [][]string{}
	for i, chain := range p.Sharing.Packs {
		for _, need := range chain {
			at, from, apart := "", "", ""
			for _, m := range p.Sharing.Meetings {
				if m.Taker.Player == need.Player {
					at, from, apart = seconds(m.AtS), m.Giver.Player, distance(m.ApartM)
				}
			}
			rows = append(rows, []string{
				strconv.Itoa(i + 1), need.Player, seconds(need.FromS), seconds(need.ToS), at, from, apart,
			})
		}
	}
	return rows
}

// batteryTable is nil without --day.
func batteryTable(p *Papers) [][]string {
	if p.Batteries == nil {
		return nil
	}
	rows := [][]string{}
	for _, f := range p.Batteries.Changes {
		rows = append(rows, []string{
			sheet.ClockText(f.AtMin), f.When, strconv.Itoa(f.RanMin), strconv.Itoa(len(p.Packs())),
		})
	}
	return rows
}
