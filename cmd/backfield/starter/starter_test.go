package starter

import (
	"flag"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"backfield/cmd/backfield/show"
	"backfield/layout/field"
	"backfield/layout/source"
)

var update = flag.Bool("update", false, "write the golden texts again")

// files are a show in memory.
type files map[string]string

func (f files) Read(path string) ([]byte, error) {
	text, ok := f[path]
	if !ok {
		return nil, fs.ErrNotExist
	}
	return []byte(text), nil
}

func loadStarter(t *testing.T, s NewShow, edit func(files)) (*show.Loaded, []source.Problem) {
	t.Helper()
	made, err := s.Files()
	if err != nil {
		t.Fatal(err)
	}
	m := files{}
	for _, f := range made {
		m[f.Name] = string(f.Data)
	}
	if edit != nil {
		edit(m)
	}
	var p source.Problems
	read, err := show.Load(m, "show.toml", show.LoadOptions{}, &p)
	if err != nil {
		t.Fatal(err)
	}
	return read, p.All()
}

// Whatever is answered, the new show compiles and nothing is said of it.
func TestEveryNewShowIsClean(t *testing.T) {
	for _, code := range field.Codes() {
		for _, stacks := range StackCounts {
			for packs := FewestPacks; packs <= MostPacks; packs++ {
				if testing.Short() && packs > 4 && packs%9 != 0 {
					continue
				}
				n, _ := strconv.Atoi(stacks)
				s := NewShow{Name: `A "quoted" \ name, ünï`, Field: code, Stacks: n, Packs: packs, Dir: "d"}
				read, problems := loadStarter(t, s, nil)
				if len(problems) > 0 || read.Result.Show == nil {
					var b strings.Builder
					source.Print(&b, problems)
					t.Fatalf("%s, %s stacks, %d packs:\n%s", code, stacks, packs, b.String())
				}
				if got := len(read.Show.Cues[0].Channels); got != packs || read.Rig.Field.Code != code ||
					len(read.Rig.Stacks) != n || read.Show.Title != s.Name {
					t.Fatalf("%s, %s stacks, %d packs: %d channels, field %s, %d stacks, title %q", code, stacks, packs,
						got, read.Rig.Field.Code, len(read.Rig.Stacks), read.Show.Title)
				}
			}
		}
	}
}

// A high-school show on a 28-step grid reads its own dots.
func TestNewShowOnGrid28(t *testing.T) {
	s := NewShow{Name: "Grid", Field: "high-school", Grid28: true, Stacks: 2, Packs: 8, Dir: "d"}
	read, problems := loadStarter(t, s, nil)
	if len(problems) > 0 {
		var b strings.Builder
		source.Print(&b, problems)
		t.Fatal(b.String())
	}
	if want := read.Rig.Field.HashM / 28; read.Rig.Field.DepthStepM != want {
		t.Errorf("a step in depth is %g m, want %g", read.Rig.Field.DepthStepM, want)
	}
}

// The lines that are commented out are right, too.
func TestCommentsOfANewShowAreRight(t *testing.T) {
	s := NewShow{Name: "New Show", Field: "college", Stacks: 2, Packs: 8, Dir: "d"}
	read, problems := loadStarter(t, s, func(m files) {
		text := m["rig.toml"]
		before, after, ok := strings.Cut(text, "# [[stands]]")
		if !ok {
			t.Fatal("no stand in comments")
		}
		after = strings.ReplaceAll("# [[stands]]"+after, "\n# A field mic. It", "\n# # A field mic. It")
		m["rig.toml"] = before + strings.ReplaceAll("\n"+after, "\n# ", "\n")
		m["mixer.toml"] = strings.Replace(m["mixer.toml"], `"closed"`, `"glide"`, 1)
		m["show.toml"] = strings.Replace(m["show.toml"], "[mix]", "[always]\nfeature = [\"field center\"]\n\n[mix]", 1)
	})
	problems = slices.DeleteFunc(problems, func(x source.Problem) bool { // what two stacks can do for such stands
		return x.Code == "few-in-time" || x.Code == "echo-heard"
	})
	if len(problems) > 0 {
		var b strings.Builder
		source.Print(&b, problems)
		t.Fatal(b.String())
	}
	if len(read.Rig.Blocks) != 1 || len(read.Rig.Mics) != 1 {
		t.Errorf("%d stands, %d mics", len(read.Rig.Blocks), len(read.Rig.Mics))
	}
}

// The default, as people get it.
func TestNewShowGolden(t *testing.T) {
	s := NewShow{Name: "New Show", Field: "college", Stacks: 2, Packs: 8, Dir: "lanterns"}
	files, err := s.Files()
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		golden := filepath.Join("..", "..", "..", "testdata", "new", f.Name)
		if *update {
			if err := os.MkdirAll(filepath.Dir(golden), 0o755); err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(golden, f.Data, 0o644); err != nil {
				t.Fatal(err)
			}
		}
		want, err := os.ReadFile(golden)
		if err != nil {
			t.Fatal(err)
		}
		if string(want) != string(f.Data) {
			t.Errorf("%s is otherwise than in testdata/new (-update rewrites it):\n%s", f.Name, f.Data)
		}
	}
	if list, _ := os.ReadDir(filepath.Join("..", "..", "..", "testdata", "new")); len(list) != len(files) {
		t.Errorf("testdata/new has %d files, and %d are made", len(list), len(files))
	}
}
