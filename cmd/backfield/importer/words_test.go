package importer

import (
	"errors"
	"strings"
	"testing"

	"backfield/layout/field"
	"backfield/layout/source"
)

// Each word is asked for once; an answer that no dot can have is refused, and an empty one leaves the word.
func TestAskWords(t *testing.T) {
	ground, _ := field.ByCode("college")
	dots := &source.File{Text: "Left 2 in 35,on FH (HS)\nLeft 2 in 35 blue,8 beyond FH (HS)\nLeft on 40,more FH\n"}
	answers := []string{"left of it", "1", "-", "", "outside"}
	var refused []string
	put := func(question string, value *string, check func(string) error) error {
		for len(answers) > 0 {
			answer := answers[0]
			answers = answers[1:]
			if answer == "" {
				return nil
			}
			if err := check(answer); err != nil {
				refused = append(refused, err.Error())
				continue
			}
			*value = answer
			return nil
		}
		return errors.New("no answer")
	}
	asked, _ := AskWords(dots, ground, nil, put)
	got := wordLines(asked)
	want := "\n[drill.words]\n\"Left\" = \"side 1\"\n\"(HS)\" = \"\"\n\"beyond\" = \"outside\"\n"
	if got != want || strings.Join(refused, "|") != "write 1 or 2; - if the word says nothing; Enter leaves it" {
		t.Errorf("%s\n%v", got, refused)
	}
}

// Only words for a side are asked about as one; a bare number is a side there and nothing elsewhere.
func TestAskSide(t *testing.T) {
	ground, _ := field.ByCode("college")
	dots := &source.File{Text: "Rt 2 outside 35; 4 aft FH\nRt on 40; 4 aft FH\nRt on 45; on NH (HS)\nNH = front hash\n"}
	answers := map[string][]string{"Rt": {"outside", "2"}, "aft": {"4", "behind"}}
	var said []string
	given := []field.Word{{From: "(HS)"}}
	asked, spoken := AskWords(dots, ground, given, func(question string, value *string, check func(string) error) error {
		word := strings.Split(question, `"`)[1]
		if strings.Contains(question, "audience") != (word == "Rt") {
			t.Error(question)
		}
		for _, answer := range answers[word] {
			if err := check(answer); err != nil {
				said = append(said, err.Error())
				continue
			}
			*value = answer
		}
		return nil
	})
	got := wordLines(asked)
	if list := spoken.Strange("4 aft NH (HS)"); len(list) > 0 {
		t.Error(list)
	}
	if want := "\n[drill.words]\n\"(HS)\" = \"\"\n\"Rt\" = \"side 2\"\n\"aft\" = \"behind\"\n"; got != want || len(said) != 2 {
		t.Errorf("%s\n%q", got, said)
	}
}

// The flag takes the same, and a message names it.
func TestWords(t *testing.T) {
	words, err := Words([]string{"Left = side 1", "(HS)="})
	if err != nil || wordLines(words) != "\n[drill.words]\n\"Left\" = \"side 1\"\n\"(HS)\" = \"\"\n" {
		t.Error(words, err)
	}
	if _, err := Words([]string{"Left"}); err == nil || !strings.Contains(err.Error(), "--word") {
		t.Error(err)
	}
	var said strings.Builder
	noGuess(&said, "d.csv", "no dots", []string{"Left", "(HS)"})
	if want := "say what each means: --word \"Left=MEANING\" --word \"(HS)=MEANING\"\n"; !strings.HasSuffix(said.String(), want) {
		t.Error(said.String())
	}
	said.Reset()
	if Again(&said, words); said.String() != "to give the same words again: --word \"Left=side 1\" --word \"(HS)=\"\n" {
		t.Error(said.String())
	}
	ground, _ := field.ByCode("college")
	_, fault := ground.Lateral("Left 4 outside 40")
	x := ForFlags([]source.Problem{source.ErrorAt("bad-dot", source.Span{}, fault.What, fault.Do)})
	if !strings.HasSuffix(x[0].Do, `or say once what it means, with --word "Left=side 1"`) {
		t.Error(x[0].Do)
	}
}
