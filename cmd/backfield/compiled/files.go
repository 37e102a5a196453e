// Package compiled writes what the command makes of a compiled show: the files snapshots.csv and messages.txt, and the
// summary for the person who compiled it. Package cue writes snapshots.json.
package compiled

import (
	"bytes"
	"fmt"
	"strconv"

	"backfield/cmd/backfield/publish"
	"backfield/cmd/backfield/show"
	"backfield/cue"
	"backfield/layout/source"
	"backfield/osc/mixer"
)

// Files are the files that compile writes. snapshots.json comes last, so that it is renamed last.
func Files(s *show.Loaded, snapshots []byte, full bool) []publish.OutputFile {
	return []publish.OutputFile{
		{Name: "snapshots.csv", Data: CSV(s.Show)},
		{Name: "messages.txt", Data: Messages(s.Show, s.Mixer, full)},
		{Name: "snapshots.json", Data: snapshots},
	}
}

// Messages is messages.txt: a comment line for each cue, then one message a line. With full it is the full state of
// every cue, otherwise only what changes.
func Messages(s *cue.Show, d *mixer.Mixer, full bool) []byte {
	var b bytes.Buffer
	var prev *cue.Snapshot
	for i := range s.Cues {
		c := &s.Cues[i]
		list := d.Go(prev, c)
		fmt.Fprintf(&b, "# %s, %s\n", Title(c), count(len(list), "message"))
		for _, m := range list {
			fmt.Fprintln(&b, m)
		}
		if !full {
			prev = c
		}
	}
	return b.Bytes()
}

// Title is a cue in one line: cue 12A at set 7 + 4 = 2:33, 1:52.4, "trumpet alone", fade 2 counts (0.91 s).
func Title(c *cue.Snapshot) string {
	count := fmt.Sprintf("%d:%s", c.Movement, strconv.FormatFloat(c.Count, 'f', -1, 64))
	where := count
	if c.At != count {
		where = fmt.Sprintf("%s = %s", c.At, count)
	}
	text := fmt.Sprintf("cue %s at %s, %s", c.ID, where, cue.ClockTime(c.TimeS))
	if c.Name != "" {
		text += fmt.Sprintf(", %q", c.Name)
	}
	if fade := c.FadeWords(true); fade != "" {
		text += ", " + fade
	}
	return text
}

func count(n int, word string) string { return source.Count(float64(n), word) }
