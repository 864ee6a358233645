package commission

import (
	"errors"
	"slices"
	"strings"
	"unicode"

	"platarium/indexer/meristic"
	"platarium/indexer/rank"
	"platarium/indexer/taxon"
	pb "platarium/proto/platarium/v1"
	"platarium/server/archive"
	"platarium/server/plan"
)

// statementsOf reads a formula that was read when it was stored; one of an older reader may fail now, and says nothing then.
func statementsOf(formula string) []meristic.Statement {
	r, err := meristic.Parse(formula, meristic.Options{})
	if err != nil {
		return nil
	}
	return r.Statements
}

// countsOf lists the elements of statements as rank weighs them; sums of parts that are there already are left out.
func countsOf(statements []meristic.Statement) []rank.Count {
	var out []rank.Count
	for i := range statements {
		for _, n := range statements[i].Counts {
			if !n.Derived {
				out = append(out, rank.Count{Character: statements[i].Character, Element: n.Element, Interval: n.Interval})
			}
		}
	}
	return out
}

// knownCounts is all that is stated of the animal, for telling which fins it has.
func (j *job) knownCounts() []meristic.Statement {
	out := append(statementsOf(j.brief.GetCounts().GetFormula()), statementsOf(j.specimen.GetCounts().GetFormula())...)
	for _, d := range j.taxon.GetDiagnoses() {
		out = append(out, statementsOf(d.GetCounts().GetFormula())...)
	}
	return out
}

// readCounts gathers the sources of counts, in the order in which they are believed: what the brief says, what was counted on the specimen at hand, what is
// published of the species. Of structures named in the specimen's damage its own count is no target.
func (j *job) readCounts() {
	add := func(formula, text string, damaged ...string) {
		if st := statementsOf(formula); len(st) > 0 {
			j.sources = append(j.sources, plan.Source{Statements: st, Text: text, Damaged: damaged})
		}
	}
	add(j.brief.GetCounts().GetFormula(), "the brief")
	var damaged []string
	for _, w := range j.wanted {
		if damages(j.specimen.GetDamage(), w.structure) {
			damaged = append(damaged, w.structure)
		}
	}
	add(j.specimen.GetCounts().GetFormula(), j.specimen.GetName(), damaged...)
	for _, d := range j.taxon.GetDiagnoses() {
		add(d.GetCounts().GetFormula(), d.GetCitation())
	}
	j.target = plan.Target(j.sources)
	if len(j.target) == 0 {
		j.remark("no counts of %s are known: enter a diagnosis of it, the specimen's counts, or counts in the brief", j.taxon.GetScientificName())
	}
	for _, d := range j.sources[min(1, len(j.sources)):] {
		sound := plan.Target([]plan.Source{d})
		for _, v := range meristic.ByCharacter(meristic.Compare(j.target, sound, meristic.NearMiss())) {
			if v.Verdict == meristic.OutsideBy || v.Verdict == meristic.Contradicts {
				j.remark("counts disagree: %s (%s)", strings.Join(v.Reasons, "; "), d.Text)
			}
		}
	}
}

// damages says whether words about damage name a structure; a fin may be named without the word.
func damages(words, structure string) bool {
	apart := strings.FieldsFunc(strings.ToLower(words), func(r rune) bool { return !unicode.IsLetter(r) })
	words = " " + strings.Join(apart, " ") + " "
	return slices.ContainsFunc(append(plan.NamesOf(structure).Same, strings.TrimSuffix(structure, " fin")), func(name string) bool {
		return strings.Contains(words, " "+name+" ")
	})
}

// formulaOf writes counts for a question to the index, as many as it takes.
func formulaOf(statements []meristic.Statement) string {
	for len(statements) > 0 {
		if f := meristic.Print(statements); len(f) <= longestFormula {
			return f
		}
		statements = statements[:len(statements)-1]
	}
	return ""
}

// expected lists the counts to be drawn. Relatives speak of what nobody else does: the complete ones among the candidates, the nearest first.
func (j *job) expected() []*pb.ExpectedCount {
	sources := j.sources
	structures := make([]string, len(j.wanted))
	for i := range j.wanted {
		w := &j.wanted[i]
		structures[i] = w.structure
		hints := 0
		for _, u := range w.uses {
			st := plan.Of(u.counts, plan.Characters(w.structure))
			const most = 2 // hints tell a habit; more of them tell no more
			if hints < most && u.completeness == rank.Complete && len(st) > 0 && u.common.Rank >= taxon.Genus {
				hints++
				sources = append(sources, plan.Source{Statements: st, Text: u.animal + ", " + u.GetName(), Relative: true})
			}
		}
	}
	var out []*pb.ExpectedCount
	for _, e := range plan.Expect(structures, sources) {
		x := &pb.ExpectedCount{Structure: e.Structure, Text: e.Statement.String(), Source: e.Source, FromRelative: e.Relative}
		for _, n := range e.Statement.Counts {
			if n.Derived {
				continue
			}
			c := &pb.Count{Character: e.Statement.Character.String(), Element: n.Element.String(), Min: n.Min, Max: n.Max}
			if mode := n.Mode(); len(mode) == 1 {
				c.Mode = mode[0]
			}
			x.Counts = append(x.Counts, c)
		}
		if len(x.Counts) > 0 {
			x.Count = x.Counts[0]
			out = append(out, x)
		}
	}
	return out
}

// acceptedName is the scientific name in use; as written where the taxon isn't known.
func acceptedName(taxa *taxon.Classification, id *pb.Identification) string {
	if t, ok := taxa.Accepted(strings.TrimPrefix(id.GetTaxon(), taxaPrefix)); ok {
		return t.Name
	}
	return id.GetScientificName()
}

// found makes of a record that isn't there none at all.
func found[T any](record *T, err error) (*T, error) {
	if errors.Is(err, archive.ErrNotFound) {
		return nil, nil // none is an answer here
	}
	return record, err
}
