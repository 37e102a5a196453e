package firefox

import (
	"testing"
	"time"
)

// TestDriver uses a page as a reader would.
func TestDriver(t *testing.T) {
	w := Open(t)
	w.Go("data:text/html,<p id=p onmousemove=\"this.title='seen'\">one</p><input id=i autofocus>")
	w.Resize(390, 844)
	w.Key("ab")
	if got := w.Text("document.activeElement.value"); got != "ab" {
		t.Errorf("the input has %q", got)
	}
	w.Hover(20, 24)
	w.Await("document.querySelector('#p').title === 'seen'", 5*time.Second)
	w.ReducedMotion(true)
	if png := w.Shot(); len(png) < 100 || string(png[1:4]) != "PNG" {
		t.Errorf("a screenshot of %d bytes", len(png))
	}
}
