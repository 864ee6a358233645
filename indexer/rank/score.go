package rank

import (
	"cmp"
	"slices"

	"platarium/indexer/meristic"
	"platarium/indexer/taxon"
)

// Scorer weighs pictures against one want. It is immutable and safe for
// concurrent use.
type Scorer struct {
	w      Weights
	wanted Wanted
}

// New makes a scorer. It keeps the slices of both arguments.
func New(w Weights, wanted Wanted) *Scorer { return &Scorer{w: w, wanted: wanted} }

// Score is the sum of all aspects.
func (s *Scorer) Score(p Picture) float64 {
	return s.Relationship(p.Lineage) + s.Counts(p.Counts) + s.Structures(p.Structures) +
		s.View(p.View) + s.Stage(p.Stage) + s.Kind(p.Kind) + s.Resolution(p.LongEdge)
}

// Compare orders by falling score, then by name, so that equals have one order.
func Compare(scoreA float64, nameA string, scoreB float64, nameB string) int {
	return cmp.Or(cmp.Compare(scoreB, scoreA), cmp.Compare(nameA, nameB))
}

// Relationship weighs how close the animal stands to the wanted one.
func (s *Scorer) Relationship(lineage []Taxon) float64 {
	t, same := s.common(lineage)
	switch {
	case same:
		return s.w.Relationship
	case t == nil:
		return 0
	default:
		return s.w.Relationship * s.step(t.Rank, lineage)
	}
}

// common is the lowest taxon of both lineages; same says that it is the wanted
// one itself. Both come from one classification, so all above a taxon in common
// is in common as well.
func (s *Scorer) common(lineage []Taxon) (t *Taxon, same bool) {
	wanted := s.wanted.Lineage
	n := 0
	for n < len(wanted) && n < len(lineage) && wanted[n].ID == lineage[n].ID {
		n++
	}
	if n == 0 {
		return nil, false
	}
	return &wanted[n-1], n == len(wanted)
}

// step is the share of the lowest taxon in common. An unranked one takes that of
// the next ranked taxon above it.
func (s *Scorer) step(r taxon.Rank, lineage []Taxon) float64 {
	if r <= taxon.Clade {
		r = s.rankAbove(lineage)
	}
	for _, st := range s.w.Steps {
		if r >= st.Rank {
			return st.Share
		}
	}
	return 0
}

func (s *Scorer) rankAbove(lineage []Taxon) taxon.Rank {
	t, _ := s.common(lineage)
	i := slices.IndexFunc(s.wanted.Lineage, func(x Taxon) bool { return x.ID == t.ID })
	for ; i >= 0; i-- {
		if r := s.wanted.Lineage[i].Rank; r > taxon.Clade {
			return r
		}
	}
	return taxon.Unranked
}

// Counts weighs how far counts agree. Elements that only one side states count
// for nothing.
func (s *Scorer) Counts(counts []Count) float64 {
	sum := 0.0
	for _, want := range s.wanted.Counts {
		if shown := find(counts, want); shown != nil {
			sum += s.agreement(want, *shown)
		}
	}
	return sum
}

func find(counts []Count, want Count) *Count {
	for i := range counts {
		if counts[i].Element == want.Element && counts[i].Character == want.Character {
			return &counts[i]
		}
	}
	return nil
}

// Count weighs what is shown against wanted count number i alone; Counts is the
// sum of these.
func (s *Scorer) Count(i int, shown meristic.Interval) float64 {
	return s.agreement(s.wanted.Counts[i], Count{Interval: shown})
}

// agreement is the weight of one count: full where the intervals overlap, none
// at a gap of Near, full against at twice Near and beyond.
func (s *Scorer) agreement(want, shown Count) float64 {
	full := s.w.Counts / float64(len(s.wanted.Counts))
	gap := want.Distance(shown.Interval)
	if gap == 0 {
		return full
	}
	size := max(1, (want.Min+want.Max)/2)
	return full * max(-1, 1-gap/size/s.w.Near)
}

// Structures weighs which of the wanted structures are shown, and how.
func (s *Scorer) Structures(structures []Structure) float64 {
	sum := 0.0
	for _, want := range s.wanted.Structures {
		if c, ok := best(structures, want, &s.w); ok {
			sum += s.Structure(c)
		}
	}
	return sum
}

// Structure weighs one wanted structure shown so; Structures is the sum of these,
// each as it is shown best.
func (s *Scorer) Structure(c Completeness) float64 {
	return s.w.Structures / float64(len(s.wanted.Structures)) * at(s.w.Shown[:], int(c))
}

// best is how well a structure is shown; one shown twice counts as the better.
func best(structures []Structure, name string, w *Weights) (c Completeness, ok bool) {
	for _, st := range structures {
		if st.Name == name && (!ok || at(w.Shown[:], int(st.Completeness)) > at(w.Shown[:], int(c))) {
			c, ok = st.Completeness, true
		}
	}
	return c, ok
}

// View weighs the side seen.
func (s *Scorer) View(v View) float64 {
	want := s.wanted.View
	switch {
	case want == AnyView || v == AnyView:
		return 0
	case v == want:
		return s.w.View
	case mirrored(v, want) && s.sided():
		return s.w.View * s.w.OtherSide
	case mirrored(v, want):
		return s.w.View * s.w.Mirrored
	case v == Oblique && want != Internal:
		return s.w.View * s.w.Slanted
	default:
		return 0
	}
}

// sided reports whether the two sides of the wanted animal differ.
func (s *Scorer) sided() bool {
	return slices.ContainsFunc(s.wanted.Lineage, func(t Taxon) bool { return slices.Contains(s.w.Sided, t.Name) })
}

func mirrored(v, want View) bool {
	return v == LeftLateral && want == RightLateral || v == RightLateral && want == LeftLateral
}

// Stage weighs how far the work had come.
func (s *Scorer) Stage(st Stage) float64 { return s.w.Stage * at(s.w.Stages[:], int(st)) }

// Kind weighs what the picture was made for.
func (s *Scorer) Kind(k Kind) float64 { return s.w.Kind * at(s.w.Kinds[:], int(k)) }

// Resolution weighs the pixels of the long edge.
func (s *Scorer) Resolution(longEdge int) float64 {
	share := 0.0
	for _, g := range s.w.Grades {
		if longEdge >= g.LongEdge {
			share = g.Share
		}
	}
	return s.w.Resolution * share
}

func at(shares []float64, i int) float64 {
	if i >= len(shares) {
		return 0
	}
	return shares[i]
}
