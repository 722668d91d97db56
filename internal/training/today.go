package training

import (
	"context"
	"slices"
	"strings"
)

// TodayList says of each competency who may do its work, and how, as of one moment; nothing
// of why.
type TodayList struct {
	At    Instant
	Teams []string // that there are, in order
	Parts []TodayPart
}

// TodayPart is one competency, each list by name.
type TodayPart struct {
	ID, Title           string
	Alone, Watched, Not []TodayName
}

// TodayName is somebody in a list.
type TodayName struct{ Name, Team string }

// TodayFor is today's list, of one team or of all with "". Preceptors, educators, managers
// and who was given the right to it.
func (s *Service) TodayFor(ctx context.Context, actor Actor, team string) (list TodayList, err error) {
	if !actor.Person.SeesToday {
		err = need(actor, Preceptor, Educator, Manager)
	} else {
		err = need(actor, everybody...)
	}
	if err != nil {
		return list, err
	}
	list.At = s.Now()
	err = s.Records.Snapshot(ctx, func(r Reader) error {
		all, err := s.roll(ctx, r)
		for i := range all.Standings {
			list.add(&all.Standings[i], team)
		}
		return err
	})
	slices.SortFunc(list.Teams, strings.Compare)
	return list, err
}

func (l *TodayList) add(st *Standing, team string) {
	if t := st.Person.Team; t != "" && !slices.ContainsFunc(l.Teams, func(x string) bool { return strings.EqualFold(x, t) }) {
		l.Teams = append(l.Teams, t)
	}
	if team != "" && !strings.EqualFold(team, st.Person.Team) {
		return
	}
	i := slices.IndexFunc(l.Parts, func(p TodayPart) bool { return p.ID == st.Competency.ID })
	if i < 0 {
		i = len(l.Parts)
		l.Parts = append(l.Parts, TodayPart{ID: st.Competency.ID, Title: st.Competency.Title})
	}
	into := map[Doing]*[]TodayName{DoesAlone: &l.Parts[i].Alone, DoesWatched: &l.Parts[i].Watched, DoesNot: &l.Parts[i].Not}[st.May()]
	*into = append(*into, TodayName{st.Person.Name, st.Person.Team})
}
