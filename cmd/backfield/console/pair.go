package console

import (
	"fmt"

	"backfield/layout/source"
)

// pairState says below the picture how the two laptops are.
func (p painter) pairState() partRows {
	v := p.v.Pair
	if v == nil {
		return partRows{}
	}
	text := v.Headline
	switch {
	case v.Gone && !v.Sends:
		text = "What the other laptop did since is not known here"
	case !v.Sends && v.Missing > 0:
		actions := source.Count(float64(v.Missing), "action")
		text = fmt.Sprintf("Not here yet: %s of the other laptop. Look at the cue first", actions)
	case !v.Sends:
		text = "This laptop knows all that the other one has done"
	case v.Alone: // an alarm says it
		text = ""
	case v.Waits && p.v.Step != "": // the key is not for everybody who looks at a show
		text = "no standby (:status shows its key)"
	}
	if text == "" {
		return partRows{}
	}
	return fixedRows(styled(clean(text), plain).cut(p.width))
}
