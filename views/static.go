package views

import (
	"bytes"
	"compress/gzip"
	"context"
	"embed"
	"encoding/json"
	"errors"
	"io/fs"
	"path"
	"regexp"
	"slices"
	"strings"

	"stillwet/internal/procedure"
)

//go:embed static
var staticFiles embed.FS

// File is a static file as it is served.
type File struct {
	Type   string // media type
	Body   []byte
	Packed []byte // the same, compressed once as well as can be
}

var (
	files = map[string]File{}   // by served path, "/static/HASH/NAME"
	urls  = map[string]string{} // by name
)

var mediaTypes = map[string]string{
	".css": "text/css; charset=utf-8", ".js": "text/javascript; charset=utf-8", ".svg": "image/svg+xml",
	".woff2": "font/woff2", ".txt": "text/plain; charset=utf-8",
}

func init() {
	scripts, err := modules()
	if err != nil {
		panic(err) // the files are embedded: this is a build without them
	}
	for name, without := range sheets {
		sheet, err := stylesheet(without...)
		if err != nil {
			panic(err)
		}
		scripts[name] = lighter(sheet)
	}
	source := scripts["sw.js"] // it is served from the root
	delete(scripts, "sw.js")
	// One hash for the whole set: sheets name their letters by a relative path, so they
	// must stand in the same folder.
	var set []byte
	for _, name := range sortedKeys(scripts) {
		set = append(append(set, name+"\x00"...), scripts[name]...)
	}
	folder := "/static/" + procedure.Digest(set)[:12] + "/"
	for name, body := range scripts {
		urls[name] = folder + name
		files[folder+name] = File{mediaTypes[path.Ext(name)], body, packed(body)}
	}
	workerText = workerOf(source)
}

// offline are the files that the recorder needs while the server is away.
var offline = []string{"board.css", "recorder.js", "atkinson.woff2", "atkinson-ext.woff2", "mark.svg"}

var workerText []byte

// Worker is the script of the service worker.
func Worker() []byte { return workerText }

// workerOf puts into the worker what it keeps, and a version that is another one whenever
// the worker, the page or a file is.
func workerOf(source []byte) []byte {
	var page bytes.Buffer
	err := RecorderShell().Render(context.Background(), &page)
	kept := make([]string, len(offline))
	for i, name := range offline {
		kept[i] = urls[name]
	}
	list, wrong := json.Marshal(kept)
	if err = errors.Join(err, wrong); err != nil {
		panic(err) // as above
	}
	version := procedure.Digest(slices.Concat(source, page.Bytes(), list))[:12]
	return bytes.ReplaceAll(bytes.ReplaceAll(source, []byte("VERSION"), []byte(version)), []byte("FILES"), list)
}

// packed is a text as gzip. What is written to memory cannot fail.
func packed(body []byte) []byte {
	var b bytes.Buffer
	w, err := gzip.NewWriterLevel(&b, gzip.BestCompression)
	if err == nil {
		_, err = w.Write(body)
	}
	if err = errors.Join(err, w.Close()); err != nil {
		panic(err)
	}
	return b.Bytes()
}

var (
	indents    = regexp.MustCompile(`(?m)^[ \t]+`)
	cssRemarks = regexp.MustCompile(`(?s)/\*.*?\*/\n?`)
)

// lighter leaves out of a sheet what only readers of the source need: indentation and
// remarks. No string of ours runs over a line's end.
func lighter(sheet []byte) []byte {
	return cssRemarks.ReplaceAll(indents.ReplaceAll(sheet, nil), nil)
}

// sheets are the stylesheets, each one request, with what they do without. The board has
// nothing of the course, other pages nothing of the board, and every byte of it is read over a clinic's Wi-Fi.
var sheets = map[string][]string{"app.css": {"6-stationboard.css"}, "board.css": {"4-practice.css", "5-result.css", "7-people.css", "7-watch.css", "8-find.css"}}

// stylesheet joins the files of a sheet in the order of their names.
func stylesheet(without ...string) ([]byte, error) {
	names, err := fs.Glob(staticFiles, "static/css/*.css")
	if err != nil {
		return nil, err
	}
	var all []byte
	for _, name := range names {
		if slices.Contains(without, path.Base(name)) {
			continue
		}
		text, err := staticFiles.ReadFile(name)
		if err != nil {
			return nil, err
		}
		all = append(all, text...)
	}
	return all, nil
}

// modules are the files that are served besides the sheets. Of the scripts it is those that
// make generate joins: each with what it imports.
func modules() (map[string][]byte, error) {
	found := map[string][]byte{}
	err := fs.WalkDir(staticFiles, "static", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || strings.HasSuffix(name, ".css") || strings.HasPrefix(name, "static/js/") {
			return err
		}
		found[path.Base(name)], err = staticFiles.ReadFile(name)
		return err
	})
	return found, err
}

// Static returns the file served at a path. The path holds a hash of the
// content, so an answer may be cached for ever.
func Static(url string) (File, bool) {
	f, ok := files[url]
	return f, ok
}

// asset is the address of a static file; a name that is not there is a fault
// of a page and shows as one.
func asset(name string) string {
	if u, ok := urls[name]; ok {
		return u
	}
	return "/static/missing/" + name
}
