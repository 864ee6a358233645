package plan

import (
	"fmt"
	"slices"
	"strings"

	"platarium/indexer/rank"
	"platarium/indexer/taxon"
)

// Shown is how a picture shows a wanted structure.
type Shown struct {
	Animal       string // scientific name
	Picture      string // what it is called
	As           string // the name under which it shows the structure; "" for the whole animal
	Completeness rank.Completeness
	View         rank.View
	Mirror       bool       // mirrored it gives the view wanted
	Common       rank.Taxon // lowest taxon in common with the animal to be drawn
}

// Gap says in words what a structure lacks, with the nearest thing there is; empty if
// it is well served. Candidates are best first, chosen is the place of the one that the
// plan uses, below 0 for none.
func Gap(structure string, view rank.View, candidates []Shown, chosen int) string {
	if len(candidates) == 0 {
		return "nothing in the archive shows the " + structure
	}
	c := candidates[0]
	if chosen >= 0 {
		c = candidates[chosen]
	}
	lacks := Lacks(structure, view, c)
	if chosen < 0 {
		lacks = append([]string{"nothing was chosen for the " + structure}, lacks...)
	}
	if len(lacks) == 0 {
		return ""
	}
	text := strings.Join(lacks, "; ") + "; nearest: " + c.nearest()
	for i := range candidates {
		if o := &candidates[i]; i != max(chosen, 0) && len(Lacks(structure, view, *o)) == 0 {
			return text + "; without that lack: " + o.nearest()
		}
	}
	return text
}

// Lacks lists what keeps a picture from serving a structure well.
func Lacks(structure string, view rank.View, c Shown) []string {
	var out []string
	switch {
	case c.As == "":
		out = append(out, fmt.Sprintf("the %s is to be seen on the whole animal alone", structure))
	case !same(structure, c.As):
		out = append(out, fmt.Sprintf("the %s is shown only with the %s", structure, c.As))
	}
	switch c.Completeness {
	case rank.Damaged:
		out = append(out, fmt.Sprintf("the %s is shown damaged", structure))
	case rank.Partial:
		out = append(out, fmt.Sprintf("the %s is shown in part", structure))
	default:
	}
	if view != rank.AnyView && c.View != rank.AnyView && c.View != view && !c.Mirror {
		out = append(out, fmt.Sprintf("no %s view", view))
	}
	if c.Common.Rank < taxon.Family {
		out = append(out, "no relative of its family shows it")
	}
	return out
}

// nearest puts a picture into words.
func (c *Shown) nearest() string {
	words := []string{c.Animal}
	if c.As != "" {
		words = append(words, c.As+" "+c.Completeness.String())
	}
	if v := c.View.String(); v != "" {
		words = append(words, v)
	}
	return strings.Join(words, ", ") + " (" + c.Picture + ")"
}

func same(structure, as string) bool { return slices.Contains(NamesOf(structure).Same, as) }

// Mirror reports whether one lateral view serves for the other when flipped: not for an
// animal whose two sides differ, which the weights of the ranking name.
func Mirror(shown, wanted rank.View, lineage []rank.Taxon, w rank.Weights) bool {
	if slices.ContainsFunc(lineage, func(t rank.Taxon) bool { return slices.Contains(w.Sided, t.Name) }) {
		return false
	}
	return shown == rank.LeftLateral && wanted == rank.RightLateral || shown == rank.RightLateral && wanted == rank.LeftLateral
}
