package roster

import (
	"fmt"

	"backfield/layout/source"
	"backfield/layout/table"
)

// The messages of this package, one function each: what is wrong, in the reader's terms, and what to do.

func noPlayer(at source.Span) source.Problem {
	return source.ErrorAt("missing-cell", at,
		"this row has no player",
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
		fmt.Sprintf("%s is listed twice", name.Text),
		`rename one, or, if the player changes to this pack later, fill in "from"`,
		source.Note{Span: first, Text: "first here"})
}

func noSection(name table.Cell) source.Problem {
	return source.WarningAt("no-section", name.Span,
		fmt.Sprintf("%s is in no section", name.Text),
		"fill in the column \"section\", so that @section finds the player")
}

// withUnit is about a number whose unit the column has.
func withUnit(c table.Cell, what, unitName string, v float64) source.Problem {
	return source.ErrorAt("bad-number", c.Span,
		fmt.Sprintf("%s is in %s, without a unit", what, unitName),
		fmt.Sprintf("write %.4g", v))
}

func badHeight(at source.Span, heightM float64) source.Problem {
	return source.ErrorAt("out-of-range", at,
		fmt.Sprintf("a mic height of %g m", heightM),
		"a height is 0 to 10 m")
}

func badTrim(at source.Span, trimDB float64) source.Problem {
	return source.ErrorAt("out-of-range", at,
		fmt.Sprintf("a trim of %g dB", trimDB),
		"a trim is -60 to 60 dB")
}

func packWithoutChannel(pack table.Cell) source.Problem {
	return source.ErrorAt("pack-without-channel", pack.Span,
		fmt.Sprintf("pack %s has no channel", pack.Text),
		"write the mixer channel that its receiver comes in on")
}

func fromWithoutChannel(at source.Span, player string) source.Problem {
	return source.ErrorAt("from-without-channel", at,
		fmt.Sprintf("%s has a `from` here, but no channel", player),
		"write the pack and the channel that the player takes over")
}

func packOnTwoChannels(at source.Span, pack string, channel int, other Wear) source.Problem {
	return source.ErrorAt("pack-two-channels", at,
		fmt.Sprintf("pack %s is on channel %d here and on %d with %s", pack, channel, other.Channel, other.Player),
		"a pack's receiver comes in on one channel",
		source.Note{Span: other.ChanAt, Text: "the other channel"})
}

func badMic(at source.Span, micM float64) source.Problem {
	return source.ErrorAt("out-of-range", at,
		fmt.Sprintf("a mic %g m from its bell", micM),
		"it is 0 to 2 m, from the middle of the bell")
}

func badMeter(at source.Span, db float64) source.Problem {
	return source.ErrorAt("out-of-range", at,
		fmt.Sprintf("a meter that reads %g dB over nominal", db),
		"it is -60 to 60 dB")
}

func twoInstruments(instrument table.Cell, player Player) source.Problem {
	return source.ErrorAt("two-sections", instrument.Span,
		fmt.Sprintf("%s plays %q here and %q in the first row", player.Name, instrument.Text, player.Instrument.Text),
		"write it in the first row only",
		source.Note{Span: player.Span, Text: "first here"})
}
