package scenarios_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/scenarios"
)

func spokenOf(t *testing.T, edits ...scenarios.Edit) (texts []string) {
	set, lib := edited(t, edits...)
	for _, x := range set.Spoken(lib) {
		texts = append(texts, x.Text())
	}
	return texts
}

// What the stations do not have any more and words still name is told as advice: as a whole
// phrase, where nothing else is called so; a row that a lesson was to show is told too.
func TestWordsOfWhatIsGoneAreTold(t *testing.T) {
	require.Empty(t, spokenOf(t), "the starting point speaks of nothing that is not there")

	pole := scenarios.Edit{Do: "hide", List: "surfaces", Row: "pole"}
	texts := strings.Join(spokenOf(t, pole), "\n")
	require.Contains(t, texts, "speaks of “Pole”, which your stations do not have.")
	require.NotContains(t, texts, "“Screen”")
	other := scenarios.Edit{Do: "put", List: "surfaces", Row: "stand", Fields: fields{"title": "Pole", "face": "stand", "wipe_s": "12"}}
	require.NotContains(t, strings.Join(spokenOf(t, pole, other), "\n"), "“Pole”", "another is called so")

	story := scenarios.Edit{Do: "put", List: "scenarios", Row: "ordinary-turnover", Fields: fields{"story": "There is a coat on the call light."}}
	light := scenarios.Edit{Do: "hide", List: "surfaces", Row: "call-light"}
	require.NotEmpty(t, spokenOf(t, story, light))
	story.Fields["story"] = "There is a coat on the call lights."
	require.NotContains(t, strings.Join(spokenOf(t, story, light), "\n"), "Scenario “", "a part of a word is no phrase")

	bucket := scenarios.Edit{Do: "hide", List: "items", Row: "bucket"}
	require.Contains(t, strings.Join(spokenOf(t, bucket), "\n"), "was to show “")
}
