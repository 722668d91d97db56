package views

import (
	"stillwet/internal/procedure"
	"stillwet/internal/training"
)

// Recorder is the chairside page.
type Recorder struct {
	Demonstration training.Demonstration
	Learner       training.Person
	Procedure     *procedure.Procedure
	Lines         []training.Observed
	ElapsedMs     int64
}

type recorderData struct {
	ID        string                  `json:"id"`
	ElapsedMs int64                   `json:"elapsed_ms"`
	Product   string                  `json:"product"` // on the shelf
	Products  map[string]productTimes `json:"products"`
	Steps     map[string]stepData     `json:"steps"`
	Surfaces  map[string]surfaceData  `json:"surfaces"`
	Lines     []observedData          `json:"lines"`
}

type observedData struct {
	Key  string `json:"key"`
	Seq  int    `json:"seq"`
	AtMs int64  `json:"at_ms"`
	Text string `json:"text"`
	Step string `json:"step"`
}

func (r Recorder) offered() (ids []string) {
	for _, s := range r.Procedure.Steps {
		ids = append(ids, s.ID)
	}
	return ids
}

func (r Recorder) data() recorderData {
	d := recorderData{
		ID: r.Demonstration.ID, ElapsedMs: r.ElapsedMs,
		Product: r.Demonstration.Product, Products: productsData(r.Procedure),
		Steps: stepsData(r.Procedure, r.offered(), r.Demonstration.Product), Surfaces: surfacesData(r.Procedure), Lines: []observedData{},
	}
	for _, o := range r.Lines {
		d.Lines = append(d.Lines, observedData{o.Key, o.Seq, o.AtMs, o.Text, o.Step})
	}
	return d
}
