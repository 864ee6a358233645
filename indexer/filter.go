package indexer

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"platarium/indexer/rank"
	"platarium/indexer/taxon"
	pb "platarium/proto/platarium/v1"
)

// condition reports whether a picture fits.
type condition func(ord uint32) bool

// where makes a condition on a column; each distinct value is judged once, when
// it is first met.
func where[T any](c *column[T], fits func(T) bool) condition {
	const yes, no = 1, 2
	known := make([]uint8, len(c.vals))
	codes := c.codes
	return func(ord uint32) bool {
		code := codes[ord]
		if known[code] == 0 {
			known[code] = no
			if fits(c.vals[code]) {
				known[code] = yes
			}
		}
		return known[code] == yes
	}
}

// weight is what a picture brings in one respect.
type weight func(ord uint32) float64

// weigh makes a weight from a column; each distinct value is weighed once.
func weigh[T any](c *column[T], f func(T) float64) weight {
	known := make([]float64, len(c.vals))
	for i := range known {
		known[i] = math.NaN()
	}
	codes := c.codes
	return func(ord uint32) float64 {
		code := codes[ord]
		w := known[code]
		if w != w { // not weighed yet
			w = f(c.vals[code])
			known[code] = w
		}
		return w
	}
}

// conditions are those of a checked filter. Several values of one field are
// alternatives; fields must hold together.
func (c *columns) conditions(f *filter, s *Standing) []condition {
	var all []condition
	add := func(asked bool, cond func() condition) {
		if asked {
			all = append(all, cond())
		}
	}
	add(len(f.taxa) > 0, func() condition {
		return where(c.lineage, func(l []rank.Taxon) bool {
			return slices.ContainsFunc(l, func(t rank.Taxon) bool { return slices.Contains(f.taxa, t.ID) })
		})
	})
	add(len(f.kinds) > 0, func() condition {
		return where(c.kind, func(k rank.Kind) bool { return slices.Contains(f.kinds, k) })
	})
	add(len(f.views) > 0, func() condition {
		return where(c.view, func(v rank.View) bool { return slices.Contains(f.views, v) })
	})
	add(len(f.stages) > 0, func() condition {
		return where(c.stage, func(s rank.Stage) bool { return slices.Contains(f.stages, s) })
	})
	add(len(f.techniques) > 0, func() condition { return where(c.technique, anyOf(f.techniques)) })
	add(len(f.jobs) > 0, func() condition { return where(c.job, anyOf(f.jobs)) })
	add(f.specimen != "", func() condition { return where(c.specimen, func(s string) bool { return s == f.specimen }) })
	add(len(f.creators) > 0, func() condition {
		one := anyOf(f.creators)
		return where(c.creators, func(cs []string) bool { return slices.ContainsFunc(cs, one) })
	})
	for _, want := range f.structures {
		all = append(all, c.structures.shows(want))
	}
	for _, want := range f.counts {
		all = append(all, c.counts.overlap(want))
	}
	add(f.yearFrom != 0 || f.yearTo != 0, func() condition { return where(c.made, f.years) })
	add(len(f.rights) > 0, func() condition {
		codes, words := c.standing.of(s, c)
		return func(ord uint32) bool { return slices.Contains(f.rights, words[codes[ord]]) }
	})
	return all
}

// anyOf reports whether a value is among these, capitals apart.
func anyOf(values []string) func(string) bool {
	return func(v string) bool {
		return v != "" && slices.ContainsFunc(values, func(w string) bool { return strings.EqualFold(v, w) })
	}
}

// shownAs is a structure that must be shown, in a certain condition if asked.
type shownAs struct {
	name  string
	exact bool
	as    rank.Completeness
}

// years reports whether a date may lie within the years asked for.
func (f *filter) years(d dated) bool {
	return d.from != 0 && (f.yearFrom == 0 || d.to/10000 >= f.yearFrom) && (f.yearTo == 0 || d.from/10000 <= f.yearTo)
}

// filter is a pb.PictureFilter, checked.
type filter struct {
	taxa             []string // accepted, by resource name
	kinds            []rank.Kind
	views            []rank.View
	stages           []rank.Stage
	techniques       []string
	structures       []shownAs
	counts           []rank.Count
	yearFrom, yearTo int32
	creators         []string
	specimen         string
	rights           []string
	jobs             []string
}

// checkFilter reads the conditions of a request.
func (c *checker) filter(f *pb.PictureFilter, taxa *taxon.Classification, outsider bool) *filter {
	out := &filter{yearFrom: f.GetYearFrom(), yearTo: f.GetYearTo(), specimen: f.GetSpecimen()}
	out.techniques = c.values("filter.techniques", f.GetTechniques())
	out.creators = c.values("filter.creators", f.GetCreators())
	out.rights = c.values("filter.rights", f.GetRights())
	out.jobs = c.values("filter.jobs", f.GetJobs())
	if outsider && len(out.jobs) > 0 {
		c.fail("filter.jobs", "a job", "none: jobs are open to the studio alone")
	}
	for i, name := range c.values("filter.taxa", f.GetTaxa()) {
		t, ok := taxa.Accepted(strings.TrimPrefix(name, taxaPrefix))
		if !ok || !strings.HasPrefix(name, taxaPrefix) {
			c.fail(fmt.Sprintf("filter.taxa[%d]", i), quoted(name), "taxa/{id} of the classification")
			continue
		}
		out.taxa = append(out.taxa, taxaPrefix+t.ID)
	}
	out.kinds = numbers[rank.Kind](c, "filter.kinds", f.GetKinds(), pb.Kind_name)
	out.views = numbers[rank.View](c, "filter.views", f.GetViews(), pb.View_name)
	out.stages = numbers[rank.Stage](c, "filter.stages", f.GetStages(), pb.Stage_name)
	for i, s := range c.values("filter.structures", f.GetStructures()) {
		out.structures = append(out.structures, c.structure(fmt.Sprintf("filter.structures[%d]", i), s))
	}
	out.counts = c.counts("filter.counts", f.GetCounts())
	if out.yearFrom < 0 || out.yearTo < 0 || out.yearTo != 0 && out.yearFrom > out.yearTo {
		c.fail("filter.year_from", fmt.Sprintf("%d to %d", out.yearFrom, out.yearTo), "years in order, 0 for none")
	}
	return out
}

// numbers reads enum values of the contract, which rank shares.
func numbers[To ~uint8, From ~int32](c *checker, field string, values []From, known map[int32]string) []To {
	if len(values) > maxValues {
		c.fail(field, fmt.Sprintf("%d values", len(values)), fmt.Sprintf("at most %d", maxValues))
		return nil
	}
	var out []To
	for i, v := range values {
		if _, ok := known[int32(v)]; !ok || v == 0 {
			c.fail(fmt.Sprintf("%s[%d]", field, i), fmt.Sprint(int32(v)), "a value of the contract")
			continue
		}
		out = append(out, To(v))
	}
	return out
}

// structure reads "pectoral fin" or "pectoral fin=complete".
func (c *checker) structure(field, s string) shownAs {
	name, word, exact := strings.Cut(s, "=")
	out := shownAs{name: structureName(name), exact: exact}
	if !exact {
		return out
	}
	for as := rank.Shown; as <= rank.Hidden; as++ {
		if as.String() == structureName(word) {
			out.as = as
			return out
		}
	}
	c.fail(field, quoted(s), "a structure, or one with =complete, =partial, =damaged, =reconstructed, =hidden or =shown")
	return out
}
