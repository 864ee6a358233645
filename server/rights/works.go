package rights

import "iter"

// Works yields every work that a grant names, with the ids of its grants in the order of signature. The ids may not be kept.
func (b *Book) Works() iter.Seq2[string, []string] {
	return func(yield func(string, []string) bool) {
		var ids []string
		for work, entries := range b.byWork {
			ids = ids[:0]
			for _, e := range entries {
				ids = append(ids, e.grant.ID)
			}
			if !yield(work, ids) {
				return
			}
		}
	}
}
