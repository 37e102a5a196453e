package table

import (
	"reflect"
	"testing"

	"backfield/layout/source"
)

// hung is what two kinds of entries have in common.
type hung struct {
	Where
	Name Text `key:"name,required"`
	At   Num  `key:"at"`
}

type lamp struct {
	hung
	Color color `key:"color"`
}

type color struct{ Text }

// Words are the colors.
func (color) Words() []string { return []string{"amber", "blue"} }

type rack struct {
	Room  Text   `key:"room"`
	Lamp  []lamp `key:"lamp,named"`
	Spare []lamp `key:"spare"`
}

func read(t *testing.T, text string) (n *Node, p *source.Problems) {
	t.Helper()
	p = &source.Problems{}
	return ReadTOML(&source.File{Name: "t.toml", Text: text}, p), p
}

// The keys of a struct that is embedded are those of the struct around it, in their place.
func TestEmbeddedKeys(t *testing.T) {
	want := []string{"room", "lamp", "lamp.name", "lamp.at", "lamp.color", "spare", "spare.name", "spare.at",
		"spare.color"}
	if got := Keys(rack{}); !reflect.DeepEqual(got, want) {
		t.Errorf("keys %q, want %q", got, want)
	}
	n, p := read(t, "[[lamp]]\nname = \"a\"\nat = 2\ncolor = \"blue\"\n[[lamp]]\nat = 1\nhue = 3\n")
	var r rack
	Decode(n, &r, p)
	if len(r.Lamp) != 2 || r.Lamp[0].Name.V != "a" || r.Lamp[0].At.V != 2 || r.Lamp[0].Color.V != "blue" {
		t.Errorf("read %+v", r)
	}
	if at, _ := r.Lamp[1].Span.Position(); at != 5 {
		t.Errorf("the second entry is at line %d, want 5", at)
	}
	want2 := "5:1 missing-key <[[lamp]]> add it\n7:1 unknown-key <hue> it is one of \"name\", \"at\", \"color\"\n"
	if got := told(p); got != want2 {
		t.Errorf("told\n%swant\n%s", got, want2)
	}
}

// The schema knows the words that a key takes from the key's type.
func TestSchemaChooses(t *testing.T) {
	s := SchemaOf(rack{}, func(string, *Schema) {})
	for _, list := range []string{"lamp", "spare"} {
		entry := s.Properties[list].Items
		if got := entry.Properties["color"].Enum; !reflect.DeepEqual(got, []string{"amber", "blue"}) {
			t.Errorf("%s: colors %q", list, got)
		}
		if got := entry.Required; !reflect.DeepEqual(got, []string{"name"}) {
			t.Errorf("%s: required %q", list, got)
		}
	}
}

// Only the lists that are marked are merged by name; others are replaced whole.
func TestOverlayByDeclaration(t *testing.T) {
	base, p := read(t, "room = \"one\"\n[[lamp]]\nname = \"a\"\nat = 1\n[[lamp]]\nname = \"b\"\nat = 2\n"+
		"[[spare]]\nname = \"x\"\n[[spare]]\nname = \"y\"\n")
	over, q := read(t, "[[lamp]]\nname = \"b\"\nat = 5\n[[lamp]]\nname = \"c\"\n[[spare]]\nname = \"z\"\n")
	merged, added := Overlay(base, over, rack{})
	var r rack
	Decode(merged, &r, p)
	if p.Errors()+q.Errors() > 0 {
		t.Fatal(told(p), told(q))
	}
	if r.Room.V != "one" || len(r.Lamp) != 3 || r.Lamp[0].At.V != 1 || r.Lamp[1].At.V != 5 || r.Lamp[2].Name.V != "c" {
		t.Errorf("merged %+v", r)
	}
	if len(r.Spare) != 1 || r.Spare[0].Name.V != "z" {
		t.Errorf("the list that is not marked is %+v", r.Spare)
	}
	if len(added) != 1 || added[0].Get("name").Text != "c" {
		t.Errorf("added %d entries", len(added))
	}
	if got := base.Get("lamp").Items[1].Get("at").Float; got != 2 {
		t.Errorf("the tree below was changed: at = %g", got)
	}
}
