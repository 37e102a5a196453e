package sent

import (
	"testing"
	"time"

	"backfield/osc"
)

// A step of a long delay may be smaller than the tolerance: an echo of the delay before confirms nothing, until that is
// forgotten.
func TestConfirms(t *testing.T) {
	var v Value
	now := time.Unix(1_700_000_000, 0)
	v.RecordSent(osc.Float32(100), now)
	if !v.Confirms(osc.Float64(100.1), 0.01) || v.Confirms(osc.Float32(103), 0.01) {
		t.Error("the first value is held to the tolerance alone")
	}
	v.RecordSent(osc.Float32(100.5), now)
	if v.Confirms(osc.Float32(100), 0.01) || !v.Confirms(osc.Float32(100.4), 0.01) {
		t.Error("what is nearer to the value before must not confirm, what is nearer to this one must")
	}
	v.RecordSent(osc.Float32(100.5), now)
	if v.Confirms(osc.Float32(100), 0.01) {
		t.Error("said again, the same, it forgets what was before")
	}
	v.ForgetBefore()
	if !v.Confirms(osc.Float32(100), 0.01) {
		t.Error("a mixer with coarse steps is never believed")
	}
	if v.Forget(); v.Holds(osc.Float32(100.5)) {
		t.Error("what is forgotten is held")
	}
}
