package paper

import (
	"fmt"
	"strings"

	"backfield/cmd/backfield/letters"
	"backfield/cue/sheet"
)

// handoutPage is one page of the handout of a section.
type handoutPage struct {
	Section   string
	N, Of     int
	Players   []playerPart
	Handovers []sheet.PackHandover
	Without   []string
}

// playerPart is what a page has of one player: all times, or where a page has no room for all, some.
type playerPart struct {
	micWearer
	Continued   bool
	Left, Right []heardTime
}

// Sizes in points. The style sheet has the same: paper.css, the rules of .handout.
const (
	handoutRoom  = 600.0 // of letter, without the heading, what to know about the mic, and the foot
	handoutPt    = 10.5
	handoutLine  = 13.5
	playerHead   = 26.0 // its name, and the space before it
	columnWide   = 256.0
	handoverHigh = 4 * handoutLine
)

// pages lays a handout out. No player is split unless one page has no room for all times of one.
func (h *handout) pages() []handoutPage {
	pages := []handoutPage{{}}
	left := handoutRoom
	turn := func() {
		pages, left = append(pages, handoutPage{}), handoutRoom
	}
	last := func() *handoutPage { return &pages[len(pages)-1] }
	for _, w := range h.Players {
		open := w.Open
		for part := 0; part == 0 || len(open) > 0; part++ {
			fits := fit(open, left-playerHead)
			if fits < len(open) && left < handoutRoom || left < playerHead+2*handoutLine {
				turn()
				fits = fit(open, left-playerHead)
			}
			x := playerPart{micWearer: w, Continued: part > 0}
			x.Left, x.Right = halves(open[:fits])
			last().Players = append(last().Players, x)
			left -= playerHead + max(high(x.Left), high(x.Right), handoutLine)
			open = open[fits:]
		}
	}
	for i, x := range h.Handovers {
		need := handoverHigh
		if i == 0 {
			need += playerHead
		}
		if left < need {
			turn()
		}
		last().Handovers = append(last().Handovers, x)
		left -= need
	}
	if need := handoutLine * float64(2+len(strings.Join(h.Without, ", "))/80); len(h.Without) > 0 {
		if left < need {
			turn()
		}
		last().Without = h.Without
	}
	for i := range pages {
		pages[i].Section, pages[i].N, pages[i].Of = h.Section, i+1, len(pages)
	}
	return pages
}

// Title is the section, and which of its pages this is: "trumpet, 2 of 3".
func (p handoutPage) Title() string {
	if p.Of == 1 {
		return p.Section
	}
	return fmt.Sprintf("%s, %d of %d", p.Section, p.N, p.Of)
}

// fit is how many of a player's times have room in two columns, at least one.
func fit(list []heardTime, room float64) int {
	used, n := 0.0, 0
	for n < len(list) && used+list[n].high() <= 2*room {
		used += list[n].high()
		n++
	}
	for ; n > 1; n-- { // the columns may not be as long as each other
		if a, b := halves(list[:n]); max(high(a), high(b)) <= room {
			break
		}
	}
	return max(min(n, len(list)), min(1, len(list)))
}

// halves are the two columns of a list: as long as each other, the left one longer if one has to be.
func halves(list []heardTime) (left, right []heardTime) {
	all, used, n := high(list), 0.0, 0
	for n < len(list) && used < all/2 {
		used += list[n].high()
		n++
	}
	return list[:n], list[n:]
}

// high is how much of the page a column needs, in points.
func high(list []heardTime) (pt float64) {
	for _, x := range list {
		pt += x.high()
	}
	return pt
}

// high is how much of the page a time needs.
func (x heardTime) high() float64 { return handoutLine*float64(max(x.Lines, 1)) + 2 }

// counted fills in how many lines a time takes. Bold is a little wider than what is measured; Wrap leaves room for it.
func (x heardTime) counted() heardTime {
	x.Lines = len(letters.Wrap(x.From+" to "+x.To+" "+x.Roles, handoutPt, columnWide*1.02, false))
	return x
}
