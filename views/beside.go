package views

import (
	"strconv"

	"stillwet/internal/procedure"
)

// Beside is the model beside the learner's own order.
type Beside struct{ Own, Model []besideRow }

// besideRow is a step of one order, and whether it stands in the other as well: alike
// rows follow each other in both.
type besideRow struct {
	No, Text string
	Alike    bool
	Says     string // in which way it differs, "" for an alike one
}

// NewBeside compares by the longest run of steps that both have in the same order. What
// differs is no fault: more than one order can be right.
func NewBeside(p *procedure.Procedure, own, model []string) *Beside {
	inOwn, inModel := longestCommon(own, model)
	return &Beside{Own: besideRows(p, own, inOwn, model, "elsewhere in the model", "not in the model"),
		Model: besideRows(p, model, inModel, own, "elsewhere in yours", "not in yours")}
}

func besideRows(p *procedure.Procedure, steps []string, alike []bool, other []string, moved, missing string) []besideRow {
	left := map[string]int{} // how often the other order has a step
	for _, id := range other {
		left[id]++
	}
	for i, id := range steps {
		if alike[i] {
			left[id]--
		}
	}
	rows := make([]besideRow, len(steps))
	for i, id := range steps {
		rows[i] = besideRow{No: strconv.Itoa(i + 1), Text: p.Title(id), Alike: alike[i]}
		switch {
		case alike[i]:
		case left[id] > 0:
			left[id]--
			rows[i].Says = moved
		default:
			rows[i].Says = missing
		}
	}
	return rows
}

// longestCommon marks, in both lists, the longest run that they have in common.
func longestCommon(a, b []string) (inA, inB []bool) {
	most := make([][]int, len(a)+1) // of what is behind i in a and j in b
	for i := range most {
		most[i] = make([]int, len(b)+1)
	}
	for i := len(a) - 1; i >= 0; i-- {
		for j := len(b) - 1; j >= 0; j-- {
			if a[i] == b[j] {
				most[i][j] = most[i+1][j+1] + 1
			} else {
				most[i][j] = max(most[i+1][j], most[i][j+1])
			}
		}
	}
	inA, inB = make([]bool, len(a)), make([]bool, len(b))
	for i, j := 0, 0; i < len(a) && j < len(b); {
		switch {
		case a[i] == b[j]:
			inA[i], inB[j] = true, true
			i, j = i+1, j+1
		case most[i+1][j] >= most[i][j+1]:
			i++
		default:
			j++
		}
	}
	return inA, inB
}

// differ counts the rows that are not alike.
func differ(rows []besideRow) (n int) {
	for _, r := range rows {
		if !r.Alike {
			n++
		}
	}
	return n
}

func (b *Beside) differs() bool { return differ(b.Own)+differ(b.Model) > 0 }

// sentence says how near the two are.
func (b *Beside) sentence() string {
	if !b.differs() {
		return "Yours is the model's order, step by step."
	}
	return "Yours passed as well: more than one order can be right. " + count(differ(b.Own), "step", "steps") + " of yours and " + strconv.Itoa(differ(b.Model)) + " of the model's stand otherwise."
}
