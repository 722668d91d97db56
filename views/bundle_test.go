package views

import (
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// A bundle asks for nothing more: every import and export of what it holds is of a form
// that it knows.
func TestABundleIsWhole(t *testing.T) {
	left := regexp.MustCompile(`(?m)^(?:import|export)\b`)
	for _, name := range bundles {
		f, ok := Static(urls[name])
		require.True(t, ok)
		require.NotRegexp(t, left, string(f.Body), name)
	}
	got := string(bundle(map[string][]byte{
		"a.js": []byte("import { f, g } from \"./b.js\";\nimport * as c from \"./c.js\";\nf(c.x);\n"),
		"b.js": []byte("import { x } from \"./c.js\";\nexport function f() {}\nexport const g = x;\n"),
		"c.js": []byte("export const x = 1;\n"),
	}, "a.js"))
	require.Equal(t, strings.Join([]string{
		"const $c = await (async () => {", "const x = 1;", "return { x };", "})();",
		"const $b = await (async () => {", "const { x } = $c;", "function f() {}", "const g = x;", "return { f, g };", "})();",
		"const $a = await (async () => {", "const { f, g } = $b;", "const c = $c;", "f(c.x);", "return {  };", "})();", "",
	}, "\n"), got)
}
