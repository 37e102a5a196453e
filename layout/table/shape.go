package table

import (
	"fmt"
	"strings"

	"backfield/layout/slip"
	"backfield/layout/source"
)

// What to write instead, where a value of another shape shows what was meant.

// written is the text of a value in its file, "" for a sample node.
func (n *Node) written() string {
	if n.Span.File == nil {
		return ""
	}
	return n.Span.File.Text[n.Span.Start:n.Span.End]
}

// keyWritten is the key of a value as it is written, with its dots: "open.feature".
func (n *Node) keyWritten() string {
	if n.Key.File == nil || n.Key.Start >= n.Span.Start {
		return ""
	}
	line, lo := slip.Line(n.Key)
	from := strings.LastIndexAny(line[:n.Key.Start-lo], "{,") + 1
	return strings.TrimSpace(line[from : n.Key.End-lo])
}

// isScalar reports whether a value is neither a table nor a list.
func (n *Node) isScalar() bool { return n.Kind != Table && n.Kind != Array }

// quoteIt says how a value that should be a string is written as one.
func quoteIt(n *Node) string {
	if text := n.written(); text != "" && n.isScalar() && !strings.ContainsAny(text, "\"\n") {
		return fmt.Sprintf("put it in quotes: %q", text)
	}
	return seePage(n)
}

// wantsList reports a value that should be a list. entries says that it should be a list of tables and is one table.
func wantsList(n *Node, want string, entries bool, p *source.Problems) {
	text, key := n.written(), n.keyWritten()
	switch {
	case entries && strings.HasPrefix(text, "["):
		name := strings.Trim(text, "[] \t")
		p.Add(source.ErrorAt("wrong-type", n.Span, fmt.Sprintf("[%s] has single brackets", name),
			fmt.Sprintf("write [[%s]] with double brackets: each one is a separate entry", name)))
	case key != "" && (n.isScalar() || entries) && !strings.Contains(text, "\n"):
		p.Add(wrongType(n, want, fmt.Sprintf("write %s = [%s]", key, text)))
	default:
		WrongType(n, want, p)
	}
}

// wantsTable reports a value that should be a table. A list of names and numbers by turns shows which.
func wantsTable(n *Node, p *source.Problems) {
	text, key := n.written(), n.keyWritten()
	if n.Kind == Array && strings.HasPrefix(text, "[[") && key == "" {
		name := strings.Trim(text, "[] \t")
		p.Add(source.ErrorAt("wrong-type", n.Span, fmt.Sprintf("[[%s]] has double brackets", name),
			fmt.Sprintf("write [%s] with single brackets: there is only one", name)))
		return
	}
	pairs := n.Kind == Array && key != "" && len(n.Items) > 0 && len(n.Items)%2 == 0
	var entries []string
	for i := 0; pairs && i < len(n.Items); i += 2 {
		name, value := n.Items[i], n.Items[i+1]
		pairs = name.Kind == String && value.isScalar() && value.Kind != String
		entries = append(entries, name.written()+" = "+value.written())
	}
	if !pairs {
		WrongType(n, "a table", p)
		return
	}
	p.Add(wrongType(n, "a table", fmt.Sprintf("write %s = { %s }", key, strings.Join(entries, ", "))))
}
