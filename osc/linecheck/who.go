package linecheck

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"backfield/layout/source"
)

// Who finds the player that someone means: a name in any case, with or without its spaces, or a pack's label.
func (c *Check) Who(text string) (string, error) {
	if strings.TrimSpace(text) == "" {
		return "", errors.New("who was heard? Give the name, such as: wrong Tpt 3")
	}
	name, ok := c.named(text)
	mine := c.packs[c.at].Player
	switch {
	case !ok:
		return "", fmt.Errorf("no player %q; %s", text, source.DidYouMean(text, c.o.Names,
			"write the name as the roster has it"))
	case name == mine:
		return "", fmt.Errorf("%s should be heard here: that is good", name)
	}
	return name, nil
}

func (c *Check) named(text string) (name string, ok bool) {
	for _, p := range c.packs {
		if p.Pack != "" && plain(p.Pack) == plain(text) {
			return p.Player, true
		}
	}
	for _, n := range c.o.Names {
		if plain(n) == plain(text) {
			return n, true
		}
	}
	return "", false
}

// plain is a name without case and spaces.
func plain(name string) string { return strings.ToLower(strings.Join(strings.Fields(name), "")) }

// Players lists whom a wrong player may be: those whose pack may be the one at hand first, then the others with a pack,
// then everybody else.
func (c *Check) Players() (list []string) {
	v := c.View(c.since)
	take := func(name string) {
		if name != "" && (v.Pack == nil || name != v.Pack.Player) && !slices.Contains(list, name) {
			list = append(list, name)
		}
	}
	take(v.Expected)
	for i, p := range c.packs { // who has been heard in the own pack has it
		if c.found[i].Result != Good {
			take(p.Player)
		}
	}
	for _, p := range c.packs {
		take(p.Player)
	}
	for _, name := range c.o.Names {
		take(name)
	}
	return list
}
