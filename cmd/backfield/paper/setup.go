package paper

import (
	"fmt"
	"strings"

	"backfield/cue"
	"backfield/cue/crew"
	"backfield/layout"
)

// setupBody is what the sheet of setup and strike gets.
type setupBody struct {
	Stacks []stackMark
	Fixed  []crew.CrewMark
	Inputs []patchLine
	Setup  []crew.CrewStep
	Strike []crew.CrewStep
	Short  string // what ten minutes are too short for; or ""
}

// stackMark is a stack with its mark and what feeds it.
type stackMark struct {
	crew.CrewMark
	Feed string // "left 100 %" or "zone 3"
	Also string // trim, delay, aim
}

// patchLine is an input of the mixer.
type patchLine struct {
	Channel        int
	Who, How, Pack string
}

func (p *Papers) setup() setupBody {
	rig, field := p.Show.Rig, p.Show.Drill.Field
	var b setupBody
	gear := crew.Gear{Packs: len(p.Packs())}
	mark := func(name string, at layout.Point) crew.CrewMark {
		return crew.CrewMark{Name: name, XM: at.X, YM: at.Y, HeightM: at.Z, Words: field.Dot(at)}
	}
	for _, s := range rig.Stacks {
		m := mark(s.Name, s.At)
		also := []string{fmt.Sprintf("trim %s dB", number(s.TrimDB))}
		if s.DelayS != 0 {
			also = append(also, fmt.Sprintf("delay %s ms", number(1000*s.DelayS)))
		}
		if s.Aim != nil {
			also = append(also, "aim: "+field.Dot(*s.Aim))
		}
		if s.Sub {
			also = append(also, "subs")
		}
		feed := fmt.Sprintf("zone %d", s.Zone)
		if s.Zone == 0 {
			feed = sidesText(s.Left, s.Right)
		}
		b.Stacks = append(b.Stacks, stackMark{m, feed, strings.Join(also, ", ")})
		gear.Stacks = append(gear.Stacks, m)
	}
	var inputs []string
	for _, m := range rig.Mics {
		b.Fixed = append(b.Fixed, mark(m.Name, m.At))
		inputs = append(inputs, fmt.Sprint(m.Channel))
	}
	gear.Fixed, gear.Inputs = b.Fixed, strings.Join(inputs, ", ")
	b.Inputs = p.patch()
	b.Setup, b.Strike, b.Short = gear.Setup(), gear.Strike(), gear.Short()
	return b
}

// sidesText says how much of each side a stack carries.
func sidesText(left, right float64) string {
	var words []string
	for _, x := range []struct {
		name  string
		share float64
	}{{"left", left}, {"right", right}} {
		if x.share != 0 {
			words = append(words, fmt.Sprintf("%s %s %%", x.name, number(100*x.share)))
		}
	}
	return strings.Join(words, ", ")
}

// patch lists the inputs of the mixer that the show uses, by channel. A pack's wearers are in order of time.
func (p *Papers) patch() (list []patchLine) {
	if len(p.Show.Show.Cues) == 0 {
		return nil
	}
	packs := map[int]packLine{}
	for _, w := range p.Packs() {
		packs[w.Channel] = w
	}
	for _, c := range p.Show.Show.Cues[0].Channels {
		x := patchLine{Channel: c.Channel, Who: c.Player, How: "cable"}
		if w, worn := packs[c.Channel]; worn && c.Kind == cue.Worn {
			x.How, x.Pack = "receiver", w.Pack
			var who []string
			for _, use := range w.Who {
				who = append(who, unbroken(use.Player))
			}
			x.Who = strings.Join(who, ", then ")
		}
		list = append(list, x)
	}
	return list
}
