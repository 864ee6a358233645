package taxon

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
	// ByPart: the words are part of an everyday name.
	ByPart
	// ByEpithet: the species stands in another genus of the same family.
	ByEpithet
	// ByParent: a parent of the hybrid that was named.
	ByParent
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
	case ByPart:
		return "part of a vernacular name"
	case ByEpithet:
		return "another genus"
	case ByParent:
		return "parent of a hybrid"
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
	name, earlier, synonym, vernacular, sound, likeness, part, parent, epithet, genus float64
	otherAuthor                                                                       float64 // taken off when the authors contradict each other
	open                                                                              float64 // taken off for cf., sp. and the like
	via                                                                               float64 // taken off when a misspelling leads to a synonym
	letters                                                                           float64 // an edit costs the score of 1 over so many times the length
	unheard                                                                           float64 // how much an edit that can be heard adds to one that is seen
}{
	name: 1, earlier: 0.99, synonym: 0.98, vernacular: 0.97, sound: 0.93, likeness: 0.9,
	part: 0.88, parent: 0.6, epithet: 0.5, genus: 0.3,
	otherAuthor: 0.05, open: 0.1, via: 0.01, letters: 1.5, unheard: 0.25,
}

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
	for _, road := range []func(){f.parents, f.exact, f.similar, f.elsewhere} {
		if road(); len(f.best) > 0 {
			break
		}
	}
	return f.ranked(limit)
}
