package taxon

import (
	"cmp"
	"slices"
	"strings"
)

// finder collects the best candidate of each accepted taxon; the caller holds
// the classification's lock.
type finder struct {
	c    *Classification
	q    *query
	best map[string]Candidate
}

// offer weighs an entry and keeps it if it is the best for its taxon.
func (f *finder) offer(e *entry, kind MatchKind, score float64, edits int, reason string) {
	owner, ok := f.c.get(e.owner)
	if !ok {
		return
	}
	t, _ := f.c.accepted(e.owner)
	how := f.road(e, owner, t)
	if how == 0 {
		return
	}
	if kind == 0 {
		kind = how
		score = roadScore(how)
		reason = roadReason(how, e, t)
	} else if how != ByName && kind != ByPart {
		score -= matchScores.via
		reason += " (" + e.name + ", " + roadReason(how, e, t) + ")"
	}
	if f.otherAuthor(e, owner) {
		score -= matchScores.otherAuthor
		reason += ", but by " + owner.Authorship
	}
	old, had := f.best[t.ID]
	if had && old.Score >= score {
		return
	}
	f.best[t.ID] = Candidate{
		ID: t.ID, Name: t.Name, Rank: t.Rank, Matched: e.name, MatchedID: e.owner,
		Kind: kind, Score: max(score, 0), Edits: edits, Reason: reason,
	}
}

// road says what sort of name an entry is today; 0 when a correction took it away.
func (f *finder) road(e *entry, owner, t *Taxon) MatchKind {
	switch e.kind {
	case entryVernacular:
		if !slices.ContainsFunc(owner.Vernaculars, func(v Vernacular) bool { return v.Name == e.name }) {
			return 0
		}
		return ByVernacular
	case entrySynonym:
		return BySynonym
	case entryName:
	}
	switch {
	case owner.Name != e.name:
		return ByEarlierName
	case owner != t:
		return BySynonym
	default:
		return ByName
	}
}

func roadScore(k MatchKind) float64 {
	switch k {
	case ByName:
		return matchScores.name
	case ByEarlierName:
		return matchScores.earlier
	case BySynonym:
		return matchScores.synonym
	default:
		return matchScores.vernacular
	}
}

func roadReason(k MatchKind, e *entry, t *Taxon) string {
	switch k {
	case ByName:
		return "accepted name"
	case ByEarlierName:
		return "earlier name of " + t.Name
	case BySynonym:
		return "synonym of " + t.Name
	default:
		if e.lang != "" {
			return "vernacular name (" + e.lang + ") of " + t.Name
		}
		return "vernacular name of " + t.Name
	}
}

// otherAuthor reports whether the query names authors that the taxon's record
// contradicts.
func (f *finder) otherAuthor(e *entry, owner *Taxon) bool {
	if f.q.author == "" || owner.Authorship == "" || e.kind != entryName || owner.Name != e.name {
		return false
	}
	have := Fold(strings.Trim(owner.Authorship, "()"))
	for _, w := range strings.Fields(f.q.author) {
		if len(w) > 3 && strings.Contains(have, strings.TrimRight(w, ",")) {
			return false
		}
	}
	return len(f.q.author) > 3
}

func (f *finder) exact() {
	for _, key := range f.q.keys {
		f.equal(key, func(e *entry) { f.offer(e, 0, 0, 0, "") })
	}
	if !f.q.open {
		return
	}
	for id, cand := range f.best {
		cand.Score -= matchScores.open
		cand.Reason += ", open nomenclature (" + f.q.parsed.Annotation + ")"
		f.best[id] = cand
	}
}

// editLimit is how many letters may differ in a name of so many.
func editLimit(n int) int {
	switch {
	case n < 4:
		return 1
	case n < 10:
		return 2
	default:
		return 3
	}
}

// similar looks for other spellings. Three edits are tried only where two find
// nothing: the wider search costs several times as much.
func (f *finder) similar() {
	f.partOfVernacular()
	key := f.q.key
	heard := sound(key)
	pat, ear := newPattern(key), newPattern(heard)
	layers := []*nameIndex{f.c.base.idx, f.c.idx}
	for _, x := range layers {
		x.alike(heard, func(e *entry) {
			d := pat.distance(e.key)
			f.offer(e, BySound, matchScores.sound-nearCost(d, 0, len(key)), d, soundReason(key, e.key))
		})
	}
	most := editLimit(len(key))
	for limit := min(2, most); limit <= most; limit++ {
		for _, x := range layers {
			x.near(pat, limit, func(e *entry, d int) {
				if s := ear.distance(e.sound); s > 0 {
					f.offer(e, ByLikeness, matchScores.likeness-nearCost(d, s, len(key)), d, likenessReason(key, e.key, d))
				}
			})
		}
		if len(f.best) > 0 {
			return
		}
	}
}

// nearCost turns edits d of the spelling and s of the sound into a loss of
// score; the same edits weigh more in a short name.
func nearCost(d, s, n int) float64 {
	return (float64(d) + matchScores.unheard*float64(s)) / (matchScores.letters * float64(max(n, 4)))
}

// parents offers what a hybrid formula crosses.
func (f *finder) parents() {
	for _, p := range f.q.parsed.Parents {
		f.equal(Fold(p.Simple()), func(e *entry) {
			f.offer(e, ByParent, matchScores.parent, 0, "parent of the hybrid "+f.q.parsed.Canonical())
		})
	}
}

// partOfVernacular offers taxa whose everyday name has the words of the query
// among its own.
func (f *finder) partOfVernacular() {
	words := " " + f.q.keys[0] + " "
	for _, x := range []*nameIndex{f.c.base.idx, f.c.idx} {
		for _, i := range x.everyday {
			if e := &x.entries[i]; !e.dead && strings.Contains(" "+e.key+" ", words) {
				f.offer(e, ByPart, matchScores.part, 0, "part of the vernacular name "+e.name)
			}
		}
	}
}

// elsewhere is the last resort: the genus alone, the species in another genus
// of that family.
func (f *finder) elsewhere() {
	q := f.q
	if q.genus == "" {
		return
	}
	families := map[string]bool{}
	f.equal(q.genus, func(e *entry) {
		f.offer(e, ByGenus, matchScores.genus, 0, "the genus is known, the species isn't")
		families[f.c.at(e.owner, Family)] = true
	})
	if q.epithet == "" || len(families) == 0 {
		return
	}
	heard := single(soundPairs.Replace(stem(q.epithet)))
	f.each(func(e *entry) {
		if e.kind == entryVernacular || !strings.HasSuffix(e.sound, heard) ||
			strings.Count(e.sound, " ") != 1 || e.sound[len(e.sound)-len(heard)-1] != ' ' {
			return
		}
		if fam := f.c.at(e.owner, Family); fam != "" && families[fam] {
			f.offer(e, ByEpithet, matchScores.epithet, 0, "a species "+q.epithet+" of the same family, in another genus")
		}
	})
}

// equal calls fn with the entries of a spelling in both layers.
func (f *finder) equal(key string, fn func(*entry)) {
	f.c.base.idx.equal(key, fn)
	f.c.idx.equal(key, fn)
}

// each calls fn with every entry of both layers.
func (f *finder) each(fn func(*entry)) {
	for _, x := range []*nameIndex{f.c.base.idx, f.c.idx} {
		for i := range x.entries {
			if e := &x.entries[i]; !e.dead {
				fn(e)
			}
		}
	}
}

// ranked orders the candidates by score, then likeness to what was typed, then name.
func (f *finder) ranked(limit int) []Candidate {
	out := make([]Candidate, 0, len(f.best))
	for _, c := range f.best {
		out = append(out, c)
	}
	slices.SortFunc(out, func(a, b Candidate) int {
		return cmp.Or(cmp.Compare(b.Score, a.Score), cmp.Compare(a.Edits, b.Edits),
			strings.Compare(a.Name, b.Name), strings.Compare(a.ID, b.ID))
	})
	if limit > 0 && len(out) > limit {
		out = out[:limit]
	}
	return out
}
