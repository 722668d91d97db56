package views

import (
	"fmt"
	"strings"

	"stillwet/internal/procedure"
)

// usualWidth is that of a picture that fills its card; a smaller one stands in
// the middle of it rather than being blown up.
const usualWidth = 810

func pictureBox(p *procedure.Procedure) string {
	w := max(p.Picture.Width, usualWidth)
	return fmt.Sprintf("%d 0 %d %d", (p.Picture.Width-w)/2, w, p.Picture.Height)
}

// pinText lists the numbers of a place; a long list would cover the picture.
func pinText(nos []string) string {
	const most = 5
	if len(nos) > most {
		return strings.Join(nos[:most-1], ", ") + fmt.Sprintf(" and %d more", len(nos)-most+1)
	}
	return strings.Join(nos, ", ")
}

func pinWidth(nos []string) int { return 16 + 8*len(pinText(nos)) }

func stationDesc(r Result, list []numbered) string {
	var parts []string
	for _, f := range list {
		where := []string{"hands, gloves or order"}
		if len(f.Surfaces) > 0 {
			where = nil
		}
		for _, id := range f.Surfaces {
			where = append(where, r.Procedure.Title(id))
		}
		parts = append(parts, fmt.Sprintf("Finding %s: %s.", f.No, strings.Join(where, ", ")))
	}
	if len(parts) == 0 {
		return "No findings."
	}
	return strings.Join(parts, " ")
}

func stationCaption(r Result, list []numbered) string {
	if len(list) == 0 {
		return "Nothing to mark: no surface has a finding."
	}
	var elsewhere []string
	for _, f := range list {
		for _, id := range f.Surfaces {
			if _, drawn := r.Procedure.ShapeOf(id); !drawn {
				elsewhere = append(elsewhere, f.No+" is at "+r.Procedure.Title(id))
			}
		}
	}
	text := "The numbers are those of the findings. A thick edge marks a surface that has one."
	if len(elsewhere) > 0 {
		text += " Not in the picture: " + strings.Join(elsewhere, "; ") + "."
	}
	return text
}
