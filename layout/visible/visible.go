// Package visible keeps text that others wrote (names and titles in a show's files, a journal, what a mixer or the network
// sends) from controlling a terminal or reversing the direction of what is read. What cannot be seen is written as an
// escape that can: ESC is \u001b.
package visible

import (
	"bytes"
	"fmt"
	"io"
	"strings"
	"sync"
	"sync/atomic"
	"unicode"
	"unicode/utf16"
	"unicode/utf8"
)

// Text writes each invisible character of a text as \uXXXX: control characters (also tabs and line ends), format
// characters such as the bidirectional ones, and line separators. One above U+FFFF takes two escapes, its UTF-16
// surrogates, as in JSON (RFC 8259, section 7), so that JSON keeps its meaning. A byte that is not UTF-8 is \xXX.
func Text(s string) string { return escape(s, func(rune) bool { return false }) }

// Line is Text for lines that have their tabs and line ends on purpose.
func Line(s string) string { return escape(s, layoutRune) }

func layoutRune(r rune) bool { return r == '\n' || r == '\t' }

func escape(s string, keep func(rune) bool) string {
	if strings.IndexFunc(s, func(r rune) bool { return hidden(r) && !keep(r) }) < 0 && utf8.ValidString(s) {
		return s
	}
	var b strings.Builder
	for i, r := range s {
		switch {
		case r == utf8.RuneError && !strings.HasPrefix(s[i:], string(utf8.RuneError)):
			fmt.Fprintf(&b, `\x%02x`, s[i])
		case !hidden(r) || keep(r):
			b.WriteRune(r)
		default:
			for _, unit := range utf16.Encode([]rune{r}) {
				fmt.Fprintf(&b, `\u%04x`, unit)
			}
		}
	}
	return b.String()
}

// hidden reports whether a character controls what is shown instead of being shown. The two joiners are shown in what
// they join, and some scripts need them; the prepended marks are shown as they are.
func hidden(r rune) bool {
	switch {
	case r < utf8.RuneSelf:
		return r < ' ' || r == 0x7f
	case r == '\u200c' || r == '\u200d' || unicode.Is(unicode.Prepended_Concatenation_Mark, r):
		return false
	}
	return unicode.In(r, unicode.Cc, unicode.Cf, unicode.Zl, unicode.Zp)
}

// Strange is the first character of a name that cannot be seen in it, by what people may know it as: "a zero-width space
// (U+200B)". It is "" where there is none. A joiner is strange only among Latin letters, which do not join.
func Strange(s string) string {
	joins := strings.ContainsFunc(s, func(r rune) bool { return unicode.IsLetter(r) && !unicode.Is(unicode.Latin, r) })
	for _, r := range s {
		isJoiner := r == '\u200c' || r == '\u200d'
		if !hidden(r) && r != '\u00a0' && (!isJoiner || joins) {
			continue
		}
		name := "a formatting character"
		switch {
		case r == '\u00a0':
			name = "a no-break space"
		case r == '\u200b' || r == '\ufeff' || r == '\u2060':
			name = "a zero-width space"
		case isJoiner:
			name = "a zero-width joiner"
		case r == '\u00ad':
			name = "a soft hyphen"
		case unicode.Is(unicode.Bidi_Control, r):
			name = "a mark that turns the direction of writing"
		case unicode.Is(unicode.Cc, r):
			name = "a control character"
		}
		return fmt.Sprintf("%s (U+%04X)", name, r)
	}
	return ""
}

// Writer is the filter in front of an output that people read: it writes what Line makes of the text. A program that
// draws on a terminal writes its control sequences to Raw, and passes other people's text through Text first. Its methods
// may be called from any goroutine.
type Writer struct {
	raw  io.Writer
	mu   sync.Mutex
	rest []byte // the beginning of a character whose end has not come yet

	shape  func(line string) string // see Shape; nil for none
	within bool                     // a line has begun and has not ended

	failed atomic.Pointer[error]
}

// NewWriter puts the filter in front of w.
func NewWriter(w io.Writer) *Writer { return &Writer{raw: w} }

// Shape sets what becomes of whole lines, such as line breaks that fit the terminal. It gets lines without their end, and
// only those that are written at once: what asks for an answer is left as it is. nil leaves all lines as they are.
func (w *Writer) Shape(shape func(line string) string) { w.shape = shape }

// shaped is a visible text with its whole lines shaped.
func (w *Writer) shaped(text string) string {
	if w.shape == nil || text == "" {
		return text
	}
	var b strings.Builder
	for line := range strings.Lines(text) {
		body, whole := strings.CutSuffix(line, "\n")
		if whole && !w.within {
			body = w.shape(body)
		}
		b.WriteString(body)
		if whole {
			b.WriteByte('\n')
		}
		w.within = !whole
	}
	return b.String()
}

// Write writes p, except for the bytes of a character that is not whole yet. The error is that of the output.
func (w *Writer) Write(p []byte) (int, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	whole := p
	if len(w.rest) > 0 {
		whole = append(w.rest, p...)
	}
	cut := len(whole)
	for back := 1; back < utf8.UTFMax && back <= len(whole); back++ {
		if utf8.RuneStart(whole[len(whole)-back]) {
			if !utf8.FullRune(whole[len(whole)-back:]) {
				cut -= back
			}
			break
		}
	}
	w.rest = bytes.Clone(whole[cut:])
	if _, err := w.Unfiltered().Write([]byte(w.shaped(Line(string(whole[:cut]))))); err != nil {
		return 0, err
	}
	return len(p), nil
}

// Failed is the error of the first write that failed, nil where none did.
func (w *Writer) Failed() error {
	if err := w.failed.Load(); err != nil {
		return *err
	}
	return nil
}

// Unfiltered writes to the output as it is. That a write failed is noted as that of any other.
func (w *Writer) Unfiltered() io.Writer { return unfiltered{w} }

type unfiltered struct{ *Writer }

func (u unfiltered) Write(p []byte) (int, error) {
	n, err := u.raw.Write(p)
	if err != nil {
		u.failed.CompareAndSwap(nil, &err)
	}
	return n, err
}

// Flush writes what is left of a character that never became whole.
func (w *Writer) Flush() error {
	w.mu.Lock()
	defer w.mu.Unlock()
	_, err := w.Unfiltered().Write([]byte(Line(string(w.rest))))
	w.rest = nil
	return err
}

// Raw is the output behind a filter, and w itself if there is none.
func Raw(w io.Writer) io.Writer {
	if f, ok := w.(*Writer); ok {
		return f.raw
	}
	return w
}
