package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/assess/rules"
	"stillwet/internal/procedure"
	"stillwet/internal/store"
	"stillwet/internal/training"
	"stillwet/scenarios"
)

type assessCmd struct {
	Procedure string   `help:"Procedure file (default: the built-in procedure that the log names)." placeholder:"FILE" xor:"by"`
	Data      string   `help:"Data folder of a clinic: judge by the procedures that it has in force." placeholder:"DIR" type:"path" xor:"by"`
	JSON      bool     `help:"Write one JSON object a log."`
	Logs      []string `arg:"" name:"log" help:"Action logs."`
}

// Run judges every log; all faults of all logs are told before it gives up.
func (c *assessCmd) Run(ctx context.Context, s streams) error {
	find, err := c.procedures(ctx)
	if err != nil {
		return err
	}
	var faults []error
	findings := false
	for _, file := range c.Logs {
		by, result, err := assessFile(file, find)
		if err != nil {
			faults = append(faults, err)
			continue
		}
		findings = findings || len(result.Breaches()) > 0
		if err := c.write(s.out, by, result); err != nil {
			return err
		}
	}
	if len(faults) > 0 {
		return errors.Join(faults...)
	}
	if findings {
		return errFindings
	}
	return nil
}

type finder func(id string) (*procedure.Procedure, bool)

func (c *assessCmd) procedures(ctx context.Context) (finder, error) {
	switch {
	case c.Data != "":
		clinic, err := (&folderFlags{Data: c.Data}).open(ctx, store.OpenToRead)
		if err != nil {
			return nil, err
		}
		return clinic.library.Procedure, clinic.close() // it is read already
	case c.Procedure == "":
		lib, err := scenarios.Load()
		if err != nil {
			return nil, err
		}
		return lib.Procedure, nil
	}
	p, err := procedureFile(c.Procedure)
	if err != nil {
		return nil, err
	}
	return func(id string) (*procedure.Procedure, bool) { return p, p.ID == id }, nil
}

// procedureFile reads a procedure with the shared parts that lie beside it.
func procedureFile(name string) (*procedure.Procedure, error) {
	text, err := readLimited(name, procedure.MaxText+1)
	if err != nil {
		return nil, err
	}
	p, faults := scenarios.ReadProcedure(name, []byte(text), os.DirFS(filepath.Dir(name)))
	return p, errors.Join(faults...)
}

// assessFile judges a log, by the procedure that its header names.
func assessFile(file string, find finder) (*procedure.Procedure, *assess.Result, error) {
	text, err := readLimited(file, action.MaxBytes+1)
	if err != nil {
		return nil, nil, err
	}
	plain, err := action.Parse(file, text, nil)
	if err != nil {
		return nil, nil, err
	}
	p, ok := find(plain.Procedure)
	if !ok {
		return nil, nil, &action.Fault{File: file, Line: plain.ProcedureLine, Text: fmt.Sprintf("procedure %q is not known here", plain.Procedure)}
	}
	log, err := action.Parse(file, text, p.Words)
	if err != nil {
		return nil, nil, err
	}
	result, err := rules.Assess(p, log, filepath.ToSlash(file))
	return p, result, err
}

// readLimited reads at most limit bytes of a file, "-" being standard input.
func readLimited(file string, limit int64) (text string, err error) {
	in := os.Stdin
	if file != "-" {
		if in, err = os.Open(file); err != nil {
			return "", err
		}
		defer func() { err = errors.Join(err, in.Close()) }()
	}
	b, err := io.ReadAll(io.LimitReader(in, limit))
	return string(b), err
}

func (c *assessCmd) write(w io.Writer, by *procedure.Procedure, r *assess.Result) error {
	if c.JSON {
		enc := json.NewEncoder(w)
		enc.SetEscapeHTML(false)
		return enc.Encode(r)
	}
	p := &printer{w: w}
	m := r.Marks
	p.f("%s: %s, %d of %d marks (%.0f%%, cut %.0f%%), procedure %s %.12s, rules %d\n",
		r.Log, m.Result, m.Met, m.Met+m.Missed, 100*m.Score, 100*m.Cut, r.Procedure, r.ProcedureHash, r.RulesVersion)
	told := map[string]bool{} // what a rule says is said once
	for _, f := range r.Findings {
		p.f("  %s%s  %s%s  [%s%s]\n", place(f), weight(f), f.Message, times(f), f.Rule, surface(f.Surface))
		if way := assess.WaySentence(by, f.Way, func(act int) string { return fmt.Sprintf("at act %d", act) }); way != "" {
			p.f("      How it travelled: %s\n", way)
		}
		if !told[f.Why+f.Next] {
			p.f("      Why: %s\n      Next time: %s\n      Source: %s\n", f.Why, f.Next, f.Source)
		}
		told[f.Why+f.Next] = true
	}
	for _, g := range r.NotAssessed {
		p.f("  not assessed  %s%s: %s\n", g.Rule, surface(g.Surface), g.Reason)
	}
	for _, n := range r.Notes {
		p.f("  note  %s\n", n.Text)
	}
	p.f("  %s\n", training.Caution)
	return p.err
}

func place(f assess.Finding) string {
	switch {
	case f.Act == 0:
		return "at the end"
	case f.AtS != nil:
		return fmt.Sprintf("act %d at %s", f.Act, action.Millis(*f.AtS*1000))
	}
	return fmt.Sprintf("act %d", f.Act)
}

func weight(f assess.Finding) string {
	switch {
	case f.Critical:
		return " (critical)"
	case f.Advice():
		return " (advice)"
	}
	return ""
}

// times tells how often the same was done.
func times(f assess.Finding) string {
	if len(f.Acts) < 2 {
		return ""
	}
	var acts []string
	for _, a := range f.Acts {
		acts = append(acts, strconv.Itoa(a))
	}
	return " (" + strconv.Itoa(f.Count) + " times: acts " + strings.Join(acts, ", ") + ")"
}

func surface(id string) string {
	if id == "" {
		return ""
	}
	return ":" + id
}

// printer keeps the first error of many writes.
type printer struct {
	w   io.Writer
	err error
}

func (p *printer) f(format string, args ...any) {
	if p.err == nil {
		_, p.err = fmt.Fprintf(p.w, format, args...)
	}
}
