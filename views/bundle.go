package views

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
)

// bundles are the modules that are served with what they import as one file: every
// request of the recorder is made over a clinic's Wi-Fi, and what stands on every page is
// asked for with each.
var bundles = []string{"recorder.js", "unsent.js"}

var (
	importLine = regexp.MustCompile(`(?m)^import (?:\* as (\w+)|\{ ([^}]+) \}) from "\./([\w.]+)";\n`)
	exportWord = regexp.MustCompile(`(?m)^export (?:const|let|class|function|async function) (\w+)`)
)

// bundle is a module with all it imports: each is a function that gives what it exports,
// in the order in which they need each other. It knows the forms that our modules use.
func bundle(scripts map[string][]byte, name string) []byte {
	var b strings.Builder
	var done []string
	var put func(string)
	put = func(name string) {
		if slices.Contains(done, name) {
			return
		}
		text := string(scripts[name])
		for _, m := range importLine.FindAllStringSubmatch(text, -1) {
			put(m[3])
		}
		done = append(done, name)
		var gives []string
		for _, m := range exportWord.FindAllStringSubmatch(text, -1) {
			gives = append(gives, m[1])
		}
		text = importLine.ReplaceAllStringFunc(text, func(line string) string {
			m := importLine.FindStringSubmatch(line)
			if m[1] != "" {
				return fmt.Sprintf("const %s = %s;\n", m[1], inBundle(m[3]))
			}
			return fmt.Sprintf("const { %s } = %s;\n", m[2], inBundle(m[3]))
		})
		text = regexp.MustCompile(`(?m)^export `).ReplaceAllString(text, "")
		fmt.Fprintf(&b, "const %s = await (async () => {\n%sreturn { %s };\n})();\n", inBundle(name), text, strings.Join(gives, ", "))
	}
	put(name)
	return []byte(b.String())
}

// inBundle is the name of a module in a bundle.
func inBundle(name string) string { return "$" + strings.TrimSuffix(name, ".js") }
