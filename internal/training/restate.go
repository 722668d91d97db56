package training

import (
	"cmp"
	"context"
	"slices"

	"stillwet/internal/action"
	"stillwet/internal/procedure"
)

// Restated is whom or what a demonstration was of, where it was recorded otherwise.
type Restated struct {
	TraineeID string // as recorded, or somebody else
	Product   string // likewise
	Why       string
}

// Restate puts right whose work a demonstration was, or with which product it was done: the
// record is withdrawn, and what was seen stands again as a record of its own, which names the
// first, is judged anew, and is signed anew by whom it concerns. It is asked of who may
// withdraw it, with their password. The new demonstration comes back.
func (s *Service) Restate(ctx context.Context, actor Actor, key, demoID string, as Restated, password string) (Demonstration, error) {
	if err := need(actor, Preceptor, Educator); err != nil {
		return Demonstration{}, err
	}
	a, err := ask(actor.Person.ID, key, "restate a demonstration", demoID, as)
	if err != nil {
		return Demonstration{}, err
	}
	var by signer
	before := func() (err error) {
		if as.Why, err = s.reason(as.Why, "Say how it came to be recorded so: it is kept, and whoever is named in it reads it."); err != nil {
			return err
		}
		d, err := s.visible(ctx, s.Records, actor, demoID)
		if err == nil {
			err = d.mayWithdraw(actor) // nobody else tries passwords here
		}
		if err == nil {
			by, err = s.ownSigner(ctx, actor, password)
		}
		return err
	}
	id, _, err := s.once(ctx, a, before, func(u Unit) (string, error) {
		d, err := s.visible(ctx, u, actor, demoID)
		if err == nil {
			err = d.mayWithdraw(actor)
		}
		if err == nil {
			err = unchanged(ctx, u, by.account)
		}
		if err != nil {
			return "", err
		}
		return s.restate(ctx, u, d, as, by.Person)
	})
	if err != nil {
		return Demonstration{}, err
	}
	return s.Records.Demonstration(ctx, id)
}

func (s *Service) restate(ctx context.Context, u Unit, d Demonstration, as Restated, by Person) (string, error) {
	p, err := s.begunUnder(ctx, u, d)
	if err != nil {
		return "", err
	}
	if err := mayRestate(ctx, u, p, d, as); err != nil {
		return "", err
	}
	recorded, err := u.Observations(ctx, d.ID)
	if err != nil {
		return "", err
	}
	lines, err := corrected(p, d.Product, recorded, d.Corrections)
	if err != nil {
		return "", err
	}
	if err := s.comeTo(ctx, u, d, DemonstrationEvent{State: Withdrawn, Why: as.Why}, by); err != nil {
		return "", err
	}
	now := Demonstration{ID: s.NewID(), TraineeID: as.TraineeID, PreceptorID: d.PreceptorID, Competency: d.Competency, Product: as.Product, Setting: d.Setting,
		StartedAt: d.StartedAt, EndedAt: d.EndedAt, State: Ended, Comment: d.Comment, Procedure: p.ID, ProcedureHash: p.Hash}
	now.Setting.Corrects = d.ID
	now.Setting.InUse = slices.Clone(d.Setting.InUse)
	for i, x := range now.Setting.InUse {
		if x.ID == d.Product {
			now.Setting.InUse[i].ID = as.Product
		}
	}
	for i := range lines {
		lines[i].SentAt = cmp.Or(lines[i].SentAt, s.Now()) // a correction was not sent by a recorder
	}
	if lines, err = withProduct(p, lines, d.Product, as.Product); err != nil {
		return "", err
	}
	return now.ID, s.keepRestated(ctx, u, p, now, lines)
}

func (s *Service) keepRestated(ctx context.Context, u Unit, p *procedure.Procedure, d Demonstration, lines []Observed) error {
	if err := judgeDemonstration(p, &d, lines); err != nil {
		return err
	}
	begun := d
	begun.State = Recording
	if err := u.AddDemonstration(ctx, begun); err != nil {
		return err
	}
	if err := u.AddObserved(ctx, d.ID, lines); err != nil {
		return err
	}
	f, err := demonstrationFields(d, lines)
	if err != nil {
		return err
	}
	people, err := s.watchers(ctx, u, d)
	if err != nil {
		return err
	}
	// Its moment is that of the work: the clock has not gone back because of it.
	if _, err := appendLeaf(ctx, u, LeafAbout{Kind: DemonstrationLeaf, Record: d.ID, At: d.EndedAt, People: people}, f); err != nil {
		return err
	}
	return u.CloseDemonstration(ctx, d)
}

// mayRestate says what cannot be put right so.
func mayRestate(ctx context.Context, r PeopleReader, p *procedure.Procedure, d Demonstration, as Restated) error {
	at := p.ProductIndex(as.Product)
	switch {
	case d.TraineeID == as.TraineeID && d.Product == as.Product:
		return refuse(ErrInvalid, "It is recorded so already. Choose the person or the product that it really was; what should not count at all is withdrawn.")
	case at < 0:
		return refuse(ErrInvalid, "There is no product %q in the procedure by which it was recorded. Choose one of the list.", clip(as.Product))
	case as.TraineeID == "" && d.TraineeID != "":
		return refuse(ErrInvalid, "Choose whose work it was.")
	case as.TraineeID == d.PreceptorID:
		return refuse(ErrInvalid, "Nobody is watched by themself: this person watched it.")
	case as.TraineeID != "" && d.TraineeID == "":
		return refuse(ErrInvalid, "It was recorded as nobody's by name, and stays so. Withdraw it if it should not count.")
	case as.Product != d.Product && slices.ContainsFunc(d.Setting.InUse, func(x ProductInUse) bool { return x.ID == as.Product }):
		return refuse(ErrInvalid, "%s was in use beside the other; which wipe was of which stands in the log, and is corrected there.", p.Products[at].Title)
	}
	if as.TraineeID == "" {
		return nil
	}
	_, err := r.Person(ctx, as.TraineeID)
	return said(err, ErrNotFound, "There is no such person.")
}

// withProduct has the wipes from the shelf be of another product.
func withProduct(p *procedure.Procedure, lines []Observed, was, is string) ([]Observed, error) {
	out := slices.Clone(lines)
	for i, o := range out {
		step := p.StepIndex(o.Step)
		if was == is || step >= 0 && !slices.ContainsFunc(p.Steps[step].Acts, func(a action.Act) bool { return a.Of == procedure.Shelf }) {
			continue // a step that names its product takes that one
		}
		act, err := action.ParseAct(o.Text, p.Words)
		if err != nil {
			return nil, refuse(ErrConflict, "Line %d (%s) does not fit the procedure any more: %v.", o.Seq, o.Text, err)
		}
		if act.Verb == action.TakeWipe && act.Of == was {
			act.Of = is
			out[i].Text = act.Text()
		}
	}
	return out, nil
}

// RestatedAs is the demonstration that stands for one that was withdrawn, if there is one.
func (s *Service) RestatedAs(ctx context.Context, actor Actor, d Demonstration) (id string, err error) {
	if d.Stage != Withdrawn || !mayRead(actor, d.TraineeID) && d.PreceptorID != actor.Person.ID {
		return "", need(actor)
	}
	found, err := s.Records.Demonstrations(ctx, DemonstrationQuery{Corrects: d.ID})
	if err != nil || len(found) == 0 {
		return "", err
	}
	return found[0].ID, nil
}

// WhoseWork are the people whose work a demonstration may have been: all who work here but who
// watched, and whom it names. It is for those who may put that right.
func (s *Service) WhoseWork(ctx context.Context, actor Actor, d Demonstration) ([]Person, error) {
	if err := need(actor, Preceptor, Educator); err != nil {
		return nil, err
	}
	people, err := s.Records.People(ctx)
	return slices.DeleteFunc(people, func(p Person) bool {
		return p.ID == d.PreceptorID || p.ID != d.TraineeID && (s.gone(p) || d.TraineeID == "")
	}), err
}
