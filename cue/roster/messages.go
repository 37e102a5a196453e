package roster

import (
	"fmt"

	"backfield/layout/source"
	"backfield/layout/table"
)

// The messages of this package, one function each: what is wrong, in the reader's terms, and what to do.

func noPlayer(at source.Span) source.Problem {
	return source.ErrorAt("missing-cell", at,
		"this row names no player",
		"fill in the column \"player\"")
}

func twoSections(section table.Cell, player Player) source.Problem {
	return source.ErrorAt("two-sections", section.Span,
		fmt.Sprintf("%s is in section %q here and in %q before", player.Name, section.Text, player.Section),
		"keep one",
		source.Note{Span: player.Span, Text: "first here"})
}

func playerTwice(name table.Cell, first source.Span) source.Problem {
	return source.ErrorAt("duplicate-player", name.Span,
		fmt.Sprintf("%s stands twice", name.Text),
		`give one another name; a pack that he takes over later has a position in "from"`,
		source.Note{Span: first, Text: "first here"})
}

func noSection(name table.Cell) source.Problem {
	return source.WarningAt("no-section", name.Span,
		fmt.Sprintf("%s is in no section", name.Text),
		"fill in the column \"section\", so that @section finds him")
}

func badHeight(at source.Span, heightM float64) source.Problem {
	return source.ErrorAt("out-of-range", at,
		fmt.Sprintf("a mic %g m above the grass", heightM),
		"height is in metres, 0 to 10")
}

func badTrim(at source.Span, trimDB float64) source.Problem {
	return source.ErrorAt("out-of-range", at,
		fmt.Sprintf("a trim of %g dB", trimDB),
		"trim lies between -60 and 60 dB")
}

func packWithoutChannel(pack table.Cell) source.Problem {
	return source.ErrorAt("pack-without-channel", pack.Span,
		fmt.Sprintf("pack %s has no channel", pack.Text),
		"write the mixer channel that its receiver comes in on")
}

func fromWithoutChannel(at source.Span, player string) source.Problem {
	return source.ErrorAt("from-without-channel", at,
		fmt.Sprintf("%s takes over nothing here", player),
		"write the pack and the channel that he takes over")
}

func packOnTwoChannels(at source.Span, pack string, channel int, other Wear) source.Problem {
	return source.ErrorAt("pack-two-channels", at,
		fmt.Sprintf("pack %s is on channel %d here and on %d with %s", pack, channel, other.Channel, other.Player),
		"a pack's receiver comes in on one channel",
		source.Note{Span: other.ChanAt, Text: "the other channel"})
}
