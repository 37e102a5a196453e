// Package restart is the start of a run after a break for weather: the checklist, what of the last run still holds, and
// what a mixer has, beside what the show wants. It sets nothing at a mixer.
package restart

// Item is a line of the checklist.
type Item struct {
	Name string
	What []string // lines to read
	Ask  string   // the question about it; empty for one that is only read
}

// Safety is what must be so before anybody goes back out. Each is asked for alone.
var Safety = []Item{
	{"LIGHTNING", []string{
		"Common practice in the United States: nobody goes back out",
		"until 30 minutes after the last lightning seen or thunder",
		"heard. Each new one starts the 30 minutes again. The word of",
		"your safety officer comes first.",
	}, "Has the safety officer opened the field again?"},
	{"WATER", []string{
		"Look into connectors, power strips, stacks and packs. Water",
		"in a power connector can kill: leave it off, and have a",
		"qualified person look at it.",
	}, "Is everything dry that power or signal goes through?"},
	{"POWER", []string{
		"Whoever is licensed for it has looked at cables, covers and",
		"ground-fault protection. Local codes come first. Amplifiers",
		"come on last, with the master down, and nobody near the",
		"loudspeakers.",
	}, "Have they said that it may be on, and is the master down?"},
}

// Gear is what else must be ready. It is read, and asked for with the start.
var Gear = []Item{
	{Name: "MIXER", What: []string{
		"It is on, with its inputs as before the break. One that lost",
		"power may have started with an old scene.",
	}},
	{Name: "PACKS", What: []string{
		"Batteries are fresh, capsules and contacts are dry, and each",
		"pack is on the player that it had. Listen to one at a time:",
		`only "Tpt 3" in the run opens that mic alone.`,
	}},
	{Name: "PEOPLE", What: []string{
		"Players and staff know the count to go on from. Stacks that",
		"wind has moved are back on their marks.",
	}},
}
