package scenarios

import (
	"fmt"
	"strings"

	"stillwet/internal/procedure"
)

// What a story says of the product on its shelf stands in it by these names, so that it
// follows the clinic's labels.
const (
	labelTime   = "{label time}"
	productName = "{product}"
)

// follows puts the time and the name of the product on the shelf into a scenario's words.
func (y *scenarioYAML) follows(p *procedure.Procedure, product string) {
	i := p.ProductIndex(product)
	if i < 0 {
		return // told elsewhere
	}
	x := &p.Products[i]
	words := strings.NewReplacer(labelTime, spoken(x.LabelS), productName, procedure.Within(x.Title))
	for _, text := range []*string{&y.Title, &y.Story, &y.Teaches} {
		*text = words.Replace(*text)
	}
}

// spoken is a time as a story says it: "2 minutes", "90 seconds", "2 minutes and 30 seconds".
func spoken(seconds int) string {
	m, s := seconds/60, seconds%60
	switch {
	case s == 0:
		return counted(m, "minute")
	case seconds < 120:
		return counted(seconds, "second")
	}
	return counted(m, "minute") + " and " + counted(s, "second")
}

func counted(n int, what string) string {
	if n != 1 {
		what += "s"
	}
	return fmt.Sprintf("%d %s", n, what)
}

// Told is what a scenario says, as its file has it, with the names that stand for what
// varies and for the product.
type Told struct {
	Title, Story, Teaches string
	Product               string // "" of a find scenario, which has that of the one that it spoils
}

// Told is what a scenario of the set says; ok is false when there is none.
func (s *Set) Told(id string) (x Told, ok bool) {
	e := &editor{set: s, trees: map[string]*tree{}}
	t := e.tree(id + ".yaml")
	if t == nil || !isScenario(id+".yaml") {
		return x, false
	}
	for field, text := range map[string]*string{"title": &x.Title, "story": &x.Story, "teaches": &x.Teaches, "product": &x.Product} {
		value, _ := walk(t.root, field)
		*text = strings.TrimSpace(value.Value)
	}
	return x, true
}
