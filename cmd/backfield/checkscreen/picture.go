package checkscreen

import (
	"fmt"
	"slices"
	"strings"

	"github.com/charmbracelet/x/ansi"

	"backfield/cmd/backfield/linechecking"
	"backfield/layout/visible"
	"backfield/osc/linecheck"
)

// textWeight is how a row stands out, by its control sequence (ECMA-48 SGR: 1 bold, 7 reverse, none to end).
type textWeight string

const (
	plain textWeight = ""
	bold  textWeight = "\x1b[1m"
	loud  textWeight = "\x1b[1;7m"
	paper textWeight = "\x1b[30;107m" // for a QR code: black on white, whatever the terminal's colors are
)

// checkRow is a row of the screen.
type checkRow struct {
	text string
	how  textWeight
}

// screenBlock is some rows that belong together. On a small terminal the block with the highest rank goes first.
type screenBlock struct {
	rank int
	rows []checkRow
}

func clean(s string) string { return visible.Text(s) }

// Picture draws the check for a terminal of some size.
func Picture(v linechecking.CheckScreen, s KeyView, width, height int) string {
	if width <= 0 || height <= 0 {
		return ""
	}
	blocks := parts(v, s, width, height)
	for total(blocks) > height {
		worst := 0
		for i, b := range blocks {
			if b.rank >= blocks[worst].rank {
				worst = i
			}
		}
		if n := len(blocks[worst].rows); blocks[worst].rank == 0 || n == 0 {
			break
		} else if over := total(blocks) - height; blocks[worst].rank >= rankRows && over < n {
			blocks[worst].rows = blocks[worst].rows[:n-over]
			continue
		}
		blocks = slices.Delete(blocks, worst, worst+1)
	}
	var lines []string
	for _, b := range blocks {
		for _, r := range b.rows {
			lines = append(lines, r.encode(width))
		}
	}
	return strings.Join(lines[:min(len(lines), height)], "\n")
}

func (r checkRow) encode(width int) string {
	text := ansi.Truncate(r.text, width, "…")
	if r.how == plain {
		return text
	}
	return string(r.how) + text + "\x1b[m"
}

func total(blocks []screenBlock) (n int) {
	for _, b := range blocks {
		n += len(b.rows)
	}
	return n
}

// Ranks of the blocks; 0 is never left out. From rankRows on a block loses its last rows one by one.
const (
	rankKeys = 3
	rankFact = 4
	rankBig  = 5
	rankGap  = 8
	rankRows = 10
)

// parts are the blocks of the screen from top to bottom.
func parts(v linechecking.CheckScreen, s KeyView, width, height int) []screenBlock {
	head := fmt.Sprintf("LINE CHECK  %s", clean(v.Title))
	count := fmt.Sprintf("%d good, %d not, %d left", v.Good, len(v.Failed), v.Left)
	if gap := width - ansi.StringWidth(head) - ansi.StringWidth(count); gap >= 2 {
		head += strings.Repeat(" ", gap) + count
	} else {
		head = count
	}
	list := []screenBlock{{0, alarmRows(v, width)}, {1, []checkRow{{head, plain}}}, gap()}
	switch {
	case s.Sheet != nil:
		list = append(list, sheetRows(s, width, height-8))
	case s.Asking && v.Pack != nil:
		list = append(list, askRows(v, s, height-10)...)
	case v.Pack == nil:
		text := fmt.Sprintf("NO PACK IS LEFT: %d of %d good", v.Good, v.Of)
		list = append(list, screenBlock{0, []checkRow{{text, bold}, {clean(v.State), bold},
			{"a: again through the others   q q: quit", plain}}})
	default:
		list = append(list, packRows(v, width)...)
	}
	list = append(list, gap(), screenBlock{0, offerRows(v, width)}, failedRows(v), gap(),
		screenBlock{0, []checkRow{messageRow(s)}})
	if !s.Asking && s.Sheet == nil {
		list = append(list, screenBlock{rankKeys, keyRows(width)})
	}
	return list
}

func gap() screenBlock { return screenBlock{rankGap, []checkRow{{"", plain}}} }

// alarmRows are what to look at first.
func alarmRows(v linechecking.CheckScreen, width int) (rows []checkRow) {
	for _, text := range []string{v.Alarm, v.Outside} {
		for _, line := range wrapped(clean(text), width-2, 2) {
			rows = append(rows, checkRow{" " + line + " ", loud})
		}
	}
	return rows
}

// packRows are the pack at hand.
func packRows(v linechecking.CheckScreen, width int) []screenBlock {
	name := clean(v.Pack.Player)
	big := bigText(name, width)
	list := []screenBlock{}
	if big != nil {
		var rows []checkRow
		for _, line := range big {
			rows = append(rows, checkRow{line, bold})
		}
		list = append(list, screenBlock{rankBig, append(rows, checkRow{"", plain})})
	}
	list = append(list, screenBlock{0, []checkRow{
		{fmt.Sprintf("%d of %d   %s   %s   pack %s   channel %d", v.Number, v.Of, name, clean(v.Pack.Section),
			clean(v.Pack.ID()), v.Pack.Channel), bold},
	}})
	var facts []checkRow
	for _, text := range linechecking.Facts(v) {
		facts = append(facts, checkRow{clean(text), plain})
	}
	state := checkRow{clean(v.State), bold}
	if v.Phase == linecheck.Open {
		state = checkRow{" " + state.text + " ", loud}
	}
	list = append(list, screenBlock{rankFact, facts}, gap(), screenBlock{0, []checkRow{state}})
	if v.Hint != "" {
		list = append(list, screenBlock{1, []checkRow{{clean(v.Hint), bold}}})
	}
	return list
}

// askRows ask who was heard.
func askRows(v linechecking.CheckScreen, s KeyView, most int) []screenBlock {
	list := linechecking.Match(v.Players, s.Typed)
	head := fmt.Sprintf("WHO WAS HEARD in the pack of %s (%s)?", clean(v.Pack.Player), clean(v.Pack.ID()))
	rows := []checkRow{{head, bold}, {"> " + clean(s.Typed) + "_", bold}}
	if len(list) == 0 {
		rows = append(rows, checkRow{"nobody is called that; Backspace takes a letter back", plain})
	}
	most = max(most, 3)
	first := max(0, min(s.Chosen-most/2, len(list)-most))
	var names []checkRow
	for i := first; i < min(first+most, len(list)); i++ {
		r := checkRow{"  " + clean(list[i]), plain}
		if i == s.Chosen {
			r = checkRow{" " + clean(list[i]) + " ", loud}
		}
		names = append(names, r)
	}
	end := checkRow{"type letters (t7: Tpt 7), Up and Down choose, Enter takes it, Esc goes back", plain}
	return []screenBlock{{0, rows}, {rankRows, names}, {1, []checkRow{end}}}
}

// sheetRows are a text instead of the pack, with a QR code below it where there is room for all of it.
func sheetRows(s KeyView, width, most int) screenBlock {
	var rows []checkRow
	for _, line := range s.Sheet {
		for _, part := range wrapped(clean(line), width, 4) {
			rows = append(rows, checkRow{part, plain})
		}
	}
	if n := len(s.Code); n > 0 && n+len(rows) < most && ansi.StringWidth(s.Code[0]) <= width {
		for _, line := range s.Code {
			rows = append(rows, checkRow{line, paper})
		}
	} else if n > 0 {
		rows = append(rows, checkRow{"a larger window shows the QR code", plain})
	}
	return screenBlock{rankRows, append(rows, checkRow{"Esc closes this", bold})}
}

// offerRows say what one key fixes.
func offerRows(v linechecking.CheckScreen, width int) (rows []checkRow) {
	if v.Offer == "" {
		return nil
	}
	for _, line := range wrapped(clean(v.Offer)+", press t", width, 2) {
		rows = append(rows, checkRow{line, bold})
	}
	return rows
}

// failedRows list what is not good, the latest first, and what is fixed.
func failedRows(v linechecking.CheckScreen) screenBlock {
	var rows []checkRow
	for _, text := range v.Failed {
		rows = append(rows, checkRow{"not good: " + clean(text), plain})
	}
	for _, text := range v.Fixed {
		rows = append(rows, checkRow{"for tonight: " + clean(text), plain})
	}
	return screenBlock{rankRows + 1, rows}
}

// messageRow is the answer to the last key.
func messageRow(s KeyView) checkRow {
	switch {
	case s.Quitting:
		return checkRow{" press q again to QUIT: every mic closes ", loud}
	case s.Wrong:
		return checkRow{" " + clean(s.Said) + " ", loud}
	}
	return checkRow{clean(s.Said), plain}
}

// keyRows are the keys.
func keyRows(width int) (rows []checkRow) {
	const keys = "g good   n no sound   z noise   w wrong player   s skip   b back   c close   f fresh batteries   " +
		"t tonight   a again   ? more   q q quit"
	line := ""
	for _, word := range strings.Split(keys, "   ") {
		if joined := strings.TrimPrefix(line+"   "+word, "   "); ansi.StringWidth(joined) <= width || line == "" {
			line = joined
			continue
		}
		rows, line = append(rows, checkRow{line, plain}), word
	}
	return append(rows, checkRow{line, plain})
}

// wrapped breaks a text at its spaces into at most so many rows.
func wrapped(text string, width, most int) (rows []string) {
	if text == "" || width <= 0 {
		return nil
	}
	line := ""
	for _, word := range strings.Fields(text) {
		joined := strings.TrimPrefix(line+" "+word, " ")
		if line == "" || len(rows) == most-1 || ansi.StringWidth(joined) <= width {
			line = joined
			continue
		}
		rows, line = append(rows, line), word
	}
	return append(rows, ansi.Truncate(line, width, "…"))
}
