package store

import (
	"context"
	"database/sql"
	"fmt"

	"stillwet/internal/training"
)

type answerRow struct {
	PersonID string `gorm:"primaryKey"`
	Module   string `gorm:"primaryKey"`
	Part     string `gorm:"primaryKey"`
	Question string `gorm:"primaryKey"`
	Seq      int    `gorm:"primaryKey;autoIncrement:false"`
	At       training.Instant
	Choice   int
	Step     string
	IsRight  bool
}

func (answerRow) TableName() string { return "course_answers" }

func (r answerRow) answer() training.CourseAnswer {
	return training.CourseAnswer{PersonID: r.PersonID, Module: r.Module, Part: r.Part, Question: r.Question, Seq: r.Seq, At: r.At, Choice: r.Choice, Step: r.Step, Right: r.IsRight}
}

// CourseAnswers are a person's answers to the questions of a part, oldest first.
func (r reads) CourseAnswers(ctx context.Context, personID, module, part string) ([]training.CourseAnswer, error) {
	return all(r.q(ctx).Where("person_id = ? AND module = ? AND part = ?", personID, module, part).Order("at, question, seq"), "answers", answerRow.answer)
}

func (u unit) AddCourseAnswer(ctx context.Context, a training.CourseAnswer) error {
	return add(u.q(ctx), "answer", answerRow{PersonID: a.PersonID, Module: a.Module, Part: a.Part, Question: a.Question, Seq: a.Seq, At: a.At,
		Choice: a.Choice, Step: a.Step, IsRight: a.Right})
}

type markRow struct {
	PersonID   string           `gorm:"primaryKey"`
	Module     string           `gorm:"primaryKey"`
	Part       string           `gorm:"primaryKey"`
	DoneAt     training.Instant `gorm:"primaryKey"`
	RightFirst int
	Questions  int
}

func (markRow) TableName() string { return "course_marks" }

func (r markRow) mark() training.CourseMark {
	return training.CourseMark{PersonID: r.PersonID, Module: r.Module, Part: r.Part, DoneAt: r.DoneAt, RightFirst: r.RightFirst, Questions: r.Questions}
}

func (u unit) AddCourseMark(ctx context.Context, m training.CourseMark) error {
	return add(u.q(ctx), "a mark of this part", markRow{PersonID: m.PersonID, Module: m.Module, Part: m.Part, DoneAt: m.DoneAt, RightFirst: m.RightFirst, Questions: m.Questions})
}

// triedSQL counts attempts by person and scenario. Guided ones are counted apart: they
// pass nothing.
const triedSQL = `SELECT person_id, scenario_id, SUM(NOT guided) AS tries, SUM(guided) AS guided, COALESCE(MIN(iif(NOT guided AND outcome = 'pass', finished_at, NULL)), '') AS first_pass,
		COALESCE(MAX(iif(NOT guided AND outcome = 'pass', finished_at, NULL)), '') AS last_pass,
		COALESCE(substr(MAX(iif(guided, NULL, finished_at || id)), @width + 1), '') AS last_id, COALESCE(MAX(iif(guided, NULL, finished_at)), '') AS last_at
	FROM attempts WHERE person_id IN (SELECT value FROM json_each(@people)) GROUP BY person_id, scenario_id`

func (r reads) CourseOf(ctx context.Context, personIDs []string) (map[string]*training.CourseDone, error) {
	by := map[string]*training.CourseDone{}
	for _, id := range personIDs {
		by[id] = &training.CourseDone{}
	}
	marks, err := all(r.q(ctx).Where("person_id IN (SELECT value FROM json_each(?))", list(personIDs)).Order("done_at, module, part"), "marks of the course", markRow.mark)
	if err != nil {
		return nil, err
	}
	for _, m := range marks {
		by[m.PersonID].Marks = append(by[m.PersonID].Marks, m)
	}
	q := r.q(ctx).Raw(triedSQL, sql.Named("people", list(personIDs)), sql.Named("width", instantWidth))
	for t, err := range each(q, "attempts by scenario", scanTried) {
		if err != nil {
			return nil, fmt.Errorf("count attempts: %w", err)
		}
		by[t.personID].Tries = append(by[t.personID].Tries, t.ScenarioTries)
	}
	return by, nil
}

type tried struct {
	personID string
	training.ScenarioTries
}

func scanTried(rows *sql.Rows) (t tried, err error) {
	err = rows.Scan(&t.personID, &t.ScenarioID, &t.Tries, &t.Guided, &t.FirstPass, &t.LastPass, &t.LastID, &t.LastAt)
	return t, err
}

// missedSQL looks into the results in the file: all of them would be read for a few words.
const missedSQL = `SELECT DISTINCT a.id, json_extract(f.value, '$.rule') AS missed_rule
	FROM attempts a, json_each(CAST(a.result_json AS TEXT), '$.findings') f WHERE a.id IN (SELECT value FROM json_each(?))`

func (r reads) MissedRules(ctx context.Context, attemptIDs []string) (map[string][]string, error) {
	by := map[string][]string{}
	for m, err := range each(r.q(ctx).Raw(missedSQL, list(attemptIDs)), "what attempts missed", scanMissed) {
		if err != nil {
			return nil, err
		}
		by[m[0]] = append(by[m[0]], m[1])
	}
	return by, nil
}

func scanMissed(rows *sql.Rows) (m [2]string, err error) {
	err = rows.Scan(&m[0], &m[1])
	return m, err
}

type orientationRow struct {
	PersonID      string `gorm:"primaryKey"`
	Seq           int    `gorm:"primaryKey;autoIncrement:false"`
	PreceptorID   string
	PreceptorName string
	LastDay       training.Day
	SetBy         string
	SetByName     string
	SetAt         training.Instant
}

func (orientationRow) TableName() string { return "orientations" }

func (r orientationRow) orientation() training.Orientation {
	return training.Orientation{PersonID: r.PersonID, Seq: r.Seq, PreceptorID: r.PreceptorID, PreceptorName: r.PreceptorName, LastDay: r.LastDay,
		SetBy: r.SetBy, SetByName: r.SetByName, SetAt: r.SetAt}
}

const newestOrientation = "seq = (SELECT MAX(seq) FROM orientations n WHERE n.person_id = orientations.person_id)"

func (r reads) OrientationOf(ctx context.Context, personID string) (training.Orientation, error) {
	row, err := one[orientationRow](r.q(ctx).Where("person_id = ?", personID).Order("seq DESC"), "orientation")
	return row.orientation(), err
}

func (r reads) OrientationsBy(ctx context.Context, preceptorID string) ([]training.Orientation, error) {
	return all(r.q(ctx).Where("preceptor_id = ?", preceptorID).Where(newestOrientation).Order("last_day, person_id"), "orientations", orientationRow.orientation)
}

func (u unit) AddOrientation(ctx context.Context, o training.Orientation) error {
	return add(u.q(ctx), "orientation", orientationRow{PersonID: o.PersonID, Seq: o.Seq, PreceptorID: o.PreceptorID, PreceptorName: o.PreceptorName, LastDay: o.LastDay,
		SetBy: o.SetBy, SetByName: o.SetByName, SetAt: o.SetAt})
}
