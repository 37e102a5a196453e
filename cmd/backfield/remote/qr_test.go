package remote

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// zbar reads the code in the terminal's cells, as a camera sees it, as the link, for many keys.
func TestCodeIsRead(t *testing.T) {
	zbar, err := exec.LookPath("zbarimg")
	if err != nil {
		if os.Getenv("BACKFIELD_REQUIRE_TOOLS") != "" {
			t.Fatal("zbarimg is required here and not on the path")
		}
		t.Skip("no zbarimg is on the path (Debian: apt install zbar-tools)")
	}
	for i, host := range []string{"192.168.100.200:8080", "10.0.0.2:80", "[fd00::1:2]:65535", "192.168.1.20:40123"} {
		var d accessList
		if err := d.renew(); err != nil {
			t.Fatal(err)
		}
		want := "HTTP://" + strings.ToUpper(host) + "/K/" + d.key
		rows, err := qrRows(want)
		if err != nil {
			t.Fatal(err)
		}
		if len(rows) > 21 || len([]rune(rows[0])) > 41 {
			t.Errorf("%s: %d rows of %d cells", host, len(rows), len([]rune(rows[0])))
		}
		const scale = 6
		var bits bytes.Buffer // a portable graymap: netpbm's plain text form
		fmt.Fprintf(&bits, "P2 %d %d 1\n", scale*len([]rune(rows[0])), 2*scale*len(rows))
		for _, row := range rows {
			for half := range 2 {
				line := ""
				for _, cell := range row {
					dark := cell == '█' || cell == '▀' && half == 0 || cell == '▄' && half == 1
					line += strings.Repeat(map[bool]string{true: "0 ", false: "1 "}[dark], scale)
				}
				bits.WriteString(strings.Repeat(line+"\n", scale))
			}
		}
		file := filepath.Join(t.TempDir(), fmt.Sprintf("%d.pgm", i))
		if err := os.WriteFile(file, bits.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
		got, err := exec.Command(zbar, "--quiet", "--raw", file).Output() // without its talk
		if err != nil || strings.TrimSpace(string(got)) != want {
			t.Errorf("zbar reads %q, not %q: %v", got, want, err)
		}
	}
}
