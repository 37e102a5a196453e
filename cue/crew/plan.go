package crew

import (
	"fmt"
	"math"
	"slices"

	"backfield/layout/source"
)

// Crew are the four people of the plan, in the order of its columns.
var Crew = []string{"Lead", "Left", "Right", "Packs"}

// CrewStep is some minutes of the plan, with what each of the crew does, in the order of Crew.
type CrewStep struct {
	FromMin, ToMin int
	Tasks          [4]string
}

// Gear is what is to be set up.
type Gear struct {
	Stacks []CrewMark
	Fixed  []CrewMark // fixed mics
	Inputs string     // the mixer channels of the fixed mics, as a list
	Packs  int
}

const (
	setupMin      = 10
	mostStackSide = 2 // stacks that one pair rolls, turns and cables in this time, an estimate; time yourselves
)

// twoWay is a step of the setup, and what undoes it.
type twoWay struct {
	min      int
	do, undo [4]string
}

// Sides are the stacks of each side, from the 50 outward. One on the 50 goes to the side with fewer.
func (g Gear) Sides() (left, right []CrewMark) {
	var middle []CrewMark
	for _, s := range g.Stacks {
		switch {
		case TapeOf(s.XM).inches == 0:
			middle = append(middle, s)
		case s.XM < 0:
			left = append(left, s)
		default:
			right = append(right, s)
		}
	}
	outward := func(a, b CrewMark) int { return int(math.Copysign(1, math.Abs(a.XM)-math.Abs(b.XM))) }
	slices.SortStableFunc(left, outward)
	slices.SortStableFunc(right, outward)
	for _, s := range middle {
		if len(left) <= len(right) {
			left = append([]CrewMark{s}, left...)
		} else {
			right = append([]CrewMark{s}, right...)
		}
	}
	return left, right
}

// Setup is the plan for ten minutes, and Strike the same in reverse.
func (g Gear) Setup() []CrewStep {
	var list []CrewStep
	at := 0
	for _, s := range g.steps() {
		list = append(list, CrewStep{at, at + s.min, s.do})
		at += s.min
	}
	return list
}

// Strike undoes the steps of the setup, the last one first.
func (g Gear) Strike() []CrewStep {
	var list []CrewStep
	at := 0
	for _, s := range slices.Backward(g.steps()) {
		list = append(list, CrewStep{at, at + s.min, s.undo})
		at += s.min
	}
	return list
}

func (g Gear) steps() []twoWay {
	left, right := g.Sides()
	packs := source.Count(float64(g.Packs), "pack")
	fixed := source.Count(float64(len(g.Fixed)), "fixed mic")
	roll := func(list []CrewMark) (do, undo string) {
		if len(list) == 0 {
			return "Help on the other side.", "Help on the other side."
		}
		return "Roll to the marks, two people to each: " + names(list) + ".", "Roll away, two people to each: " +
			reversed(list) + "."
	}
	rollL, backL := roll(left)
	rollR, backR := roll(right)
	inputs := ""
	if g.Inputs != "" {
		inputs = " (" + g.Inputs + ")"
	}
	return []twoWay{
		{2, [4]string{
			"Look at sky, wind and ground: is it safe to build? Show where cables go.", rollL, rollR,
			fmt.Sprintf("Count %s and the spares. A fresh set of batteries into each.", packs),
		}, [4]string{
			"Walk the field: nothing is left behind. Sign off.", backL, backR,
			fmt.Sprintf("Count %s and the spares into the case. Batteries out.", packs),
		}},
		{2, [4]string{
			"Mixer, network and receivers to their place, all off.",
			"Lock the wheels, turn to the aim, lower, tie down or ballast.",
			"Lock the wheels, turn to the aim, lower, tie down or ballast.",
			fmt.Sprintf("Put %s on their marks.", fixed),
		}, [4]string{
			"Mixer, network and receivers into their cases.",
			"Free the ties, unlock the wheels, close the covers.",
			"Free the ties, unlock the wheels, close the covers.",
			fmt.Sprintf("Put %s away, dry.", fixed),
		}},
		{2, [4]string{
			"Outputs of the mixer by the patch list.", "Signal to each stack by the patch list; ramps over walkways.",
			"Signal to each stack by the patch list; ramps over walkways.",
			fmt.Sprintf("Cable %s to their inputs%s.", fixed, inputs),
		}, [4]string{
			"Unplug the outputs.", "Coil the signal cables, from the stack to the mixer.",
			"Coil the signal cables, from the stack to the mixer.", "Coil the cables of the fixed mics.",
		}},
		{1, [4]string{
			"With whoever is licensed for it: power to mixer and receivers, then to amplifiers. Master down.",
			"Keep people away from the stacks.", "Keep people away from the stacks.", "Packs on, each to its player.",
		}, [4]string{
			"Amplifiers off first, then receivers and mixer, then power, with whoever is licensed for it.",
			"Touch nothing until the lead says that power is off.",
			"Touch nothing until the lead says that power is off.",
			"Packs off as they come in; mark the dead ones.",
		}},
		{2, [4]string{
			"backfield ping, then backfield linecheck: one pack at a time, low.",
			"Say which of your stacks plays, when asked.", "Say which of your stacks plays, when asked.",
			"With each player: say the pack's number, put on a spare for a dead one.",
		}, [4]string{
			"Write down what failed, for tomorrow.", "Keep people away from the stacks.",
			"Keep people away from the stacks.", "Collect the packs, one section after the other.",
		}},
		{1, [4]string{
			"Area clear? Master up slowly. Say: ready.", "Area clear at your stacks: say so.",
			"Area clear at your stacks: say so.", "Players to their places. Spares within reach.",
		}, [4]string{
			"hush, master down, quit. Say: sound is off.", "Keep people away until the amplifiers are off.",
			"Keep people away until the amplifiers are off.", "To where the players come off the field.",
		}},
	}
}

func reversed(list []CrewMark) string {
	list = slices.Clone(list)
	slices.Reverse(list)
	return names(list)
}

// Short says what does not fit into ten minutes with four people, "" for nothing.
func (g Gear) Short() string {
	left, right := g.Sides()
	if most := max(len(left), len(right)); most > mostStackSide {
		return fmt.Sprintf("One side has %d stacks: two people set up %d in this time, so bring another pair or start "+
			"earlier.", most, mostStackSide)
	}
	return ""
}
