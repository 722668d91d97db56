package views

import (
	"fmt"
	"math"
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// tokens are the colours of the light and of the dark scheme by their names.
func tokens(t *testing.T) (light, dark map[string]string) {
	css, err := os.ReadFile("static/css/1-base.css")
	require.NoError(t, err)
	day, night, ok := strings.Cut(string(css), "prefers-color-scheme: dark")
	require.True(t, ok)
	night, _, _ = strings.Cut(night, "*, *::before")
	of := func(text string) map[string]string {
		found := map[string]string{}
		for _, m := range regexp.MustCompile(`--([a-z-]+): (#[0-9a-f]{6});`).FindAllStringSubmatch(text, -1) {
			found[m[1]] = m[2]
		}
		return found
	}
	return of(day), of(night)
}

// contrast is the contrast ratio of WCAG 2.2 between two sRGB colours.
func contrast(t *testing.T, a, b string) float64 {
	x, y := luminance(t, a), luminance(t, b)
	return (max(x, y) + .05) / (min(x, y) + .05)
}

func luminance(t *testing.T, colour string) float64 {
	var sum float64
	for i, share := range []float64{.2126, .7152, .0722} {
		n, err := strconv.ParseUint(colour[1+2*i:3+2*i], 16, 8)
		require.NoError(t, err)
		c := float64(n) / 255
		if c <= .04045 {
			c /= 12.92
		} else {
			c = math.Pow((c+.055)/1.055, 2.4)
		}
		sum += share * c
	}
	return sum
}

// Worked examples of the ratio: black on white is 21:1 and #767676 on white 4.54:1 (WCAG
// 2.2, understanding 1.4.3).
func TestContrastIsThatOfTheStandard(t *testing.T) {
	require.InDelta(t, 21, contrast(t, "#000000", "#ffffff"), .001)
	require.InDelta(t, 4.54, contrast(t, "#767676", "#ffffff"), .005)
}

// Text needs 4.5:1 on whatever it stands on (WCAG 2.2, 1.4.3), parts that carry meaning
// 3:1 beside what lies around them (1.4.11).
func TestEveryColourCanBeTold(t *testing.T) {
	texts := map[string][]string{
		"ink": {"paper", "card", "sunk", "act-wash", "look-wash"}, "soft": {"paper", "card", "sunk", "act-wash", "look-wash"},
		"act": {"paper", "card", "act-wash"}, "look": {"paper", "card", "look-wash"}, "on-act": {"act"}, "on-look": {"look-part"},
	}
	parts := map[string][]string{
		"edge": {"card", "paper"}, "act-part": {"card", "paper", "act-wash"}, "look-part": {"card", "paper", "look-wash"}, "act": {"card", "paper"},
	}
	light, dark := tokens(t)
	for scheme, of := range map[string]map[string]string{"light": light, "dark": dark} {
		require.GreaterOrEqual(t, len(of), 15, scheme)
		for _, c := range []struct {
			least float64
			pairs map[string][]string
		}{{4.5, texts}, {3, parts}} {
			for front, backs := range c.pairs {
				for _, back := range backs {
					require.GreaterOrEqual(t, contrast(t, of[front], of[back]), c.least, "%s: %s on %s", scheme, front, back)
				}
			}
		}
	}
}

// No page has a colour of its own: one that is not a token cannot follow the scheme. Paper
// is white, and the mark's light is white on whatever it is.
func TestColoursAreTokens(t *testing.T) {
	entries, err := os.ReadDir("static/css")
	require.NoError(t, err)
	for _, e := range entries {
		css, err := os.ReadFile("static/css/" + e.Name())
		require.NoError(t, err)
		if e.Name() == "1-base.css" {
			continue
		}
		for n, line := range strings.Split(string(css), "\n") {
			if strings.Contains(line, "html { background: #fff; color: #000;") {
				continue
			}
			require.NotRegexp(t, `#[0-9a-fA-F]{3,6}\b[^{]*;`, line, "%s:%d", e.Name(), n+1)
		}
	}
	light, _ := tokens(t)
	mark, err := os.ReadFile("static/mark.svg")
	require.NoError(t, err)
	require.Contains(t, string(mark), light["act-part"])
}

var mixed = regexp.MustCompile(`--([a-z]+): color-mix\(in srgb, var\(--([a-z-]+)\) (\d+)%, var\(--([a-z-]+)\)\);`)

// mix is a colour between two, as color-mix(in srgb) makes it.
func mix(t *testing.T, a, b string, percent int64) string {
	out := "#"
	for i := 1; i < 7; i += 2 {
		x, err := strconv.ParseInt(a[i:i+2], 16, 64)
		require.NoError(t, err)
		y, err := strconv.ParseInt(b[i:i+2], 16, 64)
		require.NoError(t, err)
		out += fmt.Sprintf("%02x", (x*percent+y*(100-percent)+50)/100)
	}
	return out
}

// What surfaces are filled with lies under words: these are read on it and on its upper
// edge, which is seen beside what it ends at; so is the hatch, where no words are.
func TestWordsAreReadOnWater(t *testing.T) {
	css, err := os.ReadFile("static/css/9-surface.css")
	require.NoError(t, err)
	made := mixed.FindAllStringSubmatch(string(css), -1)
	require.Len(t, made, 2)
	light, dark := tokens(t)
	for scheme, of := range map[string]map[string]string{"light": light, "dark": dark} {
		for _, m := range made {
			percent, err := strconv.ParseInt(m[3], 10, 64)
			require.NoError(t, err)
			of[m[1]] = mix(t, of[m[2]], of[m[4]], percent)
			require.GreaterOrEqual(t, contrast(t, of["ink"], of[m[1]]), 4.5, "%s: words on %s", scheme, m[1])
		}
		require.GreaterOrEqual(t, contrast(t, of["waterline"], of["card"]), 1.9, "%s: the line in grey", scheme)
		require.GreaterOrEqual(t, contrast(t, of["look-part"], of["look-wash"]), 3.0, "%s: the hatch in grey", scheme)
		for _, back := range []string{"water", "card", "sunk"} {
			require.GreaterOrEqual(t, contrast(t, of["act-part"], of[back]), 3.0, "%s: the edge on %s", scheme, back)
		}
	}
}
