package checkscreen

import "strings"

// bigGlyphs are capital letters and digits on a grid of 5 by 5, row by row, for a name that can be read from a few steps
// away. They are drawn here from the usual shapes of block capitals.
var bigGlyphs = map[rune]string{
	'A': ".###.#...#######...##...#", 'B': "####.#...#####.#...#####.", 'C': ".#####....#....#.....####",
	'D': "####.#...##...##...#####.", 'E': "######....####.#....#####", 'F': "######....####.#....#....",
	'G': ".#####....#..###...#.####", 'H': "#...##...#######...##...#", 'I': "#####..#....#....#..#####",
	'J': "..###...#....#.#..#..##..", 'K': "#...##..#.###..#..#.#...#", 'L': "#....#....#....#....#####",
	'M': "#...###.###.#.##...##...#", 'N': "#...###..##.#.##..###...#", 'O': ".###.#...##...##...#.###.",
	'P': "####.#...#####.#....#....", 'Q': ".###.#...##.#.##..#..##.#", 'R': "####.#...#####.#..#.#...#",
	'S': ".#####.....###.....#####.", 'T': "#####..#....#....#....#..", 'U': "#...##...##...##...#.###.",
	'V': "#...##...##...#.#.#...#..", 'W': "#...##...##.#.###.###...#", 'X': "#...#.#.#...#...#.#.#...#",
	'Y': "#...#.#.#...#....#....#..", 'Z': "#####...#...#...#...#####",
	'0': ".###.#..###.#.###..#.###.", '1': "..#...##....#....#...###.", '2': "####.....#.###.#....#####",
	'3': "####.....#.###.....#####.", '4': "#..#.#..#.#####...#....#.", '5': "######....####.....#####.",
	'6': ".###.#....####.#...#.###.", '7': "#####...#...#...#....#...", '8': ".###.#...#.###.#...#.###.",
	'9': ".###.#...#.####....#.###.", ' ': "...............", '-': "..........#####..........",
	'.': "......................#..", '\'': "..#....#.................", '/': "....#...#...#...#...#....",
}

const bigRows = 5

// bigText writes a name in large capitals; nil if it has a letter without a shape, or is too wide.
func bigText(name string, width int) []string {
	lines := make([]strings.Builder, bigRows)
	for _, r := range strings.ToUpper(name) {
		glyph, ok := bigGlyphs[r]
		if !ok {
			return nil
		}
		columns := len(glyph) / bigRows
		for y := range lines {
			shape := glyph[y*columns : (y+1)*columns]
			lines[y].WriteString(strings.NewReplacer("#", "█", ".", " ").Replace(shape) + " ")
		}
	}
	var rows []string
	for i := range lines {
		rows = append(rows, strings.TrimRight(lines[i].String(), " "))
		if len([]rune(rows[i])) > width {
			return nil
		}
	}
	return rows
}
