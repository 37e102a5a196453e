package page

import (
	"slices"

	"backfield/cmd/backfield/cuewords"
	"backfield/cmd/backfield/show"
	"backfield/cue/timeline"
	"backfield/layout/source"
)

// What a page says instead of "no problems" where not everything was checked.
const (
	checkingLevels = "checking levels"
	notChecked     = "not checked here: see backfield check"
)

// Draw takes a version of the show whose levels were not checked, draws it as Update does, and says on the page that they
// are being checked. Then judge checks them, and shows what it finds: it returns all problems of that version, or false if a
// newer one is there by then. Several goroutines may judge, each its own version.
func (t *Site) Draw(s *show.Loaded, problems []source.Problem) (judge func() ([]source.Problem, bool), err error) {
	if s.Show == nil { // it has no levels
		return func() ([]source.Problem, bool) { return problems, true }, t.Update(s, problems)
	}
	version, err := t.update(s, problems, checkingLevels)
	return func() ([]source.Problem, bool) {
		t.judging.Lock() // a newer version waits, since two at a time would take as long
		defer t.judging.Unlock()
		if !t.newest(version) {
			return nil, false
		}
		var p source.Problems
		for _, x := range problems {
			p.Add(x)
		}
		remarks := s.JudgeLevels(&p)
		return p.All(), t.complete(version, p.All(), remarks)
	}, err
}

// ShowUnchecked is Update for a place where the problems of the show are not looked for.
func (t *Site) ShowUnchecked(s *show.Loaded) error {
	_, err := t.update(s, nil, notChecked)
	return err
}

func (t *Site) newest(version int) bool {
	t.mu.Lock()
	defer t.mu.Unlock()
	return t.version == version
}

// complete replaces the problems of a view, which are then all there, and reports whether it is still the newest view.
func (t *Site) complete(version int, all []source.Problem, remarks []timeline.Remark) bool {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.version != version {
		return false
	}
	view := *t.view
	remarks = slices.Concat(t.good.Remarks, remarks)
	view.Problems, view.Accepted, view.Unchecked = t.builder.problems(all, remarks), cuewords.Accepted(remarks), ""
	view.AcceptedIn = cuewords.AcceptedIn(remarks)
	t.view = &view
	return t.publish() == nil
}
