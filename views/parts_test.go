package views

import (
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
)

// What the parts are there for is not written again on a page. The recorder, the run and
// their buttons are one screen of their own.
func TestPagesAreMadeOfParts(t *testing.T) {
	own := []string{"parts.templ", "recorder.templ", "run.templ", "taps.templ"}
	markup := regexp.MustCompile(`<h1|<table|<dl|<details(?: class="(?:[^a]|a[^s]))?[ >]|class="(?:note|panel|fold|card)\b|<section class="part|<input type="(?:text|password|search|date|radio|checkbox)"`)
	allowed := regexp.MustCompile(`<details class="ask"|<input type="radio" name="(?:after|area)"`) // of the order: a question under a button, a place between two rows, an area of the palette
	pages, err := filepath.Glob("*.templ")
	require.NoError(t, err)
	require.NotEmpty(t, pages)
	for _, name := range pages {
		if slices.Contains(own, name) {
			continue
		}
		text, err := os.ReadFile(name)
		require.NoError(t, err)
		rest := allowed.ReplaceAllString(string(text), "")
		require.Empty(t, markup.FindAllString(rest, -1), "%s has markup that views/parts.templ is there for", name)
	}
}

// Five sizes of letters and that of tiles, and no family or colour besides those of the first sheet. The
// run has its own until it is drawn anew.
func TestSheetsUseTheTokens(t *testing.T) {
	sheets, err := filepath.Glob("static/css/*.css")
	require.NoError(t, err)
	size := regexp.MustCompile(`font(?:-size)?:[^;}]*?([0-9.]+(?:rem|px|em))`)
	colour := regexp.MustCompile(`#[0-9a-fA-F]{3,8}\b`)
	for _, name := range sheets {
		text, err := os.ReadFile(name)
		require.NoError(t, err)
		base := filepath.Base(name)
		if base == "1-base.css" {
			continue
		}
		require.NotRegexp(t, colour, string(text), base)
		if base != "6-recorder.css" && base != "8-run.css" {
			require.Empty(t, size.FindAllString(string(text), -1), "%s has sizes of its own", base)
		}
	}
}
