package main

import (
	"fmt"
	"os"
	"os/signal"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/chromium"
	"backfield/cmd/backfield/paper"
	"backfield/cmd/backfield/publish"
	"backfield/cmd/backfield/verb"
)

// sheetFlags are the flags of sheet.
type sheetFlags struct {
	show                verb.ShowFlags
	dir, day, battery   string
	size                string // of the PDFs' paper
	csv, needPDF, noPDF bool
	setup               bool // only the sheet for setup and strike
}

// files makes all files, the index last, so that it is renamed last. notes say why there is no PDF.
func (f *sheetFlags) files(c *cobra.Command, p *paper.Papers) (files []publish.OutputFile, notes []string, err error) {
	gather := p.Pages
	if f.setup {
		gather = p.SetupAlone
	}
	pages, err := gather()
	if err != nil {
		return nil, nil, verb.Outside(err)
	}
	pdfs, notes, err := f.pdfs(c, pages)
	if err != nil {
		return nil, nil, verb.Outside(err)
	}
	for i, data := range pdfs {
		files = append(files, publish.OutputFile{Name: pages[i].PDF(), Data: data})
	}
	if f.csv {
		for _, t := range p.Tables() {
			files = append(files, publish.Spreadsheet(t.File, t.Rows))
		}
	}
	if f.setup {
		return append(files, publish.OutputFile{Name: pages[0].File(), Data: pages[0].HTML}), notes, nil
	}
	index, err := p.Index(pages, pdfs != nil)
	if err != nil {
		return nil, nil, verb.Outside(err)
	}
	for _, page := range append(pages, index) {
		files = append(files, publish.OutputFile{Name: page.File(), Data: page.HTML})
	}
	return files, notes, nil
}

// pdfs prints the pages, by the same index. Where no PDF is needed, a note says why there is none.
func (f *sheetFlags) pdfs(c *cobra.Command, pages []paper.PrintedPage) (pdfs [][]byte, notes []string, err error) {
	if f.noPDF {
		return nil, nil, nil
	}
	browser, err := chromium.Find()
	switch {
	case err != nil && f.needPDF:
		return nil, nil, fmt.Errorf("no PDF: %w", err)
	case err != nil:
		return nil, []string{fmt.Sprintf("no PDF: %v; print the pages from any browser", err)}, nil
	}
	ctx, stop := signal.NotifyContext(c.Context(), os.Interrupt) // so that the browser ends and its files are removed
	defer stop()
	pdfs, err = paper.Print(ctx, browser, pages, f.size)
	if err != nil && !f.needPDF && ctx.Err() == nil {
		return nil, []string{fmt.Sprintf("no PDF: %v", err)}, nil
	}
	return pdfs, nil, err
}
