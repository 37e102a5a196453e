package linecheck

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"backfield/layout/source"
)

// CheckView is a check at one instant, for a screen.
type CheckView struct {
	Phase     Phase        `json:"phase"`
	Held      bool         `json:"held"` // after close
	Seq       int          `json:"seq"`  // for Press
	Pack      *CheckedPack `json:"pack"` // at hand; nil for none
	Number    int          `json:"number"`
	Of        int          `json:"of"`
	Before    string       `json:"before"`    // what was found about it before; empty for nothing
	Hint      string       `json:"hint"`      // who may have it, as other packs show; empty for nobody
	Expected  string       `json:"expected"`  // that player
	Batteries string       `json:"batteries"` // when they were last changed, as far as it was noted
	Next      string       `json:"next"`      // the pack after it; empty for none
	Left      int          `json:"left"`
	Good      int          `json:"good"`
	Offer     string       `json:"offer"`   // what was found that one key fixes for tonight; empty for nothing
	Failed    []string     `json:"failed"`  // what was found, the latest first, not what is fixed
	Fixed     []string     `json:"fixed"`   // rows of tonight.toml
	Problem   string       `json:"problem"` // of the mixers
}

// View returns the check as it is now.
func (c *Check) View(now time.Time) CheckView {
	v := CheckView{Phase: c.phase, Held: c.held, Seq: c.seq, Of: len(c.packs), Left: c.Left(), Offer: c.offerWords(),
		Problem: c.problem, Failed: c.failedWords()}
	for _, f := range c.found {
		if f.Result == Good {
			v.Good++
		}
	}
	for _, f := range c.fixes {
		v.Fixed = append(v.Fixed, f.String())
	}
	if c.at == len(c.packs) {
		return v
	}
	p := c.packs[c.at]
	v.Pack, v.Number, v.Batteries = &p, c.at+1, c.batteryWords(&p, now)
	if f := c.found[c.at]; f.Result != "" {
		v.Before = foundWords(f)
	}
	for i, f := range c.found {
		if f.Result == WrongPlayer && f.Heard == p.Player && i != c.at {
			v.Expected = c.packs[i].Player
			v.Hint = fmt.Sprintf("%s has pack %s, so %s may have this one", p.Player, c.packs[i].ID(), v.Expected)
		}
	}
	if next := c.next(c.at); next < len(c.packs) && next != c.at {
		v.Next = fmt.Sprintf("%s, %s", c.packs[next].Player, c.packs[next].ID())
	}
	return v
}

func foundWords(f Finding) string {
	if f.Heard != "" {
		return fmt.Sprintf("%s: %s was heard", f.Result, f.Heard)
	}
	return string(f.Result)
}

// batteryWords says when the batteries of a pack were last changed.
func (c *Check) batteryWords(p *CheckedPack, now time.Time) string {
	at, ok := c.batteries[p.ID()]
	if !ok {
		return "no battery change noted"
	}
	ago := now.Sub(at).Round(time.Minute)
	switch {
	case ago < time.Minute:
		return "fresh batteries now"
	case ago < time.Hour:
		return fmt.Sprintf("batteries changed %d min ago", int(ago.Minutes()))
	case ago < 48*time.Hour:
		return fmt.Sprintf("batteries changed %d h %02d min ago", int(ago.Hours()), int(ago.Minutes())%60)
	}
	return fmt.Sprintf("batteries changed %d days ago", int(ago.Hours())/24)
}

// failedWords lists the packs that are bad or were skipped and that no row of tonight.toml answers, the latest first.
func (c *Check) failedWords() (list []string) {
	for _, i := range slices.Backward(c.judged) {
		if f := c.found[i]; f.Result != Good && !c.fixed(i) {
			list = append(list, fmt.Sprintf("%s %s: %s", c.packs[i].ID(), c.packs[i].Player, foundWords(f)))
		}
	}
	return list
}

// Summary says in a line or two how the check went.
func (c *Check) Summary() []string {
	v := c.View(c.since)
	lines := []string{fmt.Sprintf("%d of %s good", v.Good, source.Count(float64(v.Of), "pack"))}
	if len(v.Failed) > 0 {
		lines[0] += fmt.Sprintf(", %d not", len(v.Failed))
	}
	if v.Left > 0 {
		lines[0] += fmt.Sprintf(", %d not checked yet", v.Left)
	}
	for _, text := range slices.Backward(v.Failed) {
		lines = append(lines, "  "+text)
	}
	if len(v.Fixed) > 0 {
		lines = append(lines, "for tonight: "+strings.Join(v.Fixed, "; "))
	}
	return lines
}
