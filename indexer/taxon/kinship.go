package taxon

// Weights gives every level of the classification at which two taxa can meet
// its distance, after Clarke & Warwick 1999 (Marine Ecology Progress Series
// 184:21-29): equal steps between levels, 0 for one species, 100 at the top.
type Weights struct {
	// Levels from the lowest up, the root left out: species, genus, family, order.
	Levels []Rank
}

// StandardWeights are species, genus, family and order under one root, so that
// congeners stand 25 apart, confamilials 50, members of one order 75.
func StandardWeights() Weights {
	return Weights{Levels: []Rank{Species, Genus, Family, Order}}
}

// Omega is the distance of two taxa whose lowest shared level is number i from
// below; i = len(Levels) is the root.
func (w Weights) Omega(i int) float64 {
	return 100 * float64(i) / float64(len(w.Levels))
}

// Step is one taxon on the way up from another, with the distance of relatives
// that share it and nothing below it.
type Step struct {
	ID       string
	Name     string
	Rank     Rank
	Distance float64
}

// Relation says how two taxa are akin.
type Relation struct {
	// Known is false when an id is unknown or the two share no ancestor.
	Known bool
	// Common is the nearest common ancestor.
	Common Taxon
	// Phrase says it in words: "same species", "same family (Serranidae)".
	Phrase string
	// Distance is Clarke and Warwick's omega by the standard weights, 0 to 100.
	Distance float64
	// Up and Down count the nodes from the first taxon up to the common one and
	// from there down to the second.
	Up, Down int
}

// Ancestry lists the accepted taxon of id and every ancestor, nearest first:
// what a search by relatives asks for, without a scan.
//
// A missing rank is skipped over: a family without an order shares its order
// level with nobody, and a taxon that only collects others of unsure place
// (incertae sedis) counts as if it weren't there. So a gap in the classification
// never makes two taxa look closer.
func (c *Classification) Ancestry(id string) []Step {
	c.mu.RLock()
	defer c.mu.RUnlock()
	w := StandardWeights()
	chain := c.chain(id)
	out := make([]Step, len(chain))
	for i, t := range chain {
		out[i] = Step{ID: t.ID, Name: t.Name, Rank: t.Rank, Distance: w.Omega(w.shared(chain, i))}
	}
	return out
}

// shared is the level at which taxa meet whose nearest common ancestor is
// chain[i]: the lowest level whose taxon stands at or above it.
func (w Weights) shared(chain []*Taxon, i int) int {
	for _, t := range chain[i:] {
		if t.placeholder() || t.Rank <= Clade {
			continue
		}
		for l, r := range w.Levels {
			if t.Rank == r {
				return l
			}
		}
	}
	return len(w.Levels)
}

// Relation compares two taxa; synonyms stand for their accepted taxa.
func (c *Classification) Relation(a, b string) Relation {
	c.mu.RLock()
	defer c.mu.RUnlock()
	chain, i, j := c.meet(a, b)
	if i < 0 {
		return Relation{Phrase: "no known kinship"}
	}
	r := Relation{Known: true, Common: chain[i].clone(), Up: i, Down: j, Phrase: phrase(chain, i, j)}
	if i > 0 || j > 0 {
		w := StandardWeights()
		r.Distance = w.Omega(w.shared(chain, i))
	}
	return r
}

// Distance is Clarke and Warwick's omega of two taxa by weights of the caller's;
// false when they share no ancestor or an id is unknown.
func (c *Classification) Distance(w Weights, a, b string) (float64, bool) {
	c.mu.RLock()
	defer c.mu.RUnlock()
	chain, i, j := c.meet(a, b)
	switch {
	case i < 0:
		return 0, false
	case i == 0 && j == 0:
		return 0, true
	default:
		return w.Omega(w.shared(chain, i)), true
	}
}

// meet gives the chain of a and where the chain of b joins it: at place i of a's
// chain and place j of b's; i is -1 when they don't meet. The caller holds the lock.
func (c *Classification) meet(a, b string) (chain []*Taxon, i, j int) {
	chain = c.chain(a)
	at := map[*Taxon]int{}
	for j, t := range c.chain(b) {
		at[t] = j
	}
	for i, t := range chain {
		if j, ok := at[t]; ok {
			return chain, i, j
		}
	}
	return chain, -1, -1
}

// phrase names the nearest common ancestor that has a rank and a name of its own.
func phrase(chain []*Taxon, i, j int) string {
	if i == 0 && j == 0 {
		if chain[0].Rank >= Species {
			return "same " + chain[0].Rank.String()
		}
		return "same " + chain[0].Rank.String() + " (" + chain[0].Name + ")"
	}
	for ; i < len(chain); i++ {
		t := chain[i]
		switch {
		case t.placeholder():
		case t.Rank == Species:
			return "same species (" + t.Name + ")"
		default:
			return "same " + t.Rank.String() + " (" + t.Name + ")"
		}
	}
	return "no known kinship"
}
