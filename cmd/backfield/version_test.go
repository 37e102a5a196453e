package main

import (
	"regexp"
	"runtime/debug"
	"strings"
	"testing"
)

// version prints what it was built from, if that is known.
func TestVersionPrintsTheBuild(t *testing.T) {
	t.Parallel()
	settings := []debug.BuildSetting{{Key: "vcs.revision", Value: "0123abcd"},
		{Key: "vcs.time", Value: "2026-01-02T03:04:05Z"}, {Key: "vcs.modified", Value: "true"}}
	for _, c := range []struct {
		info *debug.BuildInfo
		want string
	}{
		{nil, "backfield " + release + "\nbuilt by: "},
		{&debug.BuildInfo{Main: debug.Module{Path: "backfield", Version: "(devel)"}}, "backfield " + release +
			"\nbuilt by: "},
		{&debug.BuildInfo{Main: debug.Module{Path: "backfield", Version: "v0.4.1"}}, "\nmodule:   backfield v0.4.1\n"},
		{&debug.BuildInfo{Settings: settings}, "\nrevision: 0123abcd of 2026-01-02T03:04:05Z, with uncommitted " +
			"changes\n"},
		{&debug.BuildInfo{Settings: settings[:2]}, "\nrevision: 0123abcd of 2026-01-02T03:04:05Z\n"},
	} {
		var b strings.Builder
		if err := printVersion(&b, c.info); err != nil || !strings.Contains("\n"+b.String(), c.want) {
			t.Errorf("%v\n%s\nlacks\n%s", err, b.String(), c.want)
		}
	}
}

// The newest entry of the changelog is this version's.
func TestChangelogIsOfThisVersion(t *testing.T) {
	t.Parallel()
	heads := regexp.MustCompile(`(?m)^## (\d+\.\d+\.\d+)`).FindAllStringSubmatch(helpPage(t, "changelog"), -1)
	if len(heads) == 0 || heads[0][1] != release {
		t.Errorf("the changelog begins with %v, and this is %s", heads, release)
	}
}
