package store

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stillwet/internal/training"
)

// fields are named columns of a row, as SQL.
type fields map[string]string

// with is a copy with other values.
func (f fields) with(more fields) fields {
	f = maps.Clone(f)
	maps.Copy(f, more)
	return f
}

func insert(table string, f fields) string {
	var names, values []string
	for _, name := range slices.Sorted(maps.Keys(f)) {
		names, values = append(names, name), append(values, f[name])
	}
	return fmt.Sprintf("INSERT INTO %s (%s) VALUES (%s)", table, strings.Join(names, ", "), strings.Join(values, ", "))
}

const (
	when  = "'2026-03-01T09:30:00.000Z'"
	later = "'2026-03-01T09:40:00.000Z'"
)

var (
	hash         = "'" + strings.Repeat("a", 64) + "'"
	scenarioHash = "'" + strings.Repeat("b", 64) + "'"
	definition   = fields{"hash": hash, "kind": "'procedure'", "id": "'x'", "cited_at": later, "text": "x'7b7d'"}
	person       = fields{"id": "'r'", "name": "'A'", "staff_no": "''", "role": "'trainee'", "hired": "''", "left_on": "''", "added_at": when}
	spell        = fields{"person_id": "'p'", "hired": "'2020-01-01'", "left_on": "'2021-01-01'"}
	draft        = fields{"id": "'f'", "person_id": "'p'", "scenario_id": "'s'", "kind": "'run'", "started_at": when, "pace": "1", "revision": "0",
		"steps": "'[]'", "updated_at": when}
	attempt = fields{"id": "'a'", "person_id": "'p'", "scenario_id": "'s'", "scenario_hash": scenarioHash, "kind": "'run'", "pace": "1",
		"started_at": when, "finished_at": later, "log": "'x'", "procedure": "'x'", "procedure_hash": hash, "rules_version": "1",
		"result_json": "x'7b7d'", "outcome": "'pass'", "steps": "'[]'", "lines": "'[]'"}
	courseMark    = fields{"person_id": "'p'", "module": "'m'", "part": "'read-x'", "done_at": when, "right_first": "2", "questions": "3"}
	courseAnswer  = fields{"person_id": "'p'", "module": "'m'", "part": "'read-x'", "question": "'a'", "at": when, "seq": "1", "choice": "1", "step": "''", "is_right": "0"}
	orientation   = fields{"person_id": "'p'", "seq": "1", "preceptor_id": "'q'", "preceptor_name": "'B'", "last_day": "'2026-05-01'", "set_by": "'o'", "set_by_name": "'O'", "set_at": when}
	demonstration = fields{"id": "'d'", "trainee_id": "'p'", "preceptor_id": "'q'", "competency": "'c'", "product": "'w'", "started_at": when,
		"procedure": "'x'", "procedure_hash": hash}
	state  = fields{"demonstration_id": "'d'", "seq": "1", "state": "'recording'", "at": when}
	ended  = fields{"demonstration_id": "'d'", "seq": "2", "state": "'ended'", "at": later}
	result = fields{"demonstration_id": "'d'", "event": "2", "outcome": "'pass'", "prompted": "0", "rules_version": "1", "procedure": "'x'",
		"procedure_hash": hash, "comment": "''", "log": "'x'", "result_json": "x'7b7d'"}
	observation  = fields{"demonstration_id": "'d'", "seq": "1", "tap_key": "'k'", "at_ms": "0", "text": "'alarm'", "step": "''", "sent_at": when}
	signature    = fields{"demonstration_id": "'d'", "signer_id": "'p'", "signer_name": "'A'", "meaning": "'learner'", "signed_at": later, "leaf": "0"}
	reviewed     = fields{"demonstration_id": "'d'", "seq": "3", "state": "'reviewed'", "at": later, "by_id": "'q'", "by_name": "'B'", "meaning": "'watched-met'", "leaf": "2"}
	refused      = reviewed.with(fields{"seq": "4", "state": "'refused'", "meaning": "''", "why": "'No.'"})
	correction   = fields{"demonstration_id": "'d'", "event": "3", "n": "1", "struck": "1", "at_ms": "0", "step": "''", "text": "''"}
	plan         = fields{"id": "'l'", "person_id": "'p'", "competency": "'c'", "demonstration_id": "'d'", "marks": "'[]'", "scenarios": "'[]'"}
	planEvent    = fields{"plan_id": "'l'", "seq": "1", "event": "'proposed'", "at": later, "by_id": "'q'", "by_name": "'B'", "why": "''", "due": "'2026-05-01'", "leaf": "2"}
	recordEnd    = fields{"leaf": "2", "sign_off_id": "'s'", "at": later, "by_id": "'q'", "by_name": "'B'", "why": "'In error.'"}
	earlierBatch = fields{"id": "'b'", "at": when, "by_id": "'q'", "by_name": "'B'", "leaf": "2"}
	earlierLine  = fields{"id": "'e'", "batch_id": "'b'", "n": "1", "person_id": "'p'", "name": "'A'", "staff_no": "''", "competency": "'c'", "on_day": "'2025-03-01'", "counts_at": when,
		"due": "'2026-03-01'", "requirements": "1", "signed_by": "'U'", "evidence": "'Folder'", "site": "''", "shown_here": "1", "why": "''"}
	itemVersion = fields{"item_id": "'i'", "seq": "1", "title": "'T'", "every_months": "12", "notice_days": "30", "everybody": "1", "roles": "''", "jobs": "''", "teams": "''",
		"content": "''", "keep_years": "3", "retired": "0", "at": when, "by_id": "'q'", "by_name": "'B'", "why": "''", "leaf": "2"}
	itemEntry = fields{"id": "'n'", "item_id": "'i'", "item_seq": "1", "person_id": "'p'", "on_day": "'2026-02-28'", "job": "''", "trainer": "''", "qualification": "''",
		"content": "''", "evidence": "'Folder'", "expires": "''", "why": "''", "at": when, "by_id": "''", "by_name": "''", "leaf": "1"}
	aTarget = fields{"seq": "1", "monthly": "12", "at": when, "by_id": "'q'", "by_name": "'B'", "why": "'Policy.'", "leaf": "0"}
	itemEnd = fields{"leaf": "0", "entry_id": "'n'", "at": later, "by_id": "'q'", "by_name": "'B'", "why": "'In error.'"}
	signOff = fields{"id": "'s'", "person_id": "'p'", "competency": "'c'", "signer_id": "'q'", "signer_name": "'B'", "signed_on": "'2026-03-01'",
		"signed_at": later, "due": "'2027-03-01'", "leaf": "0"}
)

var (
	setVersion = fields{"number": "1", "hash": hash, "based_on": "0", "origin": "'starting point'", "why": "''", "edits": "'[]'"}
	setFile    = fields{"version": "1", "name": "'a.yaml'", "hash": hash}
	setEvent   = fields{"version": "1", "seq": "1", "event": "'starting point'", "at": when, "by_id": "''", "by_name": "''", "why": "''", "approval": "''",
		"approver_id": "''", "approver": "''", "approver_role": "''", "approved_on": "''", "approval_at": "''", "in_force_from": "''", "leaf": "0"}
	setProposed = setEvent.with(fields{"event": "'proposed'"})
	setApproved = setEvent.with(fields{"seq": "2", "event": "'approved'", "approval": "'paper'", "approver": "'M'", "approved_on": "'2026-03-01'",
		"in_force_from": "'2026-03-01'", "leaf": "1"})
	setDraft = fields{"id": "1", "open": "1", "base": "1", "revision": "1", "origin": "'edited'", "edits": "'[]'", "updated_at": when, "by_id": "'p'", "by_name": "'A'"}
	leafOf   = fields{"leaf": "0", "version": "2", "kind": "'set'", "record": "'1'", "at": when, "clock_behind": "0"}

	followUp = fields{"version": "1", "seq": "1", "at": later, "by_id": "'o'", "by_name": "'O'", "in_force_at": later, "why": "''", "changes": "'[]'", "chosen": "'[]'", "leaf": "2"}
	duty     = fields{"id": "'u'", "version": "1", "follow_up": "1", "person_id": "'p'", "name": "'A'", "staff_no": "''", "kind": "'read'", "subject": "''", "title": "''", "due": "'2026-05-01'"}
	dutyEnd  = fields{"duty_id": "'u'", "ended": "'read'", "at": later, "by_id": "'p'", "by_name": "'A'", "said": "'I have read it.'", "leaf": "0"}

	watchedAct = fields{"demonstration_id": "'d'", "act_key": "'k'", "device": "'tab'", "n": "1", "at_ms": "0", "wall": "''", "step": "''", "text": "'alarm'", "undo": "''",
		"lines": "1", "received_at": later, "by_id": "'q'", "by_name": "'B'", "late": "0", "refused": "''"}
	device = fields{"demonstration_id": "'d'", "seq": "1", "device": "'tab'", "at": later, "by_id": "'q'", "by_name": "'B'"}

	requirement   = fields{"competency": "'c'", "number": "1", "from_day": "''", "at": later, "by_id": "''", "by_name": "''", "why": "''", "terms": "'{}'", "leaf": "0"}
	secondVersion = requirement.with(fields{"number": "2", "from_day": "'2026-04-01'", "by_id": "'o'", "by_name": "'O'", "why": "'So.'", "leaf": "1"})
	absence       = fields{"id": "'y'", "seq": "1", "person_id": "'p'", "from_day": "'2026-04-01'", "until_day": "'2026-05-01'", "cancelled": "0", "at": later, "by_id": "'o'", "by_name": "'O'", "why": "''", "leaf": "0"}

	assignment    = fields{"id": "'g'", "at": when, "by_id": "'o'", "by_name": "'O'", "kind": "'module'", "subject": "'m'", "title": "'M'", "due": "'2026-05-01'", "why": "''", "leaf": "2"}
	assignedTo    = fields{"id": "'h'", "assignment_id": "'g'", "n": "1", "person_id": "'p'", "name": "'A'", "staff_no": "''"}
	assignmentEnd = fields{"leaf": "1", "assignment_id": "'g'", "n": "1", "at": later, "by_id": "'o'", "by_name": "'O'", "why": "'So.'"}

	dutyDate = fields{"duty_id": "'u'", "seq": "1", "due": "'2026-06-01'", "at": later, "by_id": "'o'", "by_name": "'O'", "why": "'Leave.'", "leaf": "0"}

	// aSet is a version with a file, of which nothing has become yet, and leaves for what may.
	aSet = []string{insert("record_leaves", leafOf), insert("record_leaves", leafOf.with(fields{"leaf": "1"})), insert("record_leaves", leafOf.with(fields{"leaf": "2"})),
		"INSERT INTO set_files (hash, bytes) VALUES (" + hash + ", x'61')", insert("set_versions", setVersion), insert("set_version_files", setFile)}
	aStart = append(slices.Clone(aSet), insert("set_events", setEvent))
	// anApproval is a version that something may follow from, and aDuty what somebody has to read.
	anApproval = append(slices.Clone(aSet), insert("set_events", setProposed), insert("set_events", setApproved))
	aDuty      = append(slices.Clone(anApproval), insert("set_follow_ups", followUp), insert("duties", duty))
)

// written is a store with two people, one leaf and what is inserted besides.
func written(t *testing.T, statements ...string) *Store {
	s := open(t, t.TempDir())
	for _, x := range append([]string{
		insert("definitions", definition), insert("definitions", definition.with(fields{"hash": scenarioHash, "kind": "'scenario'", "id": "'s'"})),
		insert("people", person.with(fields{"id": "'p'"})), insert("people", person.with(fields{"id": "'q'", "role": "'preceptor'"})),
		insert("people", person.with(fields{"id": "'o'"})),
		"INSERT INTO ledger_leaves (i, leaf) VALUES (0, x'01'), (1, x'02'), (2, x'03')",
	}, statements...) {
		require.NoError(t, s.exec(x), x)
	}
	return s
}

var (
	recording = []string{insert("demonstrations", demonstration), insert("demonstration_events", state)}
	judged    = append(slices.Clone(recording), "BEGIN", insert("demonstration_results", result), insert("demonstration_events", ended), "COMMIT")
	chosen    = append(slices.Clone(judged), insert("record_leaves", leafOf.with(fields{"leaf": "2", "kind": "'review'"})), insert("demonstration_events", reviewed))
	refusing  = append(slices.Clone(chosen), insert("demonstration_events", refused))
	corrected = append(slices.Clone(judged), insert("record_leaves", leafOf.with(fields{"leaf": "2", "kind": "'review'"})), "BEGIN",
		insert("demonstration_results", result.with(fields{"event": "3"})), insert("demonstration_corrections", correction),
		insert("demonstration_events", reviewed.with(fields{"state": "'ended'", "meaning": "''", "why": "'It was not so.'"})), "COMMIT")
	aBatch          = []string{insert("record_leaves", leafOf.with(fields{"leaf": "2", "kind": "'earlier'"})), insert("earlier_batches", earlierBatch), insert("earlier_sign_offs", earlierLine)}
	aBatchEnd       = append(slices.Clone(aBatch), insert("record_leaves", leafOf.with(fields{"leaf": "1", "kind": "'end'"})), insert("earlier_ends", itemEnd.with(fields{"leaf": "1", "entry_id": "'e'"})))
	anAssignment    = []string{insert("record_leaves", leafOf.with(fields{"leaf": "2", "kind": "'assignment'"})), insert("record_leaves", leafOf.with(fields{"leaf": "1", "kind": "'assignment'"})), insert("record_leaves", leafOf.with(fields{"kind": "'assignment'"})), insert("assignments", assignment), insert("assigned", assignedTo)}
	anAssignmentEnd = append(slices.Clone(anAssignment), insert("assignment_ends", assignmentEnd))
	allTakenBack    = append(slices.Clone(anAssignment), insert("assignment_ends", assignmentEnd.with(fields{"n": "0"})))
	anItem          = []string{insert("record_leaves", leafOf.with(fields{"leaf": "2", "kind": "'item'"})), insert("item_versions", itemVersion)}
	anEntry         = append(slices.Clone(anItem), insert("record_leaves", leafOf.with(fields{"leaf": "1", "kind": "'item-entry'"})), insert("item_entries", itemEntry))
	anotherOne      = append(slices.Clone(anEntry), insert("record_leaves", leafOf.with(fields{"leaf": "0", "kind": "'item-entry'"})))
	anItemEnd       = append(slices.Clone(anotherOne), insert("item_ends", itemEnd))
	anEnd           = []string{insert("sign_offs", signOff), insert("record_leaves", leafOf.with(fields{"leaf": "2", "kind": "'end'"})), insert("record_ends", recordEnd)}
	aPlan           = append(slices.Clone(chosen), insert("plans", plan), insert("plan_events", planEvent))
	openedPlan      = append(slices.Clone(aPlan), insert("record_leaves", leafOf), insert("record_leaves", leafOf.with(fields{"leaf": "1"})),
		insert("plan_events", planEvent.with(fields{"seq": "2", "event": "'opened'", "leaf": "1"})))
	declined = append(slices.Clone(aPlan), insert("record_leaves", leafOf), insert("record_leaves", leafOf.with(fields{"leaf": "1"})),
		insert("plan_events", planEvent.with(fields{"seq": "2", "event": "'declined'", "leaf": "1"})))
	theLeaves = []string{insert("record_leaves", leafOf), insert("record_leaves", leafOf.with(fields{"leaf": "1"}))}
)

// refusal is a row, or another statement, that the file refuses.
type refusal struct {
	name   string
	before []string
	row    string
	why    string
}

var refusals = []refusal{
	{"role", nil, insert("people", person.with(fields{"role": "'guest'"})), "FOREIGN KEY"},
	{"odd further roles", nil, insert("people", person.with(fields{"also": "'Manager,'"})), "also NOT GLOB"},
	{"a spell of nobody", nil, insert("employment_spells", spell.with(fields{"person_id": "'nobody'"})), "FOREIGN KEY"},
	{"a spell that ends before it began", nil, insert("employment_spells", spell.with(fields{"left_on": "'2019-01-01'"})), "a_spell_ends_after_it_began"},
	{"a spell without an end", nil, insert("employment_spells", spell.with(fields{"left_on": "''"})), "left_on GLOB"},
	{"a spell twice", []string{insert("employment_spells", spell)}, insert("employment_spells", spell.with(fields{"left_on": "'2022-01-01'"})), "UNIQUE constraint failed: employment_spells.person_id, employment_spells.hired"},
	{"a spell changed", []string{insert("employment_spells", spell)}, "UPDATE employment_spells SET left_on = '2022-01-01'", "spells of employment are kept"},
	{"a spell removed", []string{insert("employment_spells", spell)}, "DELETE FROM employment_spells", "spells of employment are kept"},
	{"kind of draft", nil, insert("drafts", draft.with(fields{"kind": "'game'"})), "FOREIGN KEY"},
	{"kind of attempt", nil, insert("attempts", attempt.with(fields{"kind": "'game'"})), "FOREIGN KEY"},
	{"outcome", nil, insert("attempts", attempt.with(fields{"outcome": "'perhaps'"})), "FOREIGN KEY"},
	{"moment", nil, insert("people", person.with(fields{"added_at": "'2026-03-01'"})), "CHECK constraint failed: added_at GLOB"},
	{"no name", nil, insert("people", person.with(fields{"name": "' '"})), "CHECK constraint failed: a_person_has_a_name"},
	{"practice half guided", nil, insert("attempts", attempt.with(fields{"guided": "2"})), "guided IN (0, 1)"},
	{"two unfinished tests of one scenario", []string{insert("drafts", draft), insert("drafts", draft.with(fields{"id": "'g'", "guided": "1"}))},
		insert("drafts", draft.with(fields{"id": "'h'"})), "UNIQUE constraint failed: drafts.person_id, drafts.scenario_id, drafts.guided"},
	{"more right than asked", nil, insert("course_marks", courseMark.with(fields{"right_first": "4"})), "questions >= right_first"},
	{"a mark of nobody", nil, insert("course_marks", courseMark.with(fields{"person_id": "'nobody'"})), "FOREIGN KEY"},
	{"a mark changed", []string{insert("course_marks", courseMark)}, "UPDATE course_marks SET right_first = 3", "what was done of the course is kept"},
	{"a mark removed", []string{insert("course_marks", courseMark)}, "DELETE FROM course_marks", "what was done of the course is kept"},
	{"an answer changed", []string{insert("course_answers", courseAnswer)}, "UPDATE course_answers SET choice = 2", "answers are kept as they were given"},
	{"an answer removed", []string{insert("course_answers", courseAnswer)}, "DELETE FROM course_answers", "answers are kept as they were given"},
	{"a preceptor changed", []string{insert("orientations", orientation)}, "UPDATE orientations SET last_day = '2026-06-01'", "who was set for an orientation is kept"},
	{"a preceptor removed", []string{insert("orientations", orientation)}, "DELETE FROM orientations", "who was set for an orientation is kept"},
	{"own preceptor", nil, insert("orientations", orientation.with(fields{"preceptor_id": "'p'"})), "nobody_precepts_themself"},
	{"upper case", nil, "INSERT INTO accounts (person_id, username, password_hash, first_until, disabled) VALUES ('p', 'Ada', 'x', '', 0)", "username = lower(username)"},
	{"no person", nil, "INSERT INTO sessions (id_hash, person_id, began_at, last_seen) VALUES (" + hash + ", 'nobody', " + when + ", " + when + ")", "FOREIGN KEY"},
	{"a password given at no moment", nil, "INSERT INTO sessions (id_hash, person_id, began_at, last_seen, proved_at) VALUES (" + hash + ", 'p', " + when + ", " + when + ", 'just now')", "proved_at"},
	{"a second secret of the door", nil, "INSERT INTO door_secret (id, secret) VALUES (2, " + hash + ")", "CHECK constraint failed: id = 1"},
	{"no failures", nil, "INSERT INTO tries (lane, failures, last_at) VALUES (" + hash + ", 0, " + when + ")", "failures > 0"},
	{"finished before it began", nil, insert("attempts", attempt.with(fields{"finished_at": "'2026-03-01T09:00:00.000Z'"})), "finished_at >= started_at"},
	{"own watcher", nil, insert("demonstrations", demonstration.with(fields{"preceptor_id": "'p'"})), "CHECK constraint failed: nobody_watches_themself"},
	{"odd state", recording, insert("demonstration_events", ended.with(fields{"state": "'maybe'"})), "does not come to that one"},
	{"ended bare", recording, insert("demonstration_events", ended), "a demonstration ends with its result"},
	{"ended at once", recording[:1], insert("demonstration_events", state.with(fields{"state": "'abandoned'"})), "begins with its recording"},
	{"begun at another time", recording[:1], insert("demonstration_events", state.with(fields{"at": later})), "begins with its recording"},
	{"a state left out", recording, insert("demonstration_events", reviewed.with(fields{"state": "'abandoned'", "meaning": "''", "leaf": "0"})), "one after the other"},
	{"a state before the last", recording, insert("demonstration_events", ended.with(fields{"at": "'2026-03-01T09:29:00.000Z'", "state": "'abandoned'"})), "one after the other"},
	{"a result and no end", recording, insert("demonstration_results", result), "FOREIGN KEY"},
	{"a result of another event", recording, insert("demonstration_results", result.with(fields{"event": "1"})), "only a demonstration that nobody has signed is judged"},
	{"abandoned with a result", append(slices.Clone(recording), "BEGIN", insert("demonstration_results", result)),
		insert("demonstration_events", ended.with(fields{"state": "'abandoned'"})), "no other state has one"},
	{"ended twice", judged, insert("demonstration_events", reviewed.with(fields{"state": "'abandoned'", "meaning": "''", "leaf": "0"})), "does not come to that one"},
	{"judged again by no event", judged, insert("demonstration_results", result.with(fields{"event": "3"})), "FOREIGN KEY"},
	{"judged after a signature", append(slices.Clone(chosen), insert("signatures", signature)), insert("demonstration_results", result.with(fields{"event": "4"})),
		"only a demonstration that nobody has signed is judged"},
	{"met without a choice", chosen[:6], insert("demonstration_events", reviewed.with(fields{"state": "'met'"})), "does not come to that one"},
	{"met after a refusal", refusing, insert("demonstration_events", reviewed.with(fields{"seq": "5", "state": "'met'"})), "does not come to that one"},
	{"kept that is no routine observation", judged, insert("demonstration_events", reviewed.with(fields{"state": "'kept'", "meaning": "''"})), "does not come to that one"},
	{"a choice by nobody", chosen[:7], insert("demonstration_events", reviewed.with(fields{"by_id": "''"})), "says who, and why"},
	{"a choice of nothing", chosen[:7], insert("demonstration_events", reviewed.with(fields{"meaning": "''"})), "says who, and why"},
	{"a refusal without a reason", chosen, insert("demonstration_events", refused.with(fields{"why": "''"})), "says who, and why"},
	{"what became of it without a leaf", chosen[:7], insert("demonstration_events", reviewed.with(fields{"leaf": "NULL"})), "says who, and why"},
	{"what became of it, of no leaf", chosen[:7], insert("demonstration_events", reviewed.with(fields{"leaf": "7"})), "FOREIGN KEY"},
	{"a move changed", nil, "UPDATE demonstration_moves SET purpose = ''", "words are kept"},
	{"a correction of no event", chosen, insert("demonstration_corrections", correction), "just before its event"},
	{"a correction that does nothing", judged, insert("demonstration_corrections", correction.with(fields{"struck": "0"})), "strikes_or_puts"},
	{"a correction changed", corrected, "UPDATE demonstration_corrections SET struck = 2", "corrections are kept"},
	{"a correction removed", corrected, "DELETE FROM demonstration_corrections", "corrections are kept"},
	{"nobody's demonstration", nil, insert("demonstrations", demonstration.with(fields{"trainee_id": "NULL", "discipline": "'nurse'"})), "only_a_routine_observation_names_nobody"},
	{"an observation of nobody and no discipline", nil, insert("demonstrations", demonstration.with(fields{"trainee_id": "NULL", "purpose": "'routine'"})), "only_a_routine_observation_names_nobody"},
	{"watched for something else", nil, insert("demonstrations", demonstration.with(fields{"purpose": "'fun'"})), "FOREIGN KEY"},
	{"a plan changed", aPlan, "UPDATE plans SET marks = ''", "plans are kept"},
	{"a plan removed", aPlan, "DELETE FROM plans", "plans are kept"},
	{"two plans of one demonstration", aPlan, insert("plans", plan.with(fields{"id": "'m'"})), "UNIQUE constraint failed: plans.demonstration_id"},
	{"a plan opened at once", chosen, insert("plan_events", planEvent.with(fields{"event": "'opened'"})), "proposed_then_answered_then_closed"},
	{"a plan answered out of order", aPlan, insert("plan_events", planEvent.with(fields{"seq": "3", "event": "'opened'", "leaf": "1"})), "one after the other"},
	{"what became of a plan changed", aPlan, "UPDATE plan_events SET why = 'x'", "what became of a plan is kept"},
	{"what became of a plan removed", aPlan, "DELETE FROM plan_events", "what became of a plan is kept"},
	{"an odd outcome", recording, "BEGIN; " + insert("demonstration_results", result.with(fields{"outcome": "'perhaps'"})), "FOREIGN KEY"},
	{"a line after the end", judged, insert("observations", observation), "nothing is added to a demonstration that has ended"},
	{"a line of nothing", nil, insert("observations", observation), "nothing is added"},
	{"signed while recording", recording, insert("signatures", signature), "does not fit its demonstration"},
	{"signed before the outcome is chosen", judged, insert("signatures", signature), "does not fit its demonstration"},
	{"signed by a third", chosen, insert("signatures", signature.with(fields{"signer_id": "'o'"})), "does not fit its demonstration"},
	{"signed as the other", chosen, insert("signatures", signature.with(fields{"meaning": "'watched-met'"})), "does not fit its demonstration"},
	{"an unknown meaning", chosen, insert("signatures", signature.with(fields{"meaning": "'seen'"})), "does not fit its demonstration"},
	{"the preceptor first", chosen, insert("signatures", signature.with(fields{"signer_id": "'q'", "meaning": "'watched-met'"})), "does not fit its demonstration"},
	{"another outcome than was chosen", append(slices.Clone(chosen), insert("signatures", signature)),
		insert("signatures", signature.with(fields{"signer_id": "'q'", "meaning": "'watched-practice'", "leaf": "1"})), "does not fit its demonstration"},
	{"met where the learner refuses", refusing, insert("signatures", signature.with(fields{"signer_id": "'q'", "meaning": "'watched-met'"})), "does not fit its demonstration"},
	{"signed twice", append(slices.Clone(chosen), insert("signatures", signature)), insert("signatures", signature.with(fields{"leaf": "1"})), "UNIQUE constraint failed: signatures.demonstration_id, signatures.signer_id"},
	{"a correction of what was not withdrawn", judged, insert("demonstrations", demonstration.with(fields{"id": "'d2'", "corrects": "'d'"})), "was withdrawn for it"},
	{"an earlier batch changed", aBatch, "UPDATE earlier_batches SET by_name = 'x'", "a confirmed batch is kept"},
	{"an earlier batch removed", aBatch, "DELETE FROM earlier_batches", "a confirmed batch is kept"},
	{"an earlier sign-off changed", aBatch, "UPDATE earlier_sign_offs SET due = '2029-01-01'", "an earlier sign-off is kept"},
	{"an earlier sign-off removed", aBatch, "DELETE FROM earlier_sign_offs", "an earlier sign-off is kept"},
	{"an earlier sign-off of nowhere", aBatch[:2], insert("earlier_sign_offs", earlierLine.with(fields{"shown_here": "0"})), "elsewhere_has_a_name"},
	{"an earlier sign-off of no batch", nil, insert("earlier_sign_offs", earlierLine), "FOREIGN KEY"},
	{"an earlier sign-off that stands for another without a reason", aBatch, insert("earlier_sign_offs", earlierLine.with(fields{"id": "'f'", "n": "2", "corrects": "'e'"})), "what_stands_for_it_says_why"},
	{"an earlier sign-off's end changed", aBatchEnd, "UPDATE earlier_ends SET why = 'x'", "that an earlier sign-off holds no longer is kept"},
	{"an earlier sign-off's end removed", aBatchEnd, "DELETE FROM earlier_ends", "that an earlier sign-off holds no longer is kept"},
	{"reading asked by hand", anAssignment[:3], insert("assignments", assignment.with(fields{"kind": "'read'"})), "kind <> 'read'"},
	{"nothing asked", anAssignment[:3], insert("assignments", assignment.with(fields{"subject": "''"})), "subject <> ''"},
	{"asked of one twice", anAssignment, insert("assigned", assignedTo.with(fields{"id": "'i'", "n": "2"})), "UNIQUE constraint failed"},
	{"what was asked changed", anAssignment, "UPDATE assignments SET due = '2026-06-01'", "what was asked is kept"},
	{"what was asked removed", anAssignment, "DELETE FROM assignments", "what was asked is kept"},
	{"asked of another", anAssignment, "UPDATE assigned SET person_id = 'q'", "of whom it was asked is kept"},
	{"asked of nobody", anAssignment, "DELETE FROM assigned", "of whom it was asked is kept"},
	{"a taking back changed", anAssignmentEnd, "UPDATE assignment_ends SET why = 'x'", "that it was taken back is kept"},
	{"a taking back removed", anAssignmentEnd, "DELETE FROM assignment_ends", "that it was taken back is kept"},
	{"taken back of nobody", anAssignment, insert("assignment_ends", assignmentEnd.with(fields{"n": "2"})), "what is asked of somebody is taken back, once"},
	{"taken back twice", anAssignmentEnd, insert("assignment_ends", assignmentEnd.with(fields{"leaf": "0"})), "UNIQUE constraint failed"},
	{"taken back behind all", allTakenBack, insert("assignment_ends", assignmentEnd.with(fields{"leaf": "0"})), "what is asked of somebody is taken back, once"},
	{"a short retention", anItem[:1], insert("item_versions", itemVersion.with(fields{"keep_years": "2"})), "keep_years BETWEEN 3"},
	{"a version changed", anItem, "UPDATE item_versions SET title = 'x'", "a version of an item is kept"},
	{"a version removed", anItem, "DELETE FROM item_versions", "a version of an item is kept"},
	{"an entry without evidence", anEntry[:3], insert("item_entries", itemEntry.with(fields{"evidence": "''"})), "evidence <> ''"},
	{"an entry changed", anEntry, "UPDATE item_entries SET on_day = '2026-01-01'", "an entry is kept"},
	{"an entry removed", anEntry, "DELETE FROM item_entries", "an entry is kept"},
	{"a correction without a reason", anotherOne, insert("item_entries", itemEntry.with(fields{"id": "'m'", "corrects": "'n'", "leaf": "0"})), "a_correction_says_why"},
	{"an entry's end changed", anItemEnd, "UPDATE item_ends SET why = 'x'", "that an entry holds no longer is kept"},
	{"an entry's end removed", anItemEnd, "DELETE FROM item_ends", "that an entry holds no longer is kept"},
	{"a correction of what was withdrawn", append(slices.Clone(anItemEnd), insert("ledger_leaves", fields{"i": "3", "leaf": "x'04'"}), insert("record_leaves", leafOf.with(fields{"leaf": "3", "kind": "'item-entry'"}))),
		insert("item_entries", itemEntry.with(fields{"id": "'m'", "corrects": "'n'", "why": "'x'", "leaf": "3"})), "the entry was withdrawn"},
	{"an end of what was corrected", append(slices.Clone(anotherOne), insert("item_entries", itemEntry.with(fields{"id": "'m'", "corrects": "'n'", "why": "'x'", "leaf": "0"})),
		insert("ledger_leaves", fields{"i": "3", "leaf": "x'04'"}), insert("record_leaves", leafOf.with(fields{"leaf": "3", "kind": "'end'"}))), insert("item_ends", itemEnd.with(fields{"leaf": "3"})), "the entry was corrected"},
	{"an end of nothing", nil, insert("record_ends", recordEnd.with(fields{"sign_off_id": "NULL"})), "ends_one_record"},
	{"an end without a reason", anEnd[:2], insert("record_ends", recordEnd.with(fields{"why": "''"})), "why <> ''"},
	{"an end changed", anEnd, "UPDATE record_ends SET why = 'x'", "that a record holds no longer is kept"},
	{"an end removed", anEnd, "DELETE FROM record_ends", "that a record holds no longer is kept"},
	{"ended twice", append(slices.Clone(anEnd), insert("record_leaves", leafOf.with(fields{"leaf": "1", "kind": "'end'"}))), insert("record_ends", recordEnd.with(fields{"leaf": "1"})), "UNIQUE constraint failed: record_ends.sign_off_id"},
	{"own sign-off", nil, insert("sign_offs", signOff.with(fields{"signer_id": "'p'"})), "person_id <> signer_id"},
	{"wrong type", nil, "INSERT INTO ledger_heads (size, note) VALUES ('one', 'note')", "datatype mismatch"},
	{"an attempt of a procedure that is not kept", nil, insert("attempts", attempt.with(fields{"procedure": "'y'"})), "what a record cites is kept with it"},
	{"an attempt of a scenario that is not kept", nil, insert("attempts", attempt.with(fields{"scenario_hash": hash})), "what a record cites is kept with it"},
	{"a demonstration of one", nil, insert("demonstrations", demonstration.with(fields{"procedure_hash": scenarioHash})), "what a record cites is kept with it"},
	{"a result by one", recording, insert("demonstration_results", result.with(fields{"procedure_hash": scenarioHash})), "what a record cites is kept with it"},
	{"a definition changed", nil, "UPDATE definitions SET text = x'7b'", "what a record cites is kept"},
	{"a definition removed", nil, "DELETE FROM definitions", "what a record cites is kept"},
	{"a definition of a kind", nil, insert("definitions", definition.with(fields{"hash": "'" + strings.Repeat("c", 64) + "'", "kind": "'poem'"})), "FOREIGN KEY"},
	{"more that was not kept", nil, "INSERT INTO definitions_not_kept (hash, kind, id) VALUES ('c', 'procedure', 'x')", "the list of what was not kept is closed"},
	{"a version based on itself", nil, insert("set_versions", setVersion.with(fields{"based_on": "1"})), "based_on < number"},
	{"a version of nowhere", nil, insert("set_versions", setVersion.with(fields{"origin": "'found'"})), "FOREIGN KEY"},
	{"a version's file that is not kept", aSet, insert("set_version_files", setFile.with(fields{"name": "'b.yaml'", "hash": scenarioHash})), "FOREIGN KEY"},
	{"a file added to a version", aStart, insert("set_version_files", setFile.with(fields{"name": "'b.yaml'"})), "a version has the files it began with"},
	{"a version changed", aSet, "UPDATE set_versions SET why = 'x'", "a version of the set is kept"},
	{"a version removed", aSet, "DELETE FROM set_versions", "a version of the set is kept"},
	{"a version's file changed", aSet, "UPDATE set_version_files SET name = 'x'", "the files of a version are kept"},
	{"a version's file removed", aSet, "DELETE FROM set_version_files", "the files of a version are kept"},
	{"a kept file changed", aSet, "UPDATE set_files SET bytes = x'62'", "the files of a version are kept"},
	{"a kept file removed", aSet, "DELETE FROM set_files", "the files of a version are kept"},
	{"what became of a version changed", aStart, "UPDATE set_events SET why = 'x'", "what became of a version is kept"},
	{"what became of a version removed", aStart, "DELETE FROM set_events", "what became of a version is kept"},
	{"an odd event", aSet, insert("set_events", setEvent.with(fields{"event": "'lost'"})), "FOREIGN KEY"},
	{"approved at once", aSet, insert("set_events", setApproved.with(fields{"seq": "1"})), "only what is proposed"},
	{"proposed twice", append(slices.Clone(aSet), insert("set_events", setProposed)), insert("set_events", setProposed.with(fields{"seq": "2", "leaf": "1"})), "follows one after the other"},
	{"an event left out", aStart, insert("set_events", setEvent.with(fields{"seq": "3", "event": "'two approve'", "leaf": "1"})), "follows one after the other"},
	{"the starting point approved", aStart, insert("set_events", setApproved), "only what is proposed"},
	{"approved twice", append(slices.Clone(aSet), insert("set_events", setProposed), insert("set_events", setApproved)),
		insert("set_events", setApproved.with(fields{"seq": "3", "leaf": "2"})), "only what is proposed"},
	{"approved by nobody", append(slices.Clone(aSet), insert("set_events", setProposed)), insert("set_events", setApproved.with(fields{"approver": "''"})), "approved_by_somebody"},
	{"approved from no day", append(slices.Clone(aSet), insert("set_events", setProposed)), insert("set_events", setApproved.with(fields{"in_force_from": "''"})), "approved_by_somebody"},
	{"an event without its leaf", aSet, insert("set_events", setEvent.with(fields{"leaf": "7"})), "FOREIGN KEY"},
	{"two events of one leaf", aStart, insert("set_events", setEvent.with(fields{"seq": "2", "event": "'two approve'"})), "UNIQUE constraint failed: set_events.leaf"},
	{"a second draft", aSet, insert("set_draft", setDraft.with(fields{"id": "2"})), "id = 1"},
	{"a draft of no version", nil, insert("set_draft", setDraft), "FOREIGN KEY"},
	{"what follows from what was not approved", aStart, insert("set_follow_ups", followUp), "follows from what was approved"},
	{"what follows, left out", anApproval, insert("set_follow_ups", followUp.with(fields{"seq": "2"})), "one after the other"},
	{"a duty that nobody gave", anApproval, insert("duties", duty), "FOREIGN KEY"},
	{"a duty twice", aDuty, insert("duties", duty.with(fields{"id": "'v'"})), "UNIQUE constraint failed: duties.version, duties.person_id, duties.kind, duties.subject"},
	{"an odd duty", aDuty, insert("duties", duty.with(fields{"id": "'v'", "kind": "'sing'", "subject": "'x'"})), "FOREIGN KEY"},
	{"a module of no name", aDuty, insert("duties", duty.with(fields{"id": "'v'", "kind": "'module'"})), "of_something"},
	{"a duty ended twice", append(slices.Clone(aDuty), insert("duty_ends", dutyEnd)), insert("duty_ends", dutyEnd.with(fields{"leaf": "1"})), "UNIQUE constraint failed: duty_ends.duty_id"},
	{"read by somebody else", aDuty, insert("duty_ends", dutyEnd.with(fields{"by_id": "'q'"})), "who has to read it has read it"},
	{"a module that was read", append(slices.Clone(aDuty), insert("duties", duty.with(fields{"id": "'v'", "kind": "'module'", "subject": "'m'"}))),
		insert("duty_ends", dutyEnd.with(fields{"duty_id": "'v'"})), "who has to read it has read it"},
	{"another day out of order", aDuty, insert("duty_dates", dutyDate.with(fields{"seq": "2"})), "another day comes after the one before it"},
	{"another day of what has ended", append(slices.Clone(aDuty), insert("duty_ends", dutyEnd.with(fields{"leaf": "1"}))), insert("duty_dates", dutyDate), "while it is to be done"},
	{"another day changed", append(slices.Clone(aDuty), insert("duty_dates", dutyDate)), "UPDATE duty_dates SET due = '2027-01-01'", "was to be done is kept"},
	{"another day removed", append(slices.Clone(aDuty), insert("duty_dates", dutyDate)), "DELETE FROM duty_dates", "was to be done is kept"},
	{"an act without its key", recording, insert("watched_acts", watchedAct.with(fields{"act_key": "''"})), "act_key <> ''"},
	{"an act of no device", recording, insert("watched_acts", watchedAct.with(fields{"device": "''"})), "device <> ''"},
	{"an act without its number", recording, insert("watched_acts", watchedAct.with(fields{"n": "0"})), "n >= 1"},
	{"an act of fewer than no lines", recording, insert("watched_acts", watchedAct.with(fields{"lines": "-1"})), "lines >= 0"},
	{"an act received at no moment", recording, insert("watched_acts", watchedAct.with(fields{"received_at": "'today'"})), "received_at GLOB"},
	{"an act received from nobody", recording, insert("watched_acts", watchedAct.with(fields{"by_id": "'nobody'"})), "FOREIGN KEY"},
	{"an act received from no name", recording, insert("watched_acts", watchedAct.with(fields{"by_name": "''"})), "by_name <> ''"},
	{"an act half late", recording, insert("watched_acts", watchedAct.with(fields{"late": "2"})), "what comes after the end is late"},
	{"an act of nothing", recording, insert("watched_acts", watchedAct.with(fields{"text": "''"})), "counts_or_refused"},
	{"an act that takes back and does", recording, insert("watched_acts", watchedAct.with(fields{"undo": "'j'"})), "counts_or_refused"},
	{"an act before the start", recording, insert("watched_acts", watchedAct.with(fields{"at_ms": "-1"})), "counts_or_refused"},
	{"an act at a word", recording, insert("watched_acts", watchedAct.with(fields{"at_ms": "'soon'"})), "cannot store TEXT value"},
	{"an act twice", append(slices.Clone(recording), insert("watched_acts", watchedAct)), insert("watched_acts", watchedAct.with(fields{"n": "2"})), "UNIQUE constraint failed: watched_acts.demonstration_id, watched_acts.act_key"},
	{"two acts of one number", append(slices.Clone(recording), insert("watched_acts", watchedAct)), insert("watched_acts", watchedAct.with(fields{"act_key": "'l'"})), "UNIQUE constraint failed: watched_acts.demonstration_id, watched_acts.device, watched_acts.n"},
	{"an act of no demonstration", nil, insert("watched_acts", watchedAct), "what comes after the end is late"},
	{"an act that is late before the end", recording, insert("watched_acts", watchedAct.with(fields{"late": "1"})), "what comes after the end is late"},
	{"an act that counts after the end", judged, insert("watched_acts", watchedAct), "what comes after the end is late"},
	{"an act changed", append(slices.Clone(recording), insert("watched_acts", watchedAct)), "UPDATE watched_acts SET text = 'pause'", "what was received is kept"},
	{"an act removed", append(slices.Clone(recording), insert("watched_acts", watchedAct)), "DELETE FROM watched_acts", "what was received is kept"},
	{"an act removed after the end", append(slices.Clone(judged), insert("watched_acts", watchedAct.with(fields{"late": "1"}))), "DELETE FROM watched_acts", "what was received is kept"},
	{"a device without a name", recording, insert("recording_devices", device.with(fields{"device": "''"})), "device <> ''"},
	{"a device from no moment on", recording, insert("recording_devices", device.with(fields{"at": "'now'"})), "at GLOB"},
	{"a device of nobody", recording, insert("recording_devices", device.with(fields{"by_id": "'nobody'"})), "FOREIGN KEY"},
	{"a device of no name", recording, insert("recording_devices", device.with(fields{"by_name": "''"})), "by_name <> ''"},
	{"a device before the first", recording, insert("recording_devices", device.with(fields{"seq": "0"})), "devices take over one after the other"},
	{"a device left out", recording, insert("recording_devices", device.with(fields{"seq": "2"})), "devices take over one after the other"},
	{"two devices at once", append(slices.Clone(recording), insert("recording_devices", device)), insert("recording_devices", device.with(fields{"device": "'e'"})), "devices take over one after the other"},
	{"a device after the end", judged, insert("recording_devices", device), "while it is recorded"},
	{"a device of no demonstration", nil, insert("recording_devices", device), "while it is recorded"},
	{"who recorded changed", append(slices.Clone(recording), insert("recording_devices", device)), "UPDATE recording_devices SET device = 'e'", "who recorded is kept"},
	{"who recorded removed", append(slices.Clone(recording), insert("recording_devices", device)), "DELETE FROM recording_devices", "who recorded is kept"},
	{"another day of no duty", aDuty, insert("duty_dates", dutyDate.with(fields{"duty_id": "'x'"})), "FOREIGN KEY"},
	{"another day before the first", aDuty, insert("duty_dates", dutyDate.with(fields{"seq": "0"})), "another day comes after the one before it"},
	{"another day that is none", aDuty, insert("duty_dates", dutyDate.with(fields{"due": "'soon'"})), "due GLOB"},
	{"another day at no moment", aDuty, insert("duty_dates", dutyDate.with(fields{"at": "'today'"})), "at GLOB"},
	{"another day of nobody", aDuty, insert("duty_dates", dutyDate.with(fields{"by_id": "'nobody'"})), "FOREIGN KEY"},
	{"another day of no name", aDuty, insert("duty_dates", dutyDate.with(fields{"by_name": "''"})), "by_name <> ''"},
	{"another day for no reason", aDuty, insert("duty_dates", dutyDate.with(fields{"why": "''"})), "why <> ''"},
	{"another day without its leaf", aDuty, insert("duty_dates", dutyDate.with(fields{"leaf": "7"})), "FOREIGN KEY"},
	{"two other days of one leaf", append(slices.Clone(aDuty), insert("duty_dates", dutyDate)), insert("duty_dates", dutyDate.with(fields{"seq": "2"})), "UNIQUE constraint failed: duty_dates.leaf"},
	{"a duty changed", aDuty, "UPDATE duties SET due = '2027-01-01'", "what people have to do is kept"},
	{"a duty removed", aDuty, "DELETE FROM duties", "what people have to do is kept"},
	{"a plan closed that nobody opened", declined, insert("plan_events", planEvent.with(fields{"seq": "3", "event": "'closed'", "leaf": "0"})), "one after the other"},
	{"a plan closed at once", aPlan, insert("plan_events", planEvent.with(fields{"seq": "2", "event": "'closed'", "leaf": "1"})), "one after the other"},
	{"a plan opened again", openedPlan, insert("plan_events", planEvent.with(fields{"seq": "3", "event": "'opened'", "leaf": "0"})), "proposed_then_answered_then_closed"},
	{"requirements of nothing", theLeaves, insert("requirement_versions", requirement.with(fields{"competency": "''"})), "competency <> ''"},
	{"requirements from no day", theLeaves, insert("requirement_versions", requirement.with(fields{"from_day": "'soon'"})), "from_day GLOB"},
	{"requirements at no moment", theLeaves, insert("requirement_versions", requirement.with(fields{"at": "'today'"})), "at GLOB"},
	{"requirements that cannot be read", theLeaves, insert("requirement_versions", requirement.with(fields{"terms": "'{'"})), "json_valid"},
	{"requirements without their leaf", theLeaves, insert("requirement_versions", requirement.with(fields{"leaf": "7"})), "FOREIGN KEY"},
	{"first requirements of somebody", theLeaves, insert("requirement_versions", requirement.with(fields{"by_id": "'o'", "by_name": "'O'", "why": "'So.'", "from_day": "'2026-03-01'"})), "only_the_first_is_nobodys"},
	{"later requirements of nobody", append(slices.Clone(theLeaves), insert("requirement_versions", requirement)), insert("requirement_versions", requirement.with(fields{"number": "2", "leaf": "1"})), "only_the_first_is_nobodys"},
	{"requirements before the first", theLeaves, insert("requirement_versions", secondVersion), "versions of requirements come one after the other"},
	{"requirements twice", append(slices.Clone(theLeaves), insert("requirement_versions", requirement)), insert("requirement_versions", requirement.with(fields{"leaf": "1"})), "versions of requirements come one after the other"},
	{"two requirements of one leaf", append(slices.Clone(theLeaves), insert("requirement_versions", requirement)), insert("requirement_versions", secondVersion.with(fields{"leaf": "0"})), "UNIQUE constraint failed: requirement_versions.leaf"},
	{"requirements changed", append(slices.Clone(theLeaves), insert("requirement_versions", requirement)), "UPDATE requirement_versions SET terms = '{}'", "versions of requirements are kept"},
	{"requirements removed", append(slices.Clone(theLeaves), insert("requirement_versions", requirement)), "DELETE FROM requirement_versions", "versions of requirements are kept"},
	{"a sign-off under no version", nil, insert("sign_offs", signOff.with(fields{"requirements": "0"})), "requirements >= 1"},
	{"a leave without an id", theLeaves, insert("absences", absence.with(fields{"id": "''"})), "id <> ''"},
	{"a leave of nobody", theLeaves, insert("absences", absence.with(fields{"person_id": "'nobody'"})), "FOREIGN KEY"},
	{"a leave from no day", theLeaves, insert("absences", absence.with(fields{"from_day": "''"})), "from_day GLOB"},
	{"a leave until no day", theLeaves, insert("absences", absence.with(fields{"until_day": "'soon'"})), "until_day GLOB"},
	{"a leave that ends before it begins", theLeaves, insert("absences", absence.with(fields{"until_day": "'2026-03-30'"})), "a_leave_ends_after_it_began"},
	{"a leave half cancelled", theLeaves, insert("absences", absence.with(fields{"cancelled": "2"})), "cancelled IN (0, 1)"},
	{"a leave entered at no moment", theLeaves, insert("absences", absence.with(fields{"at": "'today'"})), "at GLOB"},
	{"a leave entered by nobody", theLeaves, insert("absences", absence.with(fields{"by_id": "'nobody'"})), "FOREIGN KEY"},
	{"a leave entered by no name", theLeaves, insert("absences", absence.with(fields{"by_name": "''"})), "by_name <> ''"},
	{"a leave without its leaf", theLeaves, insert("absences", absence.with(fields{"leaf": "7"})), "FOREIGN KEY"},
	{"a leave that begins with its change", theLeaves, insert("absences", absence.with(fields{"seq": "2"})), "what becomes of a leave comes one after the other"},
	{"a leave that becomes another's", append(slices.Clone(theLeaves), insert("absences", absence)), insert("absences", absence.with(fields{"seq": "2", "person_id": "'q'", "leaf": "1"})), "what becomes of a leave comes one after the other"},
	{"a leave after it was cancelled", append(slices.Clone(theLeaves), insert("absences", absence.with(fields{"cancelled": "1"}))), insert("absences", absence.with(fields{"seq": "2", "leaf": "1"})), "until it is cancelled"},
	{"two leaves of one leaf", append(slices.Clone(theLeaves), insert("absences", absence)), insert("absences", absence.with(fields{"id": "'z'"})), "UNIQUE constraint failed: absences.leaf"},
	{"a leave changed", append(slices.Clone(theLeaves), insert("absences", absence)), "UPDATE absences SET until_day = ''", "leaves are kept as they were entered"},
	{"a leave removed", append(slices.Clone(theLeaves), insert("absences", absence)), "DELETE FROM absences", "leaves are kept as they were entered"},
	{"a target above the most", theLeaves, insert("observation_targets", aTarget.with(fields{"monthly": "501"})), "monthly BETWEEN 0 AND 500"},
	{"a target below nothing", theLeaves, insert("observation_targets", aTarget.with(fields{"monthly": "-1"})), "monthly BETWEEN 0 AND 500"},
	{"a target at no moment", theLeaves, insert("observation_targets", aTarget.with(fields{"at": "'today'"})), "at GLOB"},
	{"a target of nobody", theLeaves, insert("observation_targets", aTarget.with(fields{"by_id": "'nobody'"})), "FOREIGN KEY"},
	{"a target of no name", theLeaves, insert("observation_targets", aTarget.with(fields{"by_name": "''"})), "by_name <> ''"},
	{"a target for no reason", theLeaves, insert("observation_targets", aTarget.with(fields{"why": "''"})), "why <> ''"},
	{"a target without its leaf", theLeaves, insert("observation_targets", aTarget.with(fields{"leaf": "7"})), "FOREIGN KEY"},
	{"a target before the first", theLeaves, insert("observation_targets", aTarget.with(fields{"seq": "2"})), "targets of a month come one after the other"},
	{"two targets of one leaf", append(slices.Clone(theLeaves), insert("observation_targets", aTarget)), insert("observation_targets", aTarget.with(fields{"seq": "2"})), "UNIQUE constraint failed: observation_targets.leaf"},
	{"a target changed", append(slices.Clone(theLeaves), insert("observation_targets", aTarget)), "UPDATE observation_targets SET monthly = 1", "targets of a month are kept"},
	{"a target removed", append(slices.Clone(theLeaves), insert("observation_targets", aTarget)), "DELETE FROM observation_targets", "targets of a month are kept"},
	{"a word that is used", nil, "DELETE FROM roles WHERE word = 'trainee'", "FOREIGN KEY"},
	{"a word changed", nil, "UPDATE meanings SET clean = 0", "words are kept"},
}

func TestTheFileRefusesWhatCannotBe(t *testing.T) {
	for _, c := range refusals {
		t.Run(c.name, func(t *testing.T) {
			s := written(t, c.before...)
			err := s.exec(c.row)
			if slices.Contains(c.before, "BEGIN") && !slices.Contains(c.before, "COMMIT") || strings.HasPrefix(c.row, "BEGIN") {
				require.NoError(t, s.exec("ROLLBACK"))
			}
			require.ErrorContains(t, err, c.why)
		})
	}
}

// A row that is refused is refused for what is wrong with it: as it was it is taken.
func TestTheFileTakesWhatCanBe(t *testing.T) {
	refusedAct := watchedAct.with(fields{"act_key": "'l'", "n": "2", "at_ms": "-1", "text": "'wipe moon'", "lines": "0", "refused": "'No such surface.'"})
	written(t, append(slices.Clone(recording), insert("watched_acts", watchedAct), insert("watched_acts", refusedAct),
		insert("watched_acts", watchedAct.with(fields{"act_key": "'m'", "device": "'other'", "text": "''", "undo": "'k'", "lines": "0"})),
		insert("recording_devices", device), insert("recording_devices", device.with(fields{"seq": "2", "device": "'e'"})))...)
	written(t, append(slices.Clone(judged), insert("watched_acts", watchedAct.with(fields{"late": "1"})))...)
	written(t, append(slices.Clone(openedPlan), insert("plan_events", planEvent.with(fields{"seq": "3", "event": "'closed'", "leaf": "0"})))...)
	written(t, append(slices.Clone(theLeaves), insert("requirement_versions", requirement), insert("requirement_versions", secondVersion),
		insert("sign_offs", signOff.with(fields{"requirements": "2"})))...)
	written(t, append(slices.Clone(theLeaves), insert("absences", absence.with(fields{"until_day": "''"})), insert("absences", absence.with(fields{"seq": "2", "leaf": "1"})))...)
	written(t, append(slices.Clone(theLeaves), insert("observation_targets", aTarget.with(fields{"monthly": "0"})), insert("observation_targets", aTarget.with(fields{"seq": "2", "monthly": "500", "leaf": "1"})))...)
	written(t, append(slices.Clone(aDuty), insert("duty_dates", dutyDate), insert("duty_dates", dutyDate.with(fields{"seq": "2", "leaf": "1"})))...)
}

// A trigger that refuses nothing here is not known to refuse: each has a row above, or keeps
// a whole table as it is, of which a folder with some of everything has rows.
func TestEveryTriggerRefuses(t *testing.T) {
	s := open(t, fixture(t, "schema-14"))
	var triggers []struct{ Name, On, SQL string }
	require.NoError(t, s.w.Raw("SELECT name, tbl_name AS 'on', sql FROM sqlite_schema WHERE type = 'trigger'").Scan(&triggers).Error)
	require.NotEmpty(t, triggers)
	for _, trigger := range triggers {
		_, why, ok := strings.Cut(trigger.SQL, "RAISE(ABORT, '")
		require.True(t, ok, trigger.SQL)
		why, _, _ = strings.Cut(why, "'")
		if slices.ContainsFunc(refusals, func(c refusal) bool { return strings.Contains(why, c.why) }) {
			continue
		}
		change := "DELETE FROM " + trigger.On
		if strings.Contains(trigger.SQL, "BEFORE UPDATE") {
			var column string
			require.NoError(t, s.w.Raw("SELECT name FROM pragma_table_info(?) LIMIT 1", trigger.On).Scan(&column).Error)
			change = fmt.Sprintf("UPDATE %s SET %s = %[2]s", trigger.On, column)
		}
		assert.ErrorContains(t, s.exec(change), why, trigger.Name)
	}
}

// exec goes past GORM, which hides what the file says.
func (s *Store) exec(statement string) error {
	pool, err := s.w.DB()
	if err != nil {
		return err
	}
	_, err = pool.Exec(statement)
	return err
}

// A prompt, or anything but a pass, cannot be signed as met.
func TestMetNeedsACleanPass(t *testing.T) {
	met := insert("signatures", signature.with(fields{"signer_id": "'q'", "meaning": "'watched-met'", "leaf": "1"}))
	choice := chosen[len(judged):]
	learner := insert("signatures", signature)
	for name, change := range map[string]fields{"prompted": {"prompted": "1"}, "not passed": {"outcome": "'not pass'"}, "incomplete": {"outcome": "'incomplete'"}} {
		s := written(t, append(slices.Clone(recording), "BEGIN", insert("demonstration_results", result.with(change)), insert("demonstration_events", ended), "COMMIT", choice[0], choice[1], learner)...)
		require.ErrorContains(t, s.exec(met), "does not fit its demonstration", name)
	}
	written(t, append(slices.Clone(chosen), learner, met)...)
	written(t, append(slices.Clone(judged), choice[0], insert("demonstration_events", reviewed.with(fields{"meaning": "'watched-not-met'"})),
		insert("demonstration_events", refused), insert("signatures", signature.with(fields{"signer_id": "'q'", "meaning": "'watched-not-met'"})))...)
}

// A new word is one row, as a migration would add it: no table is made anew.
func TestANewWordIsOneRow(t *testing.T) {
	s := written(t, append(slices.Clone(recording),
		"INSERT INTO roles (word) VALUES ('technician')", insert("people", person.with(fields{"role": "'technician'"})),
		"INSERT INTO demonstration_states (word, ends, judged) VALUES ('stepped in', 0, 0)",
		"INSERT INTO demonstration_moves (was, next, purpose) VALUES ('recording', 'stepped in', '')",
		insert("demonstration_events", ended.with(fields{"state": "'stepped in'"})), insert("observations", observation))...)
	d, err := s.Demonstration(context.Background(), "d")
	require.NoError(t, err)
	require.Equal(t, training.DemonstrationState("stepped in"), d.State)
	require.Empty(t, d.EndedAt)
}

func TestTheScoreIsReadOutOfTheResult(t *testing.T) {
	for json, want := range map[string]float64{
		`{"marks":{"score":0.75}}`: 0.75, `{"marks":{"score":1}}`: 1, `{"marks":{}}`: 0, `{}`: 0, `not json`: 0, `{"marks":{"score":"high"}}`: 0,
		`{"marks":{"score":null}}`: 0, `[1]`: 0,
	} {
		s := written(t, insert("attempts", attempt.with(fields{"result_json": fmt.Sprintf("x'%x'", json)})))
		a, err := s.Attempt(context.Background(), "a")
		require.NoError(t, err, json)
		require.InDelta(t, want, a.Score, 0, json)
		require.Equal(t, json, string(a.ResultJSON))
	}
}

// A file in which something refers to nothing is left as it was.
func TestAMigrationThatWouldDangleIsUndone(t *testing.T) {
	ctx, dir := context.Background(), fixture(t, "schema-2")
	raw := rawFile(t, dir)
	_, err := raw.Exec("PRAGMA foreign_keys = OFF; UPDATE people SET id = 'other' WHERE id = (SELECT person_id FROM attempts)")
	require.NoError(t, err)
	require.NoError(t, raw.Close())
	_, err = Open(ctx, dir)
	require.ErrorContains(t, err, "every_row_that_is_referred_to_is_there")
	require.Equal(t, "schema 2, whole", stateOf(t, dir))
}

func TestEveryReferenceIsCheckedAfterAMigration(t *testing.T) {
	s := open(t, fixture(t, "schema-2"))
	require.ErrorContains(t, s.exec(insert("people", person.with(fields{"role": "'guest'"}))), "FOREIGN KEY")
	schema := func(s *Store) (names []string) {
		require.NoError(t, s.w.Raw("SELECT name FROM sqlite_schema WHERE type IN ('trigger', 'index', 'table', 'view') ORDER BY name").Scan(&names).Error)
		return names
	}
	require.Equal(t, schema(open(t, t.TempDir())), schema(s), "an upgraded file is as a new one")
}
