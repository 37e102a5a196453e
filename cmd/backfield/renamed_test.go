package main

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"backfield/cmd/backfield/show"
	"backfield/cmd/backfield/simulated"
	"backfield/layout/source"
	"backfield/osc"
	"backfield/osc/mixer"
	"backfield/osc/run"
	"backfield/osc/trigger"
	"backfield/osc/wire"
)

// oldNames tries every old name, by its kind and name in the changelog, and returns the message that refuses it.
func oldNames(t *testing.T) map[string]func() string {
	command := func(args ...string) func() string {
		return func() string {
			var out, talk bytes.Buffer
			if code := execute(context.Background(), args, &out, &talk); code == 0 {
				return fmt.Sprintf("%v is not refused", args)
			}
			return out.String() + talk.String()
		}
	}
	inShow := func(file, old, now string) func() string {
		return func() string {
			dir := t.TempDir()
			if err := os.CopyFS(dir, os.DirFS("../../testdata/script/show")); err != nil {
				t.Fatal(err)
			}
			path := filepath.Join(dir, file)
			text, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			changed := strings.Replace(string(text), now, old, 1)
			if now == "" {
				changed = string(text) + "\n" + old + "\n"
			}
			if changed == string(text) {
				t.Fatalf("%s has no %q", file, now)
			}
			if err := os.WriteFile(path, []byte(changed), 0o644); err != nil {
				t.Fatal(err)
			}
			return command("check", dir)()
		}
	}
	typed := func(line string) func() string {
		return func() string {
			_, err := run.Parse(line)
			return fmt.Sprint(err)
		}
	}
	sent := func(address string, args ...osc.Arg) func() string {
		return func() string {
			_, _, err := trigger.Message(osc.Message{Address: address, Args: args})
			return fmt.Sprint(err)
		}
	}
	return map[string]func() string{
		"file desk.toml":                                  inShow("show.toml", `"desk.toml"`, `"mixer.toml"`),
		"show.toml desk =":                                inShow("show.toml", "desk =", "mixer  ="),
		"show.toml delay.free = true":                     inShow("show.toml", "[delay]\nfree = true", ""),
		`show.toml pan.by = "stand-fit"`:                  inShow("show.toml", "[pan]\nby = \"stand-fit\"", ""),
		"show.toml check.masked = 6":                      inShow("show.toml", "[check]\nmasked = 6", ""),
		"warning masked":                                  inShow("show.toml", "[check]\nallow = [\"masked\"]", ""),
		"rig.toml and venues [[stand]]":                   inShow("rig.toml", "[[stand]]\nname = \"home\"", ""),
		"command backfield desk":                          command("desk", "x.toml"),
		"command backfield schema desk":                   command("schema", "desk"),
		"run command to 12A":                              typed("to 12A"),
		"run command restore":                             typed("restore"),
		"OSC /backfield/to":                               sent("/backfield/to", osc.String("12A")),
		"OSC /backfield/restore":                          sent("/backfield/restore"),
		"line for the simulated mixer hand ADDRESS VALUE": func() string { return toSimulatedMixer(t, "hand /ch/1/mute 0") },
		"help page mixer":                                 func() string { return helpPage(t, "mixer") }, // another page has the name now, and refers to the new one
		"help page desk":                                  command("help", "desk"),
		"help page positions":                             command("help", "positions"),
		"help page rules":                                 command("help", "rules"),
		"help page stand":                                 command("help", "stand"),
		"help page machines":                              command("help", "machines"),
		"help page threats":                               command("help", "threats"),
		"help page params":                                command("help", "params"),
	}
}

// toSimulatedMixer types a line at a simulated mixer, and returns what it says on stderr.
func toSimulatedMixer(t *testing.T, line string) string {
	raw, err := show.Disk{}.Read("../../testdata/script/show/mixer.toml")
	if err != nil {
		t.Fatal(err)
	}
	var p source.Problems
	d := mixer.Read(&source.File{Name: "mixer.toml", Text: string(raw)}, &p)
	l, err := wire.Listen("127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	var out, talk bytes.Buffer
	in := strings.NewReader(line + "\nquit\n")
	if err := simulated.Serve(context.Background(), l, d, simulated.MixerOptions{}, in, &out, &talk); err != nil {
		t.Fatal(err)
	}
	return talk.String()
}

// Every old name that the changelog lists is refused, and the message has the new name.
func TestOldNamesAreRefused(t *testing.T) {
	_, table, _ := strings.Cut(helpPage(t, "changelog"), "| --- | --- | --- |\n")
	table, _, _ = strings.Cut(table, "\n\n")
	row := regexp.MustCompile("^\\| (.*) \\| `(.*)` \\| `(.*)` \\|$")
	tries := oldNames(t)
	for line := range strings.Lines(table) {
		m := row.FindStringSubmatch(strings.TrimSpace(line))
		if m == nil {
			t.Errorf("the changelog's row %q cannot be read", line)
			continue
		}
		name := m[1] + " " + m[2]
		try := tries[name]
		if try == nil {
			t.Errorf("nothing tries %s", name)
			continue
		}
		delete(tries, name)
		if got, now := try(), newWord(m[3]); !strings.Contains(got, now) {
			t.Errorf("%s: the message does not say %s:\n%s", name, now, got)
		}
	}
	for name := range tries {
		t.Errorf("%s is not in the changelog's table", name)
	}
}

// newWord is the word of a new name that a message has to say: its last one that is neither a placeholder nor a value.
func newWord(name string) string {
	for _, word := range []string{" ADDRESS VALUE", " 12A", " = false", " =", "[[", "]]", "[", "]", "backfield schema ", "backfield "} {
		name = strings.ReplaceAll(name, word, "")
	}
	return strings.TrimSuffix(strings.TrimPrefix(name, `pan.by "`), `"`)
}
