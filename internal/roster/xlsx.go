package roster

import (
	"archive/zip"
	"bytes"
	"compress/flate"
	"encoding/xml"
	"errors"
	"io"
	"path"
	"regexp"
	"strconv"
	"strings"
)

// An xlsx file is read part by part as it streams, and nothing of it is kept but the
// strings that its cells share: a reader that holds the workbook would hold whatever
// somebody sends.

// book is what cells of a sheet refer to.
type book struct {
	shared   []string
	formats  []format // by the number of a cell's style
	date1904 bool
}

// format is what a number format means for what a cell says.
type format struct {
	date bool
	pad  int // digits, with noughts before them
}

const muchText = "The .xlsx file has much more text than a list of people. Save the list alone."

const noBook = "The .xlsx file cannot be read (%s). Open it in a spreadsheet program and save it again, or save it as CSV."

func openBook(r io.ReaderAt, size int64) (*Table, error) {
	z, err := zip.NewReader(r, size)
	if err != nil {
		return nil, wholeFile(noBook, "it is not whole")
	}
	if err := smallEnough(z); err != nil {
		return nil, err
	}
	sheet, b, err := readBook(z)
	if err != nil {
		return nil, asFault(err)
	}
	return &Table{date1904: b.date1904, noShort: true, each: func(told func(int, []string) error) error {
		return asFault(b.rows(sheet, told))
	}}, nil
}

// smallEnough refuses by what a file says of its parts. One that says too little is cut
// short when it is unpacked.
func smallEnough(z *zip.Reader) error {
	if len(z.File) > mostParts {
		return wholeFile("The .xlsx file has %d parts; %d are the most. Save the list of people alone.", len(z.File), mostParts)
	}
	left := uint64(MostBytes)
	for _, f := range z.File {
		if f.UncompressedSize64 > left {
			return wholeFile("The .xlsx file unpacks to more than %d MB. Save the list of people alone.", MostBytes>>20)
		}
		left -= f.UncompressedSize64
		if strings.EqualFold(path.Base(f.Name), "sharedStrings.xml") && f.UncompressedSize64 > mostShared {
			return wholeFile(muchText)
		}
		if f.UncompressedSize64 > 1<<20 && f.UncompressedSize64/mostSqueeze > f.CompressedSize64 {
			return wholeFile("The .xlsx file unpacks to %d MB of next to nothing. Save the list of people alone.", f.UncompressedSize64>>20)
		}
	}
	return nil
}

// asFault makes a fault of what is wrong with the parts of a file.
func asFault(err error) error {
	var syntax *xml.SyntaxError
	switch {
	case errors.As(err, &syntax), errors.Is(err, zip.ErrFormat), errors.Is(err, zip.ErrChecksum), errors.Is(err, zip.ErrAlgorithm), errors.Is(err, io.ErrUnexpectedEOF):
		return wholeFile(noBook, "it is damaged")
	case errors.Is(err, errDeep):
		return wholeFile(noBook, "its parts are nested too deeply")
	}
	if damaged := flate.CorruptInputError(0); errors.As(err, &damaged) {
		return wholeFile(noBook, "it is damaged")
	}
	return err
}

var errDeep = errors.New("nested too deeply")

// walk tells each element of a part as it begins; text gathers until it ends.
type walk struct {
	*xml.Decoder
	depth int
}

// token is the next token; it keeps count of how deep it stands.
func (w *walk) token() (xml.Token, error) {
	t, err := w.RawToken()
	switch t.(type) {
	case xml.StartElement:
		if w.depth++; w.depth > mostDepth {
			return nil, errDeep
		}
	case xml.EndElement:
		w.depth--
	}
	return t, err
}

func newWalk(r io.Reader) *walk {
	w := &walk{Decoder: xml.NewDecoder(&marked{in: r})}
	w.CharsetReader = func(string, io.Reader) (io.Reader, error) { return nil, &xml.SyntaxError{Msg: "not in UTF-8"} }
	return w
}

// marked reads a part and refuses one that goes on and on without markup, for the decoder
// keeps what stands between two marks.
type marked struct {
	in    io.Reader
	since int
}

const mostUnmarked = 1 << 20

func (m *marked) Read(p []byte) (int, error) {
	n, err := m.in.Read(p)
	if at := bytes.LastIndexByte(p[:n], '<'); at >= 0 {
		m.since = n - at
	} else {
		m.since += n
	}
	if m.since > mostUnmarked {
		return 0, zip.ErrFormat
	}
	return n, err
}

func partNamed(z *zip.Reader, name string) *zip.File {
	for _, f := range z.File {
		if strings.TrimPrefix(f.Name, "/") == name {
			return f
		}
	}
	return nil
}

// elements opens a part and tells its elements' beginnings. A part that is not there has
// none.
func elements(z *zip.Reader, name string, told func(w *walk, e xml.StartElement) error) (err error) {
	part := partNamed(z, name)
	if part == nil {
		return nil
	}
	f, err := part.Open()
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	w := newWalk(f)
	for {
		t, err := w.token()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		if e, ok := t.(xml.StartElement); ok {
			if err := told(w, e); err != nil {
				return err
			}
		}
	}
}

func attr(e xml.StartElement, name string) string {
	for _, a := range e.Attr {
		if a.Name.Local == name {
			return a.Value
		}
	}
	return ""
}

// readBook finds the first sheet that is not hidden, and what its cells refer to.
func readBook(z *zip.Reader) (sheet *zip.File, b *book, err error) {
	b = &book{}
	id := ""
	err = elements(z, "xl/workbook.xml", func(_ *walk, e xml.StartElement) error {
		switch e.Name.Local {
		case "workbookPr":
			on := attr(e, "date1904")
			b.date1904 = on == "1" || on == "true"
		case "sheet":
			if id == "" && (attr(e, "state") == "" || attr(e, "state") == "visible") {
				id = attr(e, "id")
			}
		}
		return nil
	})
	if err != nil {
		return nil, nil, err
	}
	target := ""
	err = elements(z, "xl/_rels/workbook.xml.rels", func(_ *walk, e xml.StartElement) error {
		if e.Name.Local == "Relationship" && attr(e, "Id") == id {
			target = inBook(attr(e, "Target"))
		}
		return nil
	})
	if err != nil {
		return nil, nil, err
	}
	if sheet = partNamed(z, target); id == "" || sheet == nil {
		return nil, nil, wholeFile(noBook, "it has no sheet")
	}
	if err := b.readStyles(z); err != nil {
		return nil, nil, err
	}
	return sheet, b, b.readShared(z)
}

// inBook is the name of a part by what the workbook calls it.
func inBook(target string) string {
	if rooted, ok := strings.CutPrefix(target, "/"); ok {
		return rooted
	}
	return path.Join("xl", target)
}

// Number formats that have no code of their own in a file: those of days and times.
func builtInDate(id int) bool {
	return id >= 14 && id <= 22 || id >= 27 && id <= 36 || id >= 45 && id <= 47 || id >= 50 && id <= 58
}

var (
	quoted  = regexp.MustCompile(`"[^"]*"|\\.|\[[^\]]*\]|_.|\*.`) // signs of a format that stand for themselves
	noughts = regexp.MustCompile(`^0{2,20}$`)
)

func formatOf(id int, code string) format {
	switch {
	case builtInDate(id):
		return format{date: true}
	case noughts.MatchString(code):
		return format{pad: len(code)}
	}
	first, _, _ := strings.Cut(code, ";")
	return format{date: strings.ContainsAny(strings.ToLower(quoted.ReplaceAllString(first, "")), "ymd")}
}

func (b *book) readStyles(z *zip.Reader) error {
	codes := map[int]string{}
	cells := false
	return elements(z, "xl/styles.xml", func(_ *walk, e xml.StartElement) error {
		switch e.Name.Local {
		case "numFmt":
			id, _ := strconv.Atoi(attr(e, "numFmtId")) // one without a number is not referred to
			codes[id] = attr(e, "formatCode")
		case "cellXfs":
			cells = true
		case "cellStyles", "dxfs":
			cells = false
		case "xf":
			if cells && len(b.formats) < 1<<16 {
				id, _ := strconv.Atoi(attr(e, "numFmtId")) // none is the usual format
				b.formats = append(b.formats, formatOf(id, codes[id]))
			}
		}
		return nil
	})
}

func (b *book) readShared(z *zip.Reader) error {
	total := 0
	return elements(z, "xl/sharedStrings.xml", func(w *walk, e xml.StartElement) error {
		if e.Name.Local != "si" {
			return nil
		}
		text, err := w.text("si")
		if err != nil {
			return err
		}
		if total += len(text) + 16; total > mostStrings { // with what a string takes by itself
			return wholeFile(muchText)
		}
		b.shared = append(b.shared, text)
		return nil
	})
}

// text is what stands in the t elements up to the end of one, without the readings that
// East Asian names carry.
func (w *walk) text(until string) (string, error) {
	var text strings.Builder
	inText, reading := false, 0
	for {
		t, err := w.token()
		if err != nil {
			return "", notWhole(err)
		}
		switch t := t.(type) {
		case xml.StartElement:
			inText = t.Name.Local == "t"
			if t.Name.Local == "rPh" {
				reading++
			}
		case xml.EndElement:
			inText = false
			if t.Name.Local == "rPh" {
				reading--
			}
			if t.Name.Local == until {
				return escaped.ReplaceAllStringFunc(text.String(), unescape), nil
			}
		case xml.CharData:
			if inText && reading == 0 && text.Len() <= mostCell {
				text.Write(t)
			}
		}
	}
}

// escaped is a sign that XML cannot hold.
var escaped = regexp.MustCompile(`_x[0-9A-Fa-f]{4}_`)

func unescape(s string) string {
	n, err := strconv.ParseUint(s[2:6], 16, 16)
	if err != nil {
		return s
	}
	return string(rune(n))
}

func notWhole(err error) error {
	if errors.Is(err, io.EOF) {
		return io.ErrUnexpectedEOF
	}
	return err
}
