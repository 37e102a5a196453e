package page_test

import (
	"os"
	"testing"

	"backfield/cmd/backfield/browser"
	"backfield/osc/waiting"
)

func TestMain(m *testing.M) {
	code := waiting.Run(m)
	browser.End()
	os.Exit(code)
}
