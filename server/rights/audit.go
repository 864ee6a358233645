package rights

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// Finding is a use with what the grants say of it.
type Finding struct {
	Use    string
	Ruling Ruling
	Made   int64 // copies made under the agreement with this use, where it rests on one
}

// Audit judges uses one after another, as they happened, so that the copies and
// uses of each count against the caps of the next. A use counts under the
// agreement it is said to rest on, or else under those that the ruling relies
// on; amendments count together with what they amend. CopiesDone and UsesDone of
// the grants are taken as made before, outside the list. The error wraps a *FieldError.
func (b *Book) Audit(uses []Use, today Day) ([]Finding, error) {
	ordered := slices.Clone(uses)
	slices.SortStableFunc(ordered, func(x, y Use) int {
		return cmp.Or(cmp.Compare(wide.begin(x.Scope.From, minDay), wide.begin(y.Scope.From, minDay)), strings.Compare(x.ID, y.ID))
	})
	made := map[string]Made{}
	before := func(g *Grant) Made { return made[b.root(g)] }
	out := make([]Finding, 0, len(uses))
	for i := range ordered {
		u := &ordered[i]
		r, err := b.judge(&judged{use: u, before: before}, today)
		if err != nil {
			return nil, fmt.Errorf("use %s: %w", u.ID, err)
		}
		f := Finding{Use: u.ID, Ruling: r}
		for _, root := range b.rests(u, r) {
			m := made[root]
			if u.Act != Distribute {
				m.Copies += u.Copies
			}
			m.Uses++
			made[root] = m
			f.Made = max(f.Made, m.Copies)
		}
		out = append(out, f)
	}
	return out, nil
}

// rests are the agreements that a use counts under, each once.
func (b *Book) rests(u *Use, r Ruling) []string {
	var ids []string
	switch {
	case u.Grant != "":
		ids = []string{u.Grant}
	case r.Verdict != NotLicensed || r.Code == Overrun || r.Code == Consumed:
		ids = r.By
	}
	var out []string
	for _, id := range ids {
		root := id
		if g := b.get(id); g != nil {
			root = b.root(g)
		}
		if !slices.Contains(out, root) {
			out = append(out, root)
		}
	}
	return out
}

// root is the id of the first statement of an agreement.
func (b *Book) root(g *Grant) string {
	for range maxDepth {
		up := b.get(g.Amends)
		if up == nil {
			break
		}
		g = up
	}
	return g.ID
}

// Tally counts copies and uses by the grant that each use is said to rest on,
// for Grant.CopiesDone and UsesDone. Distribution of existing stock makes no copies.
func Tally(uses []Use) map[string]Made {
	out := map[string]Made{}
	for i := range uses {
		if uses[i].Grant == "" {
			continue
		}
		m := out[uses[i].Grant]
		m.Uses++
		if uses[i].Act != Distribute {
			m.Copies += uses[i].Copies
		}
		out[uses[i].Grant] = m
	}
	return out
}
