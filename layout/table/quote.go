package table

import (
	"fmt"
	"strconv"
	"strings"
	"unicode"
)

// Quote writes a TOML string: literal where that is possible, else basic.
func Quote(s string) string {
	if q := strconv.Quote(s); !strings.Contains(q, `\`) {
		return q
	}
	if !strings.Contains(s, "'") && strings.IndexFunc(s, unicode.IsControl) < 0 {
		return "'" + s + "'"
	}
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range s {
		switch {
		case r == '"' || r == '\\':
			b.WriteString(`\` + string(r))
		case r < ' ' || r == 0x7F:
			fmt.Fprintf(&b, `\u%04X`, r)
		default:
			b.WriteRune(r)
		}
	}
	b.WriteByte('"')
	return b.String()
}
