package music

import (
	"archive/zip"
	"bytes"
	"encoding/binary"
	"encoding/xml"
	"fmt"
	"io"
	"path"
	"regexp"
	"unicode/utf16"
)

// unpack finds the score in a packed file (.mxl): META-INF/container.xml names it (MusicXML 4.0, "Compressed .mxl
// files"). It reads no more than xmlLimit of it, whatever the packing claims.
func (r *musicReader) unpack() (name string, text []byte) {
	archive, err := zip.NewReader(bytes.NewReader(r.raw), int64(len(r.raw)))
	if err != nil {
		r.bad("is damaged: "+err.Error(), "export it again")
		return "", nil
	}
	read := func(name string) []byte {
		f, err := archive.Open(path.Clean(name))
		if err != nil {
			r.bad(fmt.Sprintf("has no file %q", name), "export it again, as .mxl or .musicxml")
			return nil
		}
		defer f.Close()
		data, err := io.ReadAll(io.LimitReader(f, xmlLimit+1))
		switch {
		case err != nil:
			r.bad(fmt.Sprintf("is damaged: %s in it: %v", name, err), "export it again")
			return nil
		case len(data) > xmlLimit:
			r.bad(fmt.Sprintf("has %s in it, which unpacks to more than %d bytes", name, xmlLimit),
				"export fewer parts")
			return nil
		}
		return data
	}
	container := read("META-INF/container.xml")
	if container == nil {
		return "", nil
	}
	var c struct {
		Files []struct {
			Path string `xml:"full-path,attr"`
		} `xml:"rootfiles>rootfile"`
	}
	if err := xml.Unmarshal(container, &c); err != nil || len(c.Files) == 0 {
		r.bad("does not say in META-INF/container.xml which file in it is the score", "export it again")
		return "", nil
	}
	return c.Files[0].Path, read(c.Files[0].Path)
}

// latinText is how XML begins that says it is written in Latin 1.
var latinText = regexp.MustCompile(`(?i)^\s*<\?xml[^>]{0,80}encoding=["'](iso-8859-1|latin1|us-ascii)["']`)

// narrow makes UTF-8 of UTF-16 with a byte order mark and of Latin 1, in which some programs write XML.
func narrow(raw []byte) []byte {
	if latinText.Match(raw) {
		return []byte(latin(string(raw)))
	}
	var order binary.ByteOrder
	switch {
	case bytes.HasPrefix(raw, []byte{0xFF, 0xFE}):
		order = binary.LittleEndian
	case bytes.HasPrefix(raw, []byte{0xFE, 0xFF}):
		order = binary.BigEndian
	default:
		return raw
	}
	units := make([]uint16, 0, len(raw)/2)
	for i := 2; i+1 < len(raw); i += 2 {
		units = append(units, order.Uint16(raw[i:]))
	}
	return []byte(string(utf16.Decode(units)))
}
