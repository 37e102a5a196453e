package table

import (
	"errors"
	"strings"

	"github.com/BurntSushi/toml"

	"backfield/layout/slip"
	"backfield/layout/source"
)

// TOMLLimit is the largest TOML file read, in bytes: the parser's cost grows steeply on hostile input, and
// a score of 2,000 cues is a quarter of this.
const TOMLLimit = 1 << 20

// deepest is the deepest nesting accepted; the parser would recurse without a limit.
const deepest = 200

// ReadTOML parses f into a tree of located values. On a syntax error the problem is reported and
// the tree is empty, and Decode says no more about it; the result is never nil.
func ReadTOML(f *source.File, p *source.Problems) *Node {
	root := &Node{Kind: Table, Span: f.Whole(), broken: true}
	if at, ok := tooDeep(f.Text); ok {
		p.Add(tooDeeplyNested(source.Span{File: f, Start: at, End: at + 1}))
		return root
	}
	var tree map[string]any
	meta, err := toml.Decode(f.Text, &tree)
	if err != nil {
		for _, x := range syntaxProblems(f, err) {
			p.Add(x)
		}
		return root
	}
	root.broken = false
	s := scanner{file: f, text: f.Text, keys: meta.Keys(), root: root}
	s.document()
	root.set(tree, p)
	return root
}

// tooDeep looks for nesting that the parser would not survive, of brackets or of a key's dotted parts. Like
// the parser it does not look into strings and comments.
func tooDeep(text string) (int, bool) {
	brackets, dots := 0, 0
	for s := (scanner{text: text}); s.at < len(text); s.at++ {
		switch text[s.at] {
		case '[', '{':
			brackets, dots = brackets+1, 0
		case ']', '}':
			brackets = max(brackets-1, 0)
		case '.':
			dots++
		case '\n', '=', ',':
			dots = 0
		case '"', '\'':
			s.quoted()
			s.at--
		case '#':
			s.skip("")
			s.at--
		}
		if brackets > deepest || dots > deepest {
			return s.at, true
		}
	}
	return 0, false
}

// mostSlips is how many mistakes of syntax are looked for in one file.
const mostSlips = 20

// syntaxProblems are the mistake that the parser stopped at, and slips after it: a line that is wrong by itself
// is left out, and the parser goes on. Whatever else it then finds may come from that.
func syntaxProblems(f *source.File, err error) (list []source.Problem) {
	rest := *f
	for err != nil && len(list) < mostSlips {
		x, line := syntaxProblem(&rest, err)
		if len(list) > 0 && (line.File == nil || x.Span.Start < list[len(list)-1].Span.Start) {
			break
		}
		x.Span.File = f
		if list = append(list, x); line.File == nil {
			break
		}
		rest.Text = rest.Text[:line.Start] + strings.Repeat(" ", line.End-line.Start) + rest.Text[line.End:]
		_, err = toml.Decode(rest.Text, new(map[string]any))
	}
	last := &list[len(list)-1]
	last.Do += "; the rest of this file is not checked until then"
	return list
}

// syntaxProblem takes the place from the byte offset: the parser's own column is wrong at line starts. Of a slip that
// is wrong in its line alone it has the line.
func syntaxProblem(f *source.File, err error) (x source.Problem, line source.Span) {
	x = source.Problem{Code: "toml-syntax", Span: f.Whole(), What: err.Error(), Do: "fix the line"}
	var parse toml.ParseError
	if errors.As(err, &parse) {
		x.What = strings.TrimSuffix(parse.Message, ".")
		at := min(max(parse.Position.Start, 0), len(f.Text))
		x.Span = source.Span{File: f, Start: at, End: min(at+max(parse.Position.Len, 1), len(f.Text))}
		if strings.Contains(x.What, "has already been defined") {
			x.Code = "duplicate-key"
			twice := slip.Twice(x.Span)
			x.Span, x.What, x.Do = twice.At, twice.What, twice.Do
		} else if h := slip.Habit(x.Span, x.What); h != nil {
			line = h.Alone(x.Span)
			x.Span, x.What, x.Do = h.At, h.What, h.Do
		}
	}
	return x, line
}

// scanner walks a text that the parser has accepted and notes where everything is. It decodes nothing:
// names come from the parser's own list of keys, taken in step, so that the two cannot disagree about one.
type scanner struct {
	file *source.File
	text string
	at   int
	keys []toml.Key
	root *Node
}

func (s *scanner) span(lo, hi int) source.Span { return source.Span{File: s.file, Start: lo, End: hi} }

func (s *scanner) document() {
	current := s.root
	for {
		s.skip(" \t\r\n")
		switch {
		case s.at >= len(s.text):
			return
		case s.text[s.at] == '[':
			current = s.header()
		default:
			s.pair(current)
		}
	}
}

// skip passes over the given white space, and comments where line ends are white space.
func (s *scanner) skip(space string) {
	for s.at < len(s.text) {
		switch c := s.text[s.at]; {
		case strings.IndexByte(space, c) >= 0:
			s.at++
		case c == '#':
			if nl := strings.IndexByte(s.text[s.at:], '\n'); nl >= 0 {
				s.at += nl
			} else {
				s.at = len(s.text)
			}
		default:
			return
		}
	}
}

// header reads [a.b] or [[a.b]] and returns the table that the following pairs belong to.
func (s *scanner) header() *Node {
	start := s.at
	list := strings.HasPrefix(s.text[s.at:], "[[")
	s.at++
	if list {
		s.at++
	}
	names, parts := s.key()
	for s.at < len(s.text) && s.text[s.at] != '\n' && s.text[s.at] != '#' {
		s.at++
	}
	end := start + len(strings.TrimRight(s.text[start:s.at], " \t\r"))

	t := s.descend(s.root, names[:len(names)-1], parts)
	last, key := names[len(names)-1], parts[len(parts)-1]
	n := t.Get(last)
	if list {
		if n == nil {
			n = &Node{Kind: Array, Key: key, Span: s.span(start, end)}
			t.add(last, n)
		}
		item := &Node{Kind: Table, Key: key, Span: s.span(start, end)}
		n.Items = append(n.Items, item)
		return item
	}
	if n == nil {
		n = &Node{Kind: Table, Key: key, Span: s.span(start, end)}
		t.add(last, n)
	}
	return n
}

// descend walks names from t, into the last item of a list, making tables that are not there yet.
func (s *scanner) descend(t *Node, names []string, parts []source.Span) *Node {
	for i, name := range names {
		n := t.Get(name)
		if n == nil {
			n = &Node{Kind: Table, Key: parts[i], Span: parts[i]}
			t.add(name, n)
		}
		if n.Kind == Array && len(n.Items) > 0 {
			n = n.Items[len(n.Items)-1]
		}
		t = n
	}
	return t
}

// pair reads key = value into t.
func (s *scanner) pair(t *Node) {
	names, parts := s.key()
	s.skip(" \t")
	s.at++ // the equals sign
	s.skip(" \t")
	t = s.descend(t, names[:len(names)-1], parts)
	n := s.value()
	n.Key = parts[len(parts)-1]
	t.add(names[len(names)-1], n)
}

// key reads a dotted key: its local names, from the parser's list, and where each part is.
func (s *scanner) key() (names []string, parts []source.Span) {
	for {
		s.skip(" \t")
		start := s.at
		if c := s.text[s.at]; c == '"' || c == '\'' {
			s.quoted()
		} else {
			for s.at < len(s.text) && strings.IndexByte(" \t.=]", s.text[s.at]) < 0 {
				s.at++
			}
		}
		parts = append(parts, s.span(start, s.at))
		s.skip(" \t")
		if s.at >= len(s.text) || s.text[s.at] != '.' {
			break
		}
		s.at++
	}
	full := s.keys[0]
	s.keys = s.keys[1:]
	return full[len(full)-len(parts):], parts
}

// value reads one value. What a scalar is becomes known when the tree is filled.
func (s *scanner) value() *Node {
	start := s.at
	n := &Node{Kind: String}
	switch s.text[s.at] {
	case '"', '\'':
		s.quoted()
	case '[':
		n.Kind = Array
		s.at++
		for s.more(']') {
			n.Items = append(n.Items, s.value())
		}
	case '{':
		n.Kind = Table
		s.at++
		for s.more('}') {
			s.pair(n)
		}
	default:
		for s.at < len(s.text) && strings.IndexByte(",]}#\r\n", s.text[s.at]) < 0 {
			s.at++
		}
		s.at = start + len(strings.TrimRight(s.text[start:s.at], " \t"))
	}
	n.Span = s.span(start, s.at)
	return n
}

// more passes over commas and white space inside brackets and reports whether another element follows; it
// takes the closing bracket when none does.
func (s *scanner) more(closing byte) bool {
	s.skip(" \t\r\n,")
	if s.at >= len(s.text) || s.text[s.at] == closing {
		s.at = min(s.at+1, len(s.text))
		return false
	}
	return true
}

// quoted passes over a string of any of the four kinds.
func (s *scanner) quoted() {
	quote := s.text[s.at : s.at+1]
	if three := strings.Repeat(quote, 3); strings.HasPrefix(s.text[s.at:], three) {
		quote = three
	}
	s.at += len(quote)
	for s.at < len(s.text) && !strings.HasPrefix(s.text[s.at:], quote) {
		if s.text[s.at] == '\\' && quote[0] == '"' {
			s.at++
		}
		s.at++
	}
	s.at = min(s.at+len(quote), len(s.text))
	if len(quote) == 3 { // up to two more quotes belong to the string itself
		for i := 0; i < 2 && s.at < len(s.text) && s.text[s.at] == quote[0]; i++ {
			s.at++
		}
	}
}
