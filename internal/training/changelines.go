package training

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"strings"
)

// changesOf reads what leaves say, each with what was before: of its record, or of the one that
// it ends or stands for. A batch of earlier sign-offs is a line for each of them whose person, or
// whose signer, has a name.
func (s *Service) changesOf(ctx context.Context, found []LeafPair, name string) (ChangeLog, error) {
	log := ChangeLog{More: len(found) > mostChanges}
	for _, l := range found[:min(len(found), mostChanges)] {
		lines, err := changeOf(l)
		if err != nil {
			return log, err
		}
		for _, c := range lines {
			if c.Kind != EarlierLeaf || slices.ContainsFunc(c.People, func(n Named) bool { return strings.Contains(strings.ToLower(n.Name), strings.ToLower(name)) }) {
				log.All = append(log.All, c)
			}
		}
	}
	err := s.withTouched(ctx, log.All)
	if err == nil && slices.ContainsFunc(log.All, func(c ChangeLine) bool { return c.Is["item_id"] != "" }) {
		log.Items, err = s.itemTitles(ctx)
	}
	return log, err
}

func (s *Service) itemTitles(ctx context.Context) (map[string]string, error) {
	items, err := s.Records.Items(ctx)
	titles := make(map[string]string, len(items))
	for _, i := range items {
		titles[i.ID] = i.Title
	}
	return titles, err
}

func changeOf(l LeafPair) ([]ChangeLine, error) {
	is, err := readLeaf(l.Bytes)
	if err != nil {
		return nil, fmt.Errorf("leaf %d: %w", l.Leaf, err)
	}
	if l.Kind == EarlierLeaf {
		return earlierChanges(l.LeafAbout, is), nil
	}
	c := ChangeLine{LeafAbout: l.LeafAbout, Is: plain(is)}
	if c.Said = c.Is["change"]; c.Said == "" {
		c.Said = c.Is["event"]
	}
	if len(l.Earlier) > 0 {
		was, err := readLeaf(l.Earlier)
		if err != nil {
			return nil, fmt.Errorf("the leaf before leaf %d: %w", l.Leaf, err)
		}
		c.Was = plain(was)
	}
	return []ChangeLine{c}, nil
}

// earlierChanges are the lines of a batch, each as a change of its own with its person.
func earlierChanges(about LeafAbout, l leafText) (all []ChangeLine) {
	for _, x := range linesOf(l) {
		x["by_name"], _ = l.fields["by_name"].(string)
		c := ChangeLine{LeafAbout: about, Is: x}
		c.People = append(slices.Clone(about.People), Named{Part: PartPerson, PersonID: x["person_id"], Name: x["name"], StaffNo: x["staff_no"]})
		all = append(all, c)
	}
	return all
}

// linesOf are the lines of a batch of earlier sign-offs as its leaf has them.
func linesOf(l leafText) (all []map[string]string) {
	lines, _ := l.fields["lines"].([]any)
	for _, line := range lines {
		if f, ok := line.(map[string]any); ok {
			all = append(all, plainFields(f))
		}
	}
	return all
}

// touched is the id of the record that a change ends or stands for, "" for none.
func (c *ChangeLine) touched() string {
	if c.Kind == EndLeaf {
		return c.Record
	}
	return c.Is["corrects"]
}

// withTouched puts to each change that ends a record, or stands for one, what that record said.
func (s *Service) withTouched(ctx context.Context, all []ChangeLine) error {
	var ids []string
	for _, c := range all {
		if id := c.touched(); id != "" {
			ids = append(ids, id)
		}
	}
	if len(ids) == 0 {
		return nil
	}
	leaves, err := s.Records.LeavesFor(ctx, ids)
	if err != nil {
		return err
	}
	for i := range all {
		c := &all[i]
		text := leaves[c.touched()]
		if len(text) == 0 { // of before the ledger had one of its own
			continue
		}
		l, err := readLeaf(text)
		if err != nil {
			return fmt.Errorf("the leaf of %s: %w", c.touched(), err)
		}
		before := plain(l)
		for _, line := range linesOf(l) {
			if line["id"] == c.touched() {
				before = line
			}
		}
		if c.Kind != EndLeaf {
			c.Was = before
			continue
		}
		maps.Copy(before, c.Is) // the end's own reason goes before that of what it ends
		c.Is = before
	}
	return nil
}
