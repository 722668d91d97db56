package views

import (
	"slices"
	"strings"

	"stillwet/internal/procedure"
)

// itemKinds say what becomes of a thing. The bucket is one thing, and no other can be it.
var itemKinds = []Option{
	{string(procedure.SingleUse), "used once, then thrown away"},
	{string(procedure.SinglePatient), "cannot be disinfected: thrown away, or kept for this patient"},
	{string(procedure.Reusable), "used again: set apart, and disinfected before it goes back"},
	{string(procedure.Circuit), "holds blood, as lines do: taken off, then into a leak-proof container"},
	{string(procedure.Sharp), "sharp: into the sharps box and nowhere else"},
	{string(procedure.Reprocess), "made ready to be used again elsewhere: taken off, capped, carried away"},
	{string(procedure.Container), "a bag or box for used things: taken away at the end"},
	{string(procedure.Supplies), "supplies for the turnover"},
	{string(procedure.NextSet), "clean things for the next patient"},
}

const bucketText = "the bucket: emptied, wiped, put back"

// placeKinds say what a place is for.
var placeKinds = []Option{
	{string(procedure.Waste), "for waste"}, {string(procedure.LeakProof), "for waste, closed and leak-proof"}, {string(procedure.Sharps), "for sharp things"},
	{string(procedure.SetApart), "for used things that are to be cleaned"}, {string(procedure.CleanArea), "for clean things only"}, {string(procedure.Drain), "a drain for what is emptied"},
	{string(procedure.Sink), "a basin that is no drain for waste"}, {string(procedure.Elsewhere), "another station, or outside"},
}

func itemKindText(kind procedure.ItemKind) string {
	if kind == procedure.BucketItem {
		return procedure.Capital(bucketText)
	}
	return procedure.Capital(optionText(itemKinds, string(kind)))
}

func placeKindText(kind procedure.PlaceKind) string {
	return procedure.Capital(optionText(placeKinds, string(kind)))
}

func optionText(options []Option, value string) string {
	if i := slices.IndexFunc(options, func(o Option) bool { return o.Value == value }); i >= 0 {
		return options[i].Text
	}
	return value
}

func itemFields(x procedure.Item) []EditField {
	kind := EditField{Name: "kind", Label: "What it is", Value: string(x.Kind), Options: itemKinds}
	if x.Kind == procedure.BucketItem {
		kind.Options = []Option{{string(x.Kind), bucketText}}
	}
	return []EditField{{Name: "title", Label: "Name", Value: x.Title}, kind,
		{Name: "goes", Label: "May go to", Value: strings.Join(x.Goes, ", ")},
		{Name: "when_named", Label: "When it is there", Value: truth(x.WhenNamed), Options: []Option{{"false", "at every turnover: every right answer deals with it"}, {"true", "now and then: only in stories that name it"}}},
		{Name: "isolation", Label: "It belongs to an isolation room and stays there", Value: truth(x.Isolation), Options: yesNo}, basisField(x.Basis)}
}

func placeFields(x procedure.Place) []EditField {
	return []EditField{{Name: "title", Label: "Name", Value: x.Title}, {Name: "kind", Label: "What it is for", Value: string(x.Kind), Options: placeKinds}, basisField(x.Basis)}
}

// NewItemAside says what comes with a thing that is added.
const NewItemAside = "The steps that a turnover needs with it come with it, among the steps of its like: thrown away, set apart and disinfected, or taken off first, as it is said here. Change their words under Steps. Every right answer deals with it before the first wipe; a scenario that cannot rests, and the list of things says which."

// DoneWith are the steps that do something with a thing, or put something in a place.
func DoneWith(all []*procedure.Procedure, list, row string) []Option {
	if list != "items" && list != "places" {
		return nil
	}
	return eachOnce(all, func(p *procedure.Procedure) []procedure.Step { return p.Steps }, func(x procedure.Step) Option {
		for _, a := range x.Acts {
			if list == "items" && a.Object == row || list == "places" && a.Place == row {
				return Option{x.ID, x.Label}
			}
		}
		return Option{}
	})
}
