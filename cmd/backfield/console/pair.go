package console

import "fmt"

// pairState says below the picture how the two laptops are.
func (p painter) pairState() partRows {
	v := p.v.Pair
	if v == nil {
		return partRows{}
	}
	behind := "up to date"
	if v.Missing > 0 {
		behind = fmt.Sprintf("%d behind", v.Missing)
	}
	text := fmt.Sprintf("term %d; journal %d entries, %s", v.Term, v.Entries, behind)
	if v.Sends && v.Headline != "" {
		text = clean(v.Headline)
	}
	return fixedRows(styled(text, plain).cut(p.width))
}
