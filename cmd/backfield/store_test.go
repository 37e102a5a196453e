package main

import (
	"regexp"
	"testing"

	"backfield/cmd/backfield/mixerverbs"
)

// The page has every flag.
func TestHelpStoreHasEveryFlag(t *testing.T) {
	t.Parallel()
	all := spans(helpPage(t, "store"))
	flags := regexp.MustCompile(`--[a-z-]+`).FindAllString(mixerverbs.Store().Flags().FlagUsages(), -1)
	if len(flags) < 7 {
		t.Errorf("only %q", flags)
	}
	for _, flag := range flags {
		if !all[flag] {
			t.Errorf("store.md does not have %s", flag)
		}
	}
}
