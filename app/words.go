package main

import (
	"encoding/json"
	"fmt"
	"reflect"
	"slices"
	"strings"

	"github.com/alecthomas/kong"

	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/assess/rules"
	"stillwet/internal/procedure"
)

type wordsCmd struct {
	JSON bool `help:"Write one JSON object."`
}

// vocabulary is every word by which other programs and scripts speak to this
// one, taken from where each is defined.
type vocabulary struct {
	LogVersion   int           `json:"log_version"`
	RulesVersion int           `json:"rules_version"`
	Witness      []string      `json:"witness"`
	Worn         []string      `json:"worn"` // what WORN takes besides items
	Verbs        []phraseWords `json:"verbs"`
	Events       []phraseWords `json:"events"`
	Rules        []ruleWords   `json:"rules"`
	ResultKeys   []string      `json:"result_keys"` // paths; [] is each of a list
	Commands     []command     `json:"commands"`
	ExitCodes    []exitWord    `json:"exit_codes"`
}

// phraseWords is the line of a verb; a part in brackets may be left out.
type phraseWords struct {
	Phrase string     `json:"phrase"`
	Slots  []slotWord `json:"slots"`
}

type slotWord struct {
	Word     string `json:"word"`
	Takes    string `json:"takes"`
	Optional bool   `json:"optional"`
}

type ruleWords struct {
	Name   string   `json:"name"`
	Doc    string   `json:"doc"`
	Needs  []string `json:"needs"` // what a log must witness
	Source string   `json:"source"`
}

type command struct {
	Name  string   `json:"name"`
	Help  string   `json:"help"`
	Flags []string `json:"flags"`
}

type exitWord struct {
	Code    int    `json:"code"`
	Meaning string `json:"meaning"`
}

// Run prints the vocabulary.
func (c *wordsCmd) Run(s streams, k *kong.Kong) error {
	words := vocabularyOf(k.Model)
	if !c.JSON {
		return words.print(s)
	}
	enc := json.NewEncoder(s.out)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	return enc.Encode(words)
}

func vocabularyOf(m *kong.Application) vocabulary {
	v := vocabulary{
		LogVersion: action.Version, RulesVersion: assess.RulesVersion, Witness: action.WitnessWords(), Worn: action.ProtectiveEquipment,
		ResultKeys: jsonKeys(reflect.TypeFor[assess.Result](), ""), Commands: commandWords(m),
		ExitCodes: []exitWord{{0, "done, nothing to report"}, {exitFindings, "done, with findings, or with records that do not verify"}, {exitBad, "bad input, or it could not be done"}},
	}
	for _, verb := range action.Verbs() {
		p := phraseWords{Phrase: verb.String(), Slots: []slotWord{}}
		for _, s := range verb.Slots() {
			p.Slots = append(p.Slots, slotWord{s.Word, s.Kind.String(), s.Optional})
		}
		if verb.Event() {
			v.Events = append(v.Events, p)
		} else {
			v.Verbs = append(v.Verbs, p)
		}
	}
	plain := assess.Words(&procedure.Procedure{Definition: procedure.Definition{Station: "station"}})
	for _, r := range rules.All {
		v.Rules = append(v.Rules, ruleWords{r.Name, plain.Replace(r.Doc), strings.Fields(r.Needs.String()), r.Source})
	}
	return v
}

// jsonKeys are the paths of everything that a type writes as JSON.
func jsonKeys(t reflect.Type, at string) (paths []string) {
	for t.Kind() == reflect.Slice || t.Kind() == reflect.Pointer {
		if t.Kind() == reflect.Slice {
			at += "[]"
		}
		t = t.Elem()
	}
	if t.Kind() != reflect.Struct {
		return nil
	}
	for i := range t.NumField() {
		name, _, _ := strings.Cut(t.Field(i).Tag.Get("json"), ",")
		path := strings.TrimPrefix(at+"."+name, ".")
		paths = append(append(paths, path), jsonKeys(t.Field(i).Type, path)...)
	}
	return paths
}

func commandWords(m *kong.Application) (all []command) {
	for _, leaf := range m.Leaves(true) {
		c := command{Name: strings.TrimPrefix(leaf.FullPath(), m.Name+" "), Help: leaf.Help, Flags: []string{}}
		for _, group := range leaf.AllFlags(true) {
			for _, f := range group {
				c.Flags = append(c.Flags, "--"+f.Name)
			}
		}
		slices.Sort(c.Flags)
		all = append(all, c)
	}
	return all
}

func (v vocabulary) print(s streams) error {
	p := &printer{w: s.out}
	p.f("Action log, version %d. The witness line takes: %s.\n", v.LogVersion, strings.Join(v.Witness, ", "))
	for _, list := range []struct {
		title string
		words []phraseWords
	}{{"Acts", v.Verbs}, {"Events", v.Events}} {
		p.f("\n%s\n", list.title)
		for _, w := range list.words {
			p.f("  %s\n", w.Phrase)
		}
	}
	p.f("\nRules, version %d\n", v.RulesVersion)
	for _, r := range v.Rules {
		p.f("  %s (needs %s): %s\n      Source: %s\n", r.Name, strings.Join(r.Needs, ", "), r.Doc, r.Source)
	}
	p.f("\nKeys of a result\n")
	for _, k := range v.ResultKeys {
		p.f("  %s\n", k)
	}
	p.f("\nCommands\n")
	for _, c := range v.Commands {
		p.f("  %s %s\n      %s\n", c.Name, strings.Join(c.Flags, " "), c.Help)
	}
	p.f("\nExit codes\n")
	for _, e := range v.ExitCodes {
		p.f("  %d  %s\n", e.Code, e.Meaning)
	}
	if p.err != nil {
		return fmt.Errorf("words: %w", p.err)
	}
	return nil
}
