package views

import (
	"strings"

	"stillwet/internal/procedure"
	"stillwet/scenarios"
)

// AtStation is a title with the station's name behind it, where it is a variant.
func AtStation(title string, p *procedure.Procedure) string {
	if p.Variant == "" {
		return title
	}
	return title + ": " + p.Variant
}

// VariantAside says where the rest of a station is written down.
const VariantAside = "First the station and what it does not have. Then, under Surfaces, add what only it has, such as the bed itself: “At which station” names it there. Whether a demonstration at one station counts for all is asked under Choices."

// VariantRows are the variants of the stations.
func VariantRows(variants []scenarios.StationVariant, all []*procedure.Procedure) (rows []EditRow) {
	for _, x := range variants {
		says := "As " + x.Of
		for _, p := range all {
			if p.ID == x.Of {
				says = "Of “" + p.Definition.Title + "”"
				if len(x.Without) > 0 {
					says += ", without: " + titles(p, x.Without)
				}
			}
		}
		rows = append(rows, EditRow{Row: x.ID, Title: x.Title, Says: says, Off: x.Hidden})
	}
	return rows
}

// VariantFields are those of a variant, or of a new one.
func VariantFields(x scenarios.StationVariant, all []*procedure.Procedure, isNew bool) (fields []EditField) {
	var of, base []*procedure.Procedure
	for _, p := range all {
		if p.VariantOf == "" {
			of = append(of, p)
		}
		if p.ID == x.Of {
			base = append(base, p)
		}
	}
	if isNew {
		base = of
		field := EditField{Name: "of", Label: "It is a station for"}
		for _, p := range of {
			field.Options = append(field.Options, Option{p.ID, p.Definition.Title})
		}
		fields = append(fields, field)
	}
	ticks := surfaceTicks(base, func(procedure.Surface) bool { return true })
	return append(fields, EditField{Name: "title", Label: "What the station is called", Hint: "A word or two, for example: Bed", Value: x.Title},
		EditField{Name: "without", Label: "What this station does not have", Ticks: ticks, Value: strings.Join(x.Without, ", ")})
}

// CoverField asks whether what is shown at one variant of a station counts for all.
func CoverField(each bool) EditField {
	return EditField{Name: "variants", Label: "A demonstration at one kind of station", Value: either(each, "each", "one covers all"),
		Options: []Option{{"one covers all", "counts for all of them"}, {"each", "counts for that one: as many are asked at each"}}}
}

// StationField asks, where there are variants, at which station a new surface is.
func StationField(all []*procedure.Procedure) []EditField {
	x := EditField{Name: "of", Label: "At which station", Options: []Option{{"", "at every one that has its like"}}}
	for _, p := range all {
		if p.VariantOf != "" {
			x.Options = append(x.Options, Option{p.ID, "only at: " + p.Definition.Title})
		}
	}
	if len(x.Options) == 1 {
		return nil
	}
	return []EditField{x}
}
