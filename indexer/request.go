package indexer

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"

	"platarium/indexer/meristic"
	"platarium/indexer/rank"
	"platarium/indexer/taxon"
	pb "platarium/proto/platarium/v1"
)

// Limits of a question.
const (
	maxPage     = 200 // hits on a page
	defaultPage = 20  // hits on a page if not asked
	maxValues   = 50  // values of one condition, structures wanted
	maxValue    = 200 // characters of one value
	maxFormula  = 500 // characters of a formula
)

// question is a request, checked.
type question struct {
	terms   []term
	filter  *filter
	wanted  rank.Wanted
	facets  []string
	size    int
	order   pb.SearchPicturesRequest_Order
	after   *cursor
	remarks []string
}

// checker gathers the first thing wrong with a request.
type checker struct {
	err *FieldError
}

func (c *checker) fail(field, found, want string) {
	if c.err == nil {
		c.err = &FieldError{Field: field, Found: found, Want: want}
	}
}

func quoted(s string) string { return fmt.Sprintf("%q", short(s)) }

// short keeps a value fit for a message.
func short(s string) string {
	if utf8.RuneCountInString(s) > 60 {
		return string([]rune(s)[:60]) + "…"
	}
	return s
}

// check reads a request against today's classification.
func check(q Query, taxa *taxon.Classification) (*question, error) {
	r := q.Request
	if r == nil {
		r = &pb.SearchPicturesRequest{}
	}
	c := &checker{}
	out := &question{order: r.GetOrder(), size: int(r.GetPageSize())}
	var err error
	if out.terms, err = parseText(r.GetText()); err != nil {
		return nil, err
	}
	if len(out.terms) == 0 && strings.TrimSpace(r.GetText()) != "" {
		out.remarks = append(out.remarks, "nothing in the text is a word")
	}
	out.filter = c.filter(r.GetFilter(), taxa, q.Outsider)
	c.wanted(r.GetWanted(), taxa, out)
	c.facets(r.GetFacets(), out)
	switch {
	case out.size < 0 || out.size > maxPage:
		c.fail("page_size", fmt.Sprint(out.size), fmt.Sprintf("1 to %d, or 0 for %d", maxPage, defaultPage))
	case out.size == 0:
		out.size = defaultPage
	}
	c.order(out)
	if c.err != nil {
		return nil, c.err
	}
	if r.GetPageToken() != "" {
		if out.after, err = readToken(r.GetPageToken(), fingerprint(r, q.Outsider)); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// order settles what was left to us.
func (c *checker) order(q *question) {
	switch q.order {
	case pb.SearchPicturesRequest_ORDER_UNSPECIFIED:
		q.order = pb.SearchPicturesRequest_ORDER_NEWEST
		if len(q.terms) > 0 || !q.wanted.Empty() {
			q.order = pb.SearchPicturesRequest_ORDER_RELEVANCE
		}
	case pb.SearchPicturesRequest_ORDER_RELEVANCE, pb.SearchPicturesRequest_ORDER_NEWEST, pb.SearchPicturesRequest_ORDER_NAME:
	default:
		c.fail("order", fmt.Sprint(int32(q.order)), "a value of the contract")
	}
}

// values checks the values of a condition.
func (c *checker) values(field string, values []string) []string {
	if len(values) > maxValues {
		c.fail(field, fmt.Sprintf("%d values", len(values)), fmt.Sprintf("at most %d", maxValues))
		return nil
	}
	for i, v := range values {
		c.value(fmt.Sprintf("%s[%d]", field, i), v)
	}
	return values
}

func (c *checker) value(field, v string) {
	switch n := utf8.RuneCountInString(v); {
	case strings.TrimSpace(v) == "":
		c.fail(field, "nothing", "a value")
	case n > maxValue:
		c.fail(field, fmt.Sprintf("%d characters", n), fmt.Sprintf("at most %d", maxValue))
	}
}

// counts reads a formula as the trade writes it.
func (c *checker) counts(field, formula string) []rank.Count {
	if strings.TrimSpace(formula) == "" {
		return nil
	}
	if n := utf8.RuneCountInString(formula); n > maxFormula {
		c.fail(field, fmt.Sprintf("%d characters", n), fmt.Sprintf("at most %d", maxFormula))
		return nil
	}
	res, err := meristic.Parse(formula, meristic.Options{})
	if err != nil {
		want := "a formula such as D X-XI,11-13; A III,8"
		var fault *meristic.Error
		if errors.As(err, &fault) {
			want = fault.Faults[0].String()
		}
		c.fail(field, quoted(formula), want)
		return nil
	}
	var out []rank.Count
	for _, s := range res.Statements {
		for _, n := range s.Counts {
			if !n.Derived { // its parts are there already
				out = append(out, rank.Count{Character: s.Character, Element: n.Element, Interval: n.Interval})
			}
		}
	}
	return out
}

// wanted reads what a commission asks for.
func (c *checker) wanted(w *pb.Wanted, taxa *taxon.Classification, q *question) {
	q.wanted.Counts = c.counts("wanted.counts", w.GetCounts())
	for _, s := range c.values("wanted.structures", w.GetStructures()) {
		q.wanted.Structures = append(q.wanted.Structures, structureName(s))
	}
	if _, ok := pb.View_name[int32(w.GetView())]; !ok {
		c.fail("wanted.view", fmt.Sprint(int32(w.GetView())), "a value of the contract")
	}
	q.wanted.View = rank.View(w.GetView())
	near := w.GetNear()
	if near == "" {
		return
	}
	c.value("wanted.near", near)
	if id, ok := strings.CutPrefix(near, taxaPrefix); ok {
		t, known := taxa.Accepted(id)
		if !known {
			c.fail("wanted.near", quoted(near), "taxa/{id} of the classification, or a scientific name")
			return
		}
		q.wanted.Lineage = lineage(taxa, t.ID)
		return
	}
	found := taxa.Match(near, 1)
	if len(found) == 0 {
		c.fail("wanted.near", quoted(near), "a name near one of the classification, or taxa/{id}")
		return
	}
	q.wanted.Lineage = lineage(taxa, found[0].ID)
	if found[0].Kind != taxon.ByName {
		q.remarks = append(q.remarks, fmt.Sprintf("“%s” was read as %s: %s", near, found[0].Name, found[0].Reason))
	}
}

func (c *checker) facets(names []string, q *question) {
	seen := map[string]bool{}
	for i, n := range names {
		if !slices.Contains(facetNames(), n) {
			c.fail(fmt.Sprintf("facets[%d]", i), quoted(n), "one of "+strings.Join(facetNames(), ", "))
			return
		}
		if !seen[n] {
			q.facets = append(q.facets, n)
		}
		seen[n] = true
	}
}
