package paper

import (
	"bytes"
	"context"
	"embed"
	"fmt"
	"html/template"
	"slices"
	"strings"

	"backfield/cmd/backfield/chromium"
	"backfield/cue"
	"backfield/cue/sheet"
	"backfield/layout/source"
)

//go:embed pages/*.html pages/*.css
var pages embed.FS

// PrintedPage is a sheet of one show, as HTML that needs no other file.
type PrintedPage struct {
	PrintedSheet
	HTML []byte
}

// pageData is what every template gets.
type pageData struct {
	*Papers
	Title     string
	Landscape bool
	Paged     bool
	Style     template.CSS
	Body      any // what the sheet's body returns; nil without one
}

// Pages makes all sheets of the show.
func (p *Papers) Pages() ([]PrintedPage, error) { return p.pages(sheets) }

// SetupAlone makes the sheet for the crew that sets up and strikes.
func (p *Papers) SetupAlone() ([]PrintedPage, error) {
	i := slices.IndexFunc(sheets, func(s PrintedSheet) bool { return s.Name == setupName })
	return p.pages(sheets[i : i+1])
}

func (p *Papers) pages(list []PrintedSheet) ([]PrintedPage, error) {
	var pages []PrintedPage
	for _, s := range list {
		page, err := p.page(s)
		if err != nil {
			return nil, err
		}
		pages = append(pages, page)
	}
	return pages, nil
}

// Index links pages, and their PDFs if withPDF. It is for the screen, and is not printed.
func (p *Papers) Index(pages []PrintedPage, withPDF bool) (PrintedPage, error) {
	links := index
	links.body = func(*Papers) (any, error) {
		return struct {
			Pages []PrintedPage
			PDF   bool
		}{pages, withPDF}, nil
	}
	return p.page(links)
}

// page fills in a sheet's template.
func (p *Papers) page(s PrintedSheet) (PrintedPage, error) {
	f := pageData{Papers: p, Title: s.Title, Landscape: s.Landscape, Paged: s.Paged}
	if s.body != nil {
		var err error
		if f.Body, err = s.body(p); err != nil {
			return PrintedPage{}, err
		}
	}
	html, err := p.html(s.Name, f)
	return PrintedPage{s, html}, err
}

func (p *Papers) html(name string, f pageData) ([]byte, error) {
	t, err := template.New("").Funcs(template.FuncMap{
		"clock": cue.ClockTime, "ms": minutesText, "time": sheet.ClockText, "hours": sheet.Hours,
		"moment": p.momentText, "name": unbroken, "list": source.And, "join": strings.Join,
		"count": source.Count, "number": number, "meters": metersText,
		"float": func(n int) float64 { return float64(n) },
		"blank": func(n int) []struct{} { return make([]struct{}, n) },
	}).ParseFS(pages, "pages/frame.html", "pages/"+name+".html")
	if err != nil {
		return nil, err
	}
	style, err := pages.ReadFile("pages/paper.css")
	if err != nil {
		return nil, err
	}
	f.Style = template.CSS(string(style) + p.footer(f))
	var b bytes.Buffer
	if err := t.ExecuteTemplate(&b, "frame.html", f); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}

// footer is the orientation, the margins and the footer of the page, which shows that a loose sheet is not last week's.
// It is CSS, since only the browser that prints knows where a page ends. A sheet that ends its pages itself has its own.
func (p *Papers) footer(f pageData) string {
	size := "@page { size: " + orientation(f.Landscape) + "; "
	if f.Paged {
		return size + "margin: 10mm 12mm }\n"
	}
	const font = "font: bold 9pt Helvetica, Arial, sans-serif; "
	left := cssText(p.Name() + " · " + f.Title + " · " + p.Night() + " · compile " + p.Mark)
	return size + "margin: 12mm 12mm 16mm 12mm; @bottom-left { " + font + "content: " + left + " } @bottom-right { " +
		font + `width: 30mm; content: "page " counter(page) " of " counter(pages) } }` + "\n"
}

// cssText quotes a text for CSS. Everything but plain letters and digits becomes an escape, so that no text can end the
// string or the style.
func cssText(s string) string {
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range s {
		if r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == ' ' {
			b.WriteRune(r)
		} else {
			fmt.Fprintf(&b, "\\%x ", r)
		}
	}
	b.WriteByte('"')
	return b.String()
}

// orientation is the orientation of a page, in CSS.
func orientation(landscape bool) string {
	if landscape {
		return "landscape"
	}
	return "portrait"
}

// Print makes a PDF of each page, in the same order. size is a paper size in CSS, "letter" or "a4". On an error it
// returns no PDF.
func Print(ctx context.Context, b *chromium.Browser, pages []PrintedPage, size string) ([][]byte, error) {
	var sized []chromium.PrintPage
	for _, p := range pages { // the HTML leaves the paper size open; a PDF needs one
		from := "@page { size: " + orientation(p.Landscape) + ";"
		to := "@page { size: " + size + " " + orientation(p.Landscape) + ";"
		html := bytes.Replace(p.HTML, []byte(from), []byte(to), 1)
		sized = append(sized, chromium.PrintPage{Name: p.Name, HTML: html})
	}
	return b.Print(ctx, sized)
}
