package paper

import (
	"bytes"
	"context"
	"embed"
	"fmt"
	"html/template"
	"strings"

	"backfield/cmd/backfield/chromium"
	"backfield/cue"
	"backfield/cue/sheet"
	"backfield/layout/source"
)

//go:embed pages/*.html pages/*.css
var pages embed.FS

// PrintedPage is a printed sheet of one show, as HTML that needs no other file.
type PrintedPage struct {
	PrintedSheet
	HTML []byte
}

// pageData is what every template gets.
type pageData struct {
	*Papers
	Title     string
	Landscape bool
	Style     template.CSS
	Body      any // of the sheet's own; nil where it needs nothing but the papers
}

// Pages makes all sheets.
func (p *Papers) Pages() ([]PrintedPage, error) {
	var pages []PrintedPage
	for _, s := range sheets {
		page, err := p.page(s)
		if err != nil {
			return nil, err
		}
		pages = append(pages, page)
	}
	return pages, nil
}

// Index links pages, and their PDFs if withPDF. It is for screens, and not printed.
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
	f := pageData{Papers: p, Title: s.Title, Landscape: s.Landscape}
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
		"mics": p.mics, "closing": p.closing, "changes": p.changes,
		"spot": p.spot, "name": unbroken, "list": listed, "join": strings.Join,
		"count": source.Count, "number": number, "metres": metres, "float": func(n int) float64 { return float64(n) },
		"blank": func(n int) []struct{} { return make([]struct{}, n) },
	}).ParseFS(pages, "pages/frame.html", "pages/"+name+".html")
	if err != nil {
		return nil, err
	}
	style, err := pages.ReadFile("pages/paper.css")
	if err != nil {
		return nil, err
	}
	f.Style = template.CSS(string(style) + p.footer(f.Title, f.Landscape))
	var b bytes.Buffer
	if err := t.ExecuteTemplate(&b, "frame.html", f); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}

// footer is the page's foot and way up: what lets a loose sheet be told from last week's. It is CSS, for only the
// browser that prints knows the number of a page.
func (p *Papers) footer(title string, landscape bool) string {
	return fmt.Sprintf("@page { size: %s; @bottom-left { content: %s } }\n", way(landscape),
		cssText(p.Name()+" · "+title+" · "+p.Night()+" · compile "+p.Mark))
}

// cssText quotes a text for CSS: whatever is no plain letter becomes an escape, so that it cannot end the string or
// the style.
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

// way is a page's way up, in CSS.
func way(landscape bool) string {
	if landscape {
		return "landscape"
	}
	return "portrait"
}

// Print makes PDFs of pages, by the same index, on paper of a size of CSS, "letter" or "a4". On an error there is no
// PDF at all.
func Print(ctx context.Context, b *chromium.Browser, pages []PrintedPage, size string) ([][]byte, error) {
	var sized []chromium.PrintPage
	for _, p := range pages { // they leave the size to whoever prints them; here it must be said
		from, to := "@page { size: "+way(p.Landscape)+";", "@page { size: "+size+" "+way(p.Landscape)+";"
		sized = append(sized, chromium.PrintPage{Name: p.Name, HTML: bytes.Replace(p.HTML, []byte(from), []byte(to), 1)})
	}
	return b.Print(ctx, sized)
}
