package browsertest

import (
	"bytes"
	"encoding/json"
	"image"
	"image/png"
	"os"
	"path/filepath"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	cdppage "github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
)

// signSets are signs of which each has to be told from each other: what a
// selector finds on /parts.
var signSets = map[string]struct {
	selector string
	least    int
}{
	"surface":  {"#key .swatch", 10},
	"tile":     {"#tiles .tap", 10},
	"standing": {".counts .shape", 6},
	"outcome":  {"#outcomes .shape", 3},
	"mark":     {"#marks td .shape", 4},
}

// Ways of seeing: all colours, none, those that colour-blind eyes lack, dark, and the
// system's own.
var seeing = map[string]func(*tab){
	"light":         func(*tab) {},
	"no colour":     func(b *tab) { b.eyes(emulation.SetEmulatedVisionDeficiencyTypeAchromatopsia) },
	"no green":      func(b *tab) { b.eyes(emulation.SetEmulatedVisionDeficiencyTypeDeuteranopia) },
	"no red":        func(b *tab) { b.eyes(emulation.SetEmulatedVisionDeficiencyTypeProtanopia) },
	"no blue":       func(b *tab) { b.eyes(emulation.SetEmulatedVisionDeficiencyTypeTritanopia) },
	"dark":          func(b *tab) { b.media(&emulation.MediaFeature{Name: "prefers-color-scheme", Value: "dark"}) },
	"forced colour": func(b *tab) { b.media(&emulation.MediaFeature{Name: "forced-colors", Value: "active"}) },
}

func (b *tab) eyes(without emulation.SetEmulatedVisionDeficiencyType) {
	b.t.Helper()
	_, err := chromedp.Call(b.ctx, emulation.SetEmulatedVisionDeficiency, emulation.SetEmulatedVisionDeficiencyParams{Type: without})
	require.NoError(b.t, err)
}

// Colour comes third: of two signs that mean different things a part that can be seen
// differs in lightness, however they are looked at.
func TestSignsAreToldApartHoweverSeen(t *testing.T) {
	c := staffed(t)
	for name, look := range seeing {
		t.Run(name, func(t *testing.T) {
			was := c.T
			c.T = t
			defer func() { c.T = was }()
			b := c.signedIn("edda", desktop)
			look(b)
			b.open("/parts")
			eval[bool](b, `(document.querySelectorAll("details").forEach((d) => { d.open = true; }), document.fonts.ready.then(() => true))`)
			picture := b.photograph("parts " + name)
			for of, set := range signSets {
				signs := b.cut(picture, set.selector)
				require.GreaterOrEqual(t, len(signs), set.least, of)
				apart(t, of, signs)
			}
		})
	}
}

// photograph is the whole page. With PHOTOGRAPHS it is kept in that folder, to be looked at.
func (b *tab) photograph(name string) *image.Gray {
	b.t.Helper()
	beyond := true
	got, err := chromedp.Call(b.ctx, cdppage.CaptureScreenshot, cdppage.CaptureScreenshotParams{CaptureBeyondViewport: &beyond})
	require.NoError(b.t, err)
	if folder := os.Getenv("PHOTOGRAPHS"); folder != "" {
		require.NoError(b.t, os.WriteFile(filepath.Join(folder, name+".png"), got.Data, 0o600))
	}
	picture, err := png.Decode(bytes.NewReader(got.Data))
	require.NoError(b.t, err)
	grey := image.NewGray(picture.Bounds())
	for y := grey.Rect.Min.Y; y < grey.Rect.Max.Y; y++ {
		for x := grey.Rect.Min.X; x < grey.Rect.Max.X; x++ {
			grey.Set(x, y, picture.At(x, y))
		}
	}
	return grey
}

// cut is what the elements of a selector look like, of equal size.
func (b *tab) cut(picture *image.Gray, selector string) (signs []*image.Gray) {
	b.t.Helper()
	sel, err := json.Marshal(selector)
	require.NoError(b.t, err)
	type box struct{ X, Y, W, H int }
	boxes := eval[[]box](b, `[...document.querySelectorAll(`+string(sel)+`)].map((e) => { const r = e.getBoundingClientRect();
		return { X: Math.round(r.left + scrollX), Y: Math.round(r.top + scrollY), W: Math.round(r.width), H: Math.round(r.height) }; })`)
	for _, x := range boxes {
		require.Equal(b.t, boxes[0].W, x.W, selector)
		sign := image.NewGray(image.Rect(0, 0, x.W, x.H))
		for v := range x.H {
			for u := range x.W {
				sign.SetGray(u, v, picture.GrayAt(x.X+u, x.Y+v))
			}
		}
		signs = append(signs, sign)
	}
	return signs
}

// apart asks that of each two signs more than 3 in 100 dots differ by a fifth of the way
// from black to white: a stroke of two dots through a sign of 24 is 8 in 100.
func apart(t *testing.T, of string, signs []*image.Gray) {
	t.Helper()
	for i := range signs {
		for j := range i {
			n := 0
			for k := range signs[i].Pix {
				a, b := int(signs[i].Pix[k]), int(signs[j].Pix[k])
				if max(a-b, b-a) > 51 {
					n++
				}
			}
			require.Greater(t, 100*n, 3*len(signs[i].Pix), "%s %d and %d look alike", of, j+1, i+1)
		}
	}
}

// The letters are those that the program brings, and figures under each other are of one width.
func TestLettersAreOurs(t *testing.T) {
	b := staffed(t).signedIn("edda", desktop)
	b.open("/parts")
	require.True(t, eval[bool](b, `document.fonts.ready.then((all) => [...all].some((f) => f.status === "loaded" && f.family.includes("Atkinson")))`))
	widths := eval[[]float64](b, `[..."0123456789"].map((n) => { const s = document.createElement("span");
		s.textContent = n.repeat(20); document.querySelector(".stacks td").append(s); const w = s.getBoundingClientRect().width; s.remove(); return w; })`)
	require.Len(t, widths, 10)
	for _, w := range widths {
		require.InDelta(t, widths[0], w, .01)
		require.Positive(t, w)
	}
	loose := eval[[]float64](b, `["1", "8"].map((n) => { const s = document.createElement("span"); s.textContent = n.repeat(20); document.querySelector("h1").append(s); const w = s.getBoundingClientRect().width; s.remove(); return w; })`)
	require.NotEqual(t, loose[0], loose[1], "elsewhere they are as wide as they are")
}
