package training

import (
	"context"
	"slices"

	"stillwet/internal/procedure"
)

// sets compares the kept files with their hashes, and each version with its files.
func (v *verifier) sets(ctx context.Context) error {
	for f, err := range v.r.SetContents(ctx) {
		if err != nil {
			return err
		}
		if is := procedure.Digest(f.Bytes); is != f.Hash {
			v.fault("set file "+f.Hash, "hash and bytes", "The bytes that are kept under this hash have the hash %s.", is)
		}
	}
	versions, err := v.r.SetVersions(ctx)
	if err != nil {
		return err
	}
	names, err := v.r.SetNames(ctx)
	if err != nil {
		return err
	}
	for _, x := range versions {
		if is := hashOfNames(names[x.Number]); is != x.Hash {
			v.fault("set "+recordOf(x), "hash, version and name of its files", "Its files have the hash %s together, and it was made with %s.", clip(is), clip(x.Hash))
		}
	}
	return nil
}

// setLeaves compares leaves of what became of versions with their rows.
func (v *verifier) setLeaves(ctx context.Context, leaves []StoredLeaf) error {
	versions, err := v.r.SetVersions(ctx)
	if err != nil {
		return err
	}
	for _, l := range leaves {
		x, e, ok := eventAt(versions, l.Leaf)
		if !ok {
			v.gone(l)
			continue
		}
		v.compare(l, recordOf(x), e.At, setFields(x, e), nil)
	}
	return nil
}

func eventAt(versions []SetVersion, leaf int64) (SetVersion, SetEvent, bool) {
	for _, x := range versions {
		if at := slices.IndexFunc(x.Events, func(e SetEvent) bool { return e.Leaf == leaf }); at >= 0 {
			return x, x.Events[at], true
		}
	}
	return SetVersion{}, SetEvent{}, false
}
