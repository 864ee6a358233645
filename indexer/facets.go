package indexer

import (
	"cmp"
	"slices"

	"platarium/indexer/rank"
	"platarium/indexer/taxon"
	pb "platarium/proto/platarium/v1"
)

// maxFacetValues bounds the values of a facet; the most frequent are kept.
const maxFacetValues = 100

// facetNames lists the facets of the contract.
func facetNames() []string {
	return []string{"family", "genus", "kind", "view", "stage", "technique", "creator", "year", "structure", "rights"}
}

// facetValue is one value with its label, which is empty if the value shows as it is.
type facetValue struct{ value, label string }

// facet counts the pictures found by value. An unknown name gives an empty facet;
// requests are checked before.
func (c *columns) facet(name string, found []match, s *Standing) *pb.Facet {
	var n map[facetValue]int64
	switch name {
	case "family":
		n = tally(c.lineage, found, ancestor(taxon.Family))
	case "genus":
		n = tally(c.lineage, found, ancestor(taxon.Genus))
	case "kind":
		n = tally(c.kind, found, func(k rank.Kind) []facetValue { return numbered(pb.Kind_name, int32(k), k.String()) })
	case "view":
		n = tally(c.view, found, func(v rank.View) []facetValue { return numbered(pb.View_name, int32(v), v.String()) })
	case "stage":
		n = tally(c.stage, found, func(s rank.Stage) []facetValue { return numbered(pb.Stage_name, int32(s), s.String()) })
	case "technique":
		n = tally(c.technique, found, func(s string) []facetValue { return each(s) })
	case "creator":
		n = tally(c.creators, found, func(s []string) []facetValue { return each(s...) })
	case "year":
		n = tally(c.made, found, func(d dated) []facetValue { return each(d.year) })
	case "structure":
		n = c.structures.tally(found)
	case "rights":
		codes, words := c.standing.of(s, c)
		n = tallyCodes(codes, words, found, func(w string) []facetValue { return each(w) })
	}
	return ranked(name, n)
}

// tally counts by code first, which is one addition a picture, then by value.
func tally[T any](c *column[T], found []match, values func(T) []facetValue) map[facetValue]int64 {
	return tallyCodes(c.codes, c.vals, found, values)
}

func tallyCodes[T any](codes []uint32, vals []T, found []match, values func(T) []facetValue) map[facetValue]int64 {
	byCode := make([]int64, len(vals))
	for _, m := range found {
		byCode[codes[m.ord]]++
	}
	n := map[facetValue]int64{}
	for code, count := range byCode {
		if count == 0 {
			continue
		}
		for _, v := range values(vals[code]) {
			n[v] += count
		}
	}
	return n
}

// ranked puts the most frequent first, equals in order of value.
func ranked(name string, n map[facetValue]int64) *pb.Facet {
	out := &pb.Facet{Facet: name}
	for v, count := range n {
		out.Values = append(out.Values, &pb.FacetValue{Value: v.value, Label: v.label, Count: count})
	}
	slices.SortFunc(out.Values, func(a, b *pb.FacetValue) int {
		return cmp.Or(cmp.Compare(b.GetCount(), a.GetCount()), cmp.Compare(a.GetValue(), b.GetValue()))
	})
	out.Values = out.Values[:min(len(out.Values), maxFacetValues)]
	return out
}

// each makes values of words, every one once.
func each(words ...string) []facetValue {
	var out []facetValue
	for _, w := range words {
		if v := (facetValue{value: w}); w != "" && !slices.Contains(out, v) {
			out = append(out, v)
		}
	}
	return out
}

func numbered(names map[int32]string, n int32, label string) []facetValue {
	if n == 0 {
		return nil
	}
	return []facetValue{{names[n], label}}
}

// ancestor is the taxon of a rank above a picture's animal.
func ancestor(r taxon.Rank) func([]rank.Taxon) []facetValue {
	return func(lineage []rank.Taxon) []facetValue {
		for _, t := range lineage {
			if t.Rank == r {
				return []facetValue{{t.ID, t.Name}}
			}
		}
		return nil
	}
}
