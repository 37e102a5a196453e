package separator

import "testing"

// The separator is found under a title, and next to the other marks that cells hold.
func TestSeparator(t *testing.T) {
	for text, want := range map[string]rune{
		"a,b\n1,2\n":                          ',',
		"a;b\n1;2\n":                          ';',
		"a\tb\n1\t2\n":                        '\t',
		"sep=;\na,b;c\n":                      ';',
		"a,b;c\n":                             ',', // nothing decides between them
		"The mill\n\na;b\n1;2\n":              ';',
		"The mill, drill;;\na;b;c\n1;2;3\n":   ';',
		"a;b\nS1, 2 in 35;x\non 50;y\n":       ';',
		"a,b\n1,\"on 50; on FH\"\n2,\"x;y\"":  ',',
		"a,b\n1,x;y\n2,z\n":                   ',',
		"a;b\n1;\"line\nend, and more\"\n2;z": ';',
		"a,b,c\n1,2,3,\n1,2\n":                ',', // rows of other lengths: the first row decides
		"":                                    ',',
		"\"never closed, and; so on":          ',',
	} {
		if got := Of(text); got != want {
			t.Errorf("%q is parted by %q, want %q", text, got, want)
		}
	}
}
