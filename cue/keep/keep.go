// Package keep writes changed levels into the files of a show: of roles into the score's [mix], trims into the roster and
// the rig, nudges into the cues of the score. It changes the bytes that it must and leaves comments, order and spacing as they are.
package keep

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"backfield/layout/source"
)

// Trim is a change of a player's or a fixed mic's level for the whole show.
type Trim struct {
	Name string  `json:"name"`
	DB   float64 `json:"db"`
}

// KeptNudge is a change of a player's level in one cue.
type KeptNudge struct {
	Cue  string  `json:"cue"`
	Name string  `json:"name"`
	DB   float64 `json:"db"`
}

// RoleStep is a change of a role's level.
type RoleStep struct {
	Role string  `json:"role"`
	DB   float64 `json:"db"`
}

// Changes are what the files of a show should keep.
type Changes struct {
	Roles  []RoleStep  `json:"roles,omitempty"`
	Trims  []Trim      `json:"trims,omitempty"`
	Nudges []KeptNudge `json:"nudges,omitempty"`
}

// EditFiles are those that may be changed. Score must not be nil; a nil among the others is passed over. Rigs are the
// rig, and the venue over it.
type EditFiles struct {
	Score, Roster *source.File
	Rigs          []*source.File
}

// Hunk is one change that makes sense on its own: an answer for one line or a few of one file.
type Hunk struct {
	File  *source.File
	about string // the role, the player or the cue
	edits []edit
}

// edit replaces the bytes from start to end of a file.
type edit struct {
	start, end int
	text       string
}

const mostDB = 60 // of a trim or a nudge, as their readers have it

// Plan finds the hunks for some changes, in the order of the files and of their lines. left says in words what
// cannot be written, and what to do about it.
func Plan(f EditFiles, c Changes) (hunks []Hunk, left []string) {
	note := func(h Hunk, err error) {
		if err != nil {
			left = append(left, err.Error())
		} else {
			hunks = append(hunks, h)
		}
	}
	for _, r := range c.Roles {
		note(stepRole(f.Score, r))
	}
	for _, t := range c.Trims {
		note(f.trim(t))
	}
	var ids []string
	for _, n := range c.Nudges {
		if !slices.Contains(ids, n.Cue) {
			ids = append(ids, n.Cue)
		}
	}
	cues := scoreCues(f.Score)
	for _, id := range ids {
		note(nudgeCue(cues[id], id, slices.DeleteFunc(slices.Clone(c.Nudges),
			func(n KeptNudge) bool { return n.Cue != id })))
	}
	slices.SortStableFunc(hunks, func(a, b Hunk) int {
		if a.File == b.File {
			return a.edits[0].start - b.edits[0].start
		}
		return f.rank(a.File) - f.rank(b.File)
	})
	return hunks, left
}

func (f EditFiles) rank(file *source.File) int {
	return slices.Index(append([]*source.File{f.Roster}, append(slices.Clone(f.Rigs), f.Score)...), file)
}

// Apply is the text of a file with the hunks that belong to it.
func Apply(file *source.File, hunks []Hunk) string {
	var edits []edit
	for _, h := range hunks {
		if h.File == file {
			edits = append(edits, h.edits...)
		}
	}
	return changed(file.Text, edits, 0, len(file.Text))
}

// changed is the part of a text from lo to hi with edits that lie in it.
func changed(text string, edits []edit, lo, hi int) string {
	edits = slices.Clone(edits)
	slices.SortStableFunc(edits, func(a, b edit) int { return a.start - b.start })
	var b strings.Builder
	for _, e := range edits {
		b.WriteString(text[lo:e.start] + e.text)
		lo = e.end
	}
	return b.String() + text[lo:hi]
}

// LineChange is lines of a file that go and lines that come in their place.
type LineChange struct {
	File  string   `json:"file"`
	Line  int      `json:"line"`  // of the first
	About string   `json:"about"` // the role, the player or the cue
	Was   []string `json:"was,omitempty"`
	Is    []string `json:"is"`
}

// Diff is the hunk as lines under their file, number and topic: those that go with a minus, those that come with a plus.
func (h Hunk) Diff() string {
	var b strings.Builder
	for _, c := range h.Lines() {
		fmt.Fprintf(&b, "%s:%d (%s)\n", c.File, c.Line, c.About)
		for _, w := range c.Was {
			b.WriteString("- " + w + "\n")
		}
		for _, w := range c.Is {
			b.WriteString("+ " + w + "\n")
		}
	}
	return b.String()
}

// Lines is the hunk as whole lines.
func (h Hunk) Lines() (list []LineChange) {
	for _, part := range h.parts() {
		text := h.File.Text
		lo := strings.LastIndexByte(text[:part[0].start], '\n') + 1
		hi := len(text)
		if n := strings.IndexByte(text[part[len(part)-1].end:], '\n'); n >= 0 {
			hi = part[len(part)-1].end + n
		}
		line, _ := source.Span{File: h.File, Start: lo, End: hi}.Position()
		was, is := strings.Split(text[lo:hi], "\n"), strings.Split(changed(text, part, lo, hi), "\n")
		for len(was) > 0 && len(is) > 0 && was[0] == is[0] {
			was, is = was[1:], is[1:]
		}
		for _, lines := range [][]string{was, is} {
			for i := range lines {
				lines[i] = strings.TrimSuffix(lines[i], "\r")
			}
		}
		list = append(list, LineChange{h.File.Name, line, h.about, was, is})
	}
	return list
}

// parts are the hunk's edits, in their order, together where they change the same line.
func (h Hunk) parts() (parts [][]edit) {
	edits := slices.Clone(h.edits)
	slices.SortStableFunc(edits, func(a, b edit) int { return a.start - b.start })
	for i, e := range edits {
		if i > 0 && !strings.Contains(h.File.Text[edits[i-1].end:e.start], "\n") {
			parts[len(parts)-1] = append(parts[len(parts)-1], e)
			continue
		}
		parts = append(parts, []edit{e})
	}
	return parts
}

// sum adds a change to a value that a file has, both in dB.
func sum(old, more float64, what string) (text string, err error) {
	v := math.Round((old+more)*100) / 100
	if math.Abs(v) > mostDB {
		return "", fmt.Errorf("%s would be %g dB; the limit is %d", what, v, mostDB)
	}
	return strconv.FormatFloat(v+0, 'f', -1, 64), nil
}
