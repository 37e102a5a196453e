package paper

import (
	"io/fs"
	"os"
	"strings"
	"testing"

	"backfield/cue/sheet"
	"backfield/layout/source"
)

// Every sheet has all its texts and its own name, and every template belongs to a sheet.
func TestSheetsAreDeclaredWhole(t *testing.T) {
	templates := map[string]bool{"frame.html": true}
	for _, s := range withIndex() {
		if templates[s.File()] {
			t.Errorf("two sheets are called %q", s.Name)
		}
		templates[s.File()] = true
		if s.Title == "" || s.Help == "" || s.Shows == "" || s.Name != index.Name && (s.For == "" || s.Readers == "") {
			t.Errorf("the sheet %q lacks a text: %+v", s.Name, s)
		}
		if strings.ContainsAny(s.Readers+s.Shows, "|\n") {
			t.Errorf("the sheet %q breaks the table of the help page", s.Name)
		}
	}
	files, err := fs.Glob(pages, "pages/*.html")
	if err != nil {
		t.Fatal(err)
	}
	for _, file := range files {
		if name := strings.TrimPrefix(file, "pages/"); !templates[name] {
			t.Errorf("no sheet uses the template %s", name)
		}
	}
	if len(files) != len(templates) {
		t.Errorf("%d templates for %d sheets and a frame", len(files), len(templates)-1)
	}
}

// Every sheet has its title and the mark of the compile, and the index links it.
func TestSheetsSayWhoseTheyAre(t *testing.T) {
	p := gathered(t, sixty(), "show.toml", nil)
	pages := pagesOf(t, p)
	for _, s := range withIndex() {
		html := string(pages[s.Name].HTML)
		for _, want := range []string{"<title>" + s.Title + ": ", p.Mark} {
			if !strings.Contains(html, want) {
				t.Errorf("the sheet %q does not say %q", s.Name, want)
			}
		}
		if s.Name != index.Name && !strings.Contains(string(pages[index.Name].HTML), ">"+s.Title+"</a>") {
			t.Errorf("the index does not link the sheet %q", s.Name)
		}
	}
}

// Every row has a cell for each column, a large show fills every table, and the help page describes every column.
func TestTables(t *testing.T) {
	reference, err := os.ReadFile("../help/sheet.md")
	if err != nil {
		t.Fatal(err)
	}
	var problems source.Problems
	day := sheet.ReadDay(&source.File{Name: "--day", Text: "9:00-12:00,20:30 show"}, 300, &problems)
	plan := sheet.Plan(day, 300, &problems)
	files := sixty()
	list := gathered(t, files, "show.toml", &plan).Tables()
	if len(list) != len(tables) {
		t.Fatalf("%d tables are written, and %d declared", len(list), len(tables))
	}
	for _, table := range list {
		if len(table.Rows) < 2 {
			t.Errorf("%s has no row", table.File)
		}
		for _, word := range append([]string{table.File}, table.Rows[0]...) {
			if !strings.Contains(string(reference), "`"+word+"`") {
				t.Errorf("the help page does not describe %s of %s", word, table.File)
			}
		}
		for _, row := range table.Rows {
			if len(row) != len(table.Rows[0]) {
				t.Errorf("%s has a row of %d cells for %d columns: %q", table.File, len(row), len(table.Rows[0]), row)
			}
		}
	}
	if without := gathered(t, files, "show.toml", nil).Tables(); len(without) != len(tables)-1 {
		t.Errorf("without a day %d tables are written, want all but that of the batteries", len(without))
	}
}
