package taxon

import (
	"cmp"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"
)

// MatchKind says by which road a candidate was found.
type MatchKind uint8

// Roads, the surest first.
const (
	// ByName: the accepted name as written.
	ByName MatchKind = iota + 1
	// ByEarlierName: a name that the studio has since changed.
	ByEarlierName
	// BySynonym: a synonym of the taxon.
	BySynonym
	// ByVernacular: an everyday name.
	ByVernacular
	// BySound: another spelling or ending of the same name.
	BySound
	// ByLikeness: a few letters differ.
	ByLikeness
	// ByGenus: the genus is known, the species isn't.
	ByGenus
)

// String gives the road in words.
func (k MatchKind) String() string {
	switch k {
	case ByName:
		return "name"
	case ByEarlierName:
		return "earlier name"
	case BySynonym:
		return "synonym"
	case ByVernacular:
		return "vernacular name"
	case BySound:
		return "same sound"
	case ByLikeness:
		return "similar spelling"
	case ByGenus:
		return "genus only"
	default:
		return "unknown"
	}
}

// Candidate is a taxon that a written name may mean.
type Candidate struct {
	// ID, Name and Rank are those of the accepted taxon.
	ID   string
	Name string
	Rank Rank
	// Matched is the name found, as the classification writes it, and MatchedID the
	// taxon or synonym that carries it.
	Matched   string
	MatchedID string
	Kind      MatchKind
	// Score runs from 1 (certain) down to 0.
	Score float64
	// Edits counts letters that differ; 0 unless Kind is BySound or ByLikeness.
	Edits int
	// Reason says in words why this taxon is offered.
	Reason string
}

// matchScores weighs the roads. Differences of a hundredth only keep the order
// of equally good candidates; common practice, no source.
var matchScores = struct {
	name, earlier, synonym, vernacular, sound, likeness, genus, otherAuthor, letter float64
}{name: 1, earlier: 0.99, synonym: 0.98, vernacular: 0.97, sound: 0.93, likeness: 0.9, genus: 0.3, otherAuthor: 0.05, letter: 1.5}

// Match finds what a written name means, best first, at most limit candidates
// (all when limit <= 0). The name may carry authors and qualifiers, be a synonym
// or an everyday name, or be misspelt. Case, diacritics and hyphens don't count.
func (c *Classification) Match(name string, limit int) []Candidate {
	q := newQuery(name)
	if q == nil {
		return nil
	}
	c.mu.RLock()
	defer c.mu.RUnlock()
	f := finder{c: c, q: q, best: map[string]Candidate{}}
	f.exact()
	if len(f.best) == 0 {
		f.similar()
	}
	if len(f.best) == 0 && q.genus != "" {
		f.genusOnly()
	}
	return f.ranked(limit)
}

// query is a written name, read in the ways that a name can be meant.
type query struct {
	keys    []string // spellings to look up: scientific words, and the text as it stands
	key     string   // the spelling for likeness
	genus   string   // folded, when there is more than a genus
	open    bool     // sp., aff. and the like
	author  string   // folded authors, for telling homonyms apart
	authors Name
}

func newQuery(name string) *query {
	if len(name) > MaxNameLength {
		return nil
	}
	raw := Fold(name)
	if raw == "" {
		return nil
	}
	q := &query{key: raw, keys: []string{raw}}
	n, err := Parse(sentenceCase(name))
	if err != nil {
		return q
	}
	q.authors, q.open = n, n.Surrogate != Settled
	if key := Fold(n.Simple()); key != raw && n.Hybrid != HybridFormula {
		q.keys = append(q.keys, key)
		if n.Tail == "" || n.Species != "" {
			q.key = key
		}
	}
	if n.Species != "" || n.Near != "" {
		q.genus = Fold(n.Genus)
	}
	q.author = Fold(strings.Join(append(slices.Clone(n.Original.Authors), n.Original.Year.Value), " "))
	return q
}

// sentenceCase gives a name the capitals that parsing expects: names typed all
// in small or all in capital letters are common.
func sentenceCase(s string) string {
	s = strings.TrimSpace(s)
	r, n := utf8.DecodeRuneInString(s)
	if s == strings.ToUpper(s) {
		return string(unicode.ToUpper(r)) + strings.ToLower(s[n:])
	}
	return string(unicode.ToUpper(r)) + s[n:]
}

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
	} else if how != ByName {
		score -= 0.01
		reason += ", " + roadReason(how, e, t)
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
		for _, x := range []*nameIndex{f.c.base.idx, f.c.idx} {
			x.equal(key, func(e *entry) { f.offer(e, 0, 0, 0, "") })
		}
	}
	if !f.q.open {
		return
	}
	for id, cand := range f.best {
		cand.Score -= 0.1
		cand.Reason += ", open nomenclature (" + f.q.authors.Annotation + ")"
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

func (f *finder) similar() {
	key := f.q.key
	heard := sound(key)
	pat, ear := newPattern(key), newPattern(heard)
	limit := editLimit(len(key))
	for _, x := range []*nameIndex{f.c.base.idx, f.c.idx} {
		x.alike(heard, func(e *entry) {
			d := pat.distance(e.key)
			f.offer(e, BySound, matchScores.sound-nearCost(d, 0, len(key)), d, soundReason(key, e.key))
		})
		x.near(pat, limit, func(e *entry, d int) {
			s := ear.distance(e.sound)
			if s == 0 {
				return
			}
			f.offer(e, ByLikeness, matchScores.likeness-nearCost(d, s, len(key)), d, likenessReason(key, e.key, d))
		})
	}
}

// nearCost turns edits d of the spelling and s of the sound into a loss of
// score; the same edits weigh more in a short name.
func nearCost(d, s, n int) float64 {
	return (float64(d) + 0.25*float64(s)) / (matchScores.letter * float64(max(n, 4)))
}

func (f *finder) genusOnly() {
	for _, x := range []*nameIndex{f.c.base.idx, f.c.idx} {
		x.equal(f.q.genus, func(e *entry) {
			f.offer(e, ByGenus, matchScores.genus, 0, "the genus is known, the species isn't")
		})
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
