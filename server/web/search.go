package web

import (
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"google.golang.org/protobuf/reflect/protoreflect"

	pb "platarium/proto/platarium/v1"
)

// hitsPerPage keeps a page light enough to look through.
const hitsPerPage = 24

// searching is what the search page shows.
type searching struct {
	Ask    question
	Answer *pb.SearchPicturesResponse
	Hits   []hit
	Facets []facet
	Set    []chip // conditions that hold, each with the way to drop it
	Next   string // address of the next page; empty at the end
	Fresh  bool   // nothing was asked
	Views  []string
	Wrong  string // why the question can't be answered
}

// question is the form as it was sent.
type question struct {
	Words, Near, Counts, Structures, View string
	Printed                               float64 // wanted width in print, mm; 0 if not said
	Order                                 string
	values                                url.Values
}

// hit is one picture found.
type hit struct {
	*pb.Hit
	PPI float64 // pixels per inch at the printed width asked for; 0 if unknown
	Low bool    // fewer than printing usually wants

	Choose string // address of the page that adds it to a brief; empty for those who have none
}

// facet is a list of values that narrow the hits.
type facet struct {
	Name   string
	Values []facetLink
}

type facetLink struct {
	Label string
	Count int64
	To    string
}

// chip is a condition that holds.
type chip struct {
	Label, Value, Drop string
}

// conditionFields are the form's fields that shut pictures out, by facet.
var conditionFields = map[string]string{
	"family": "taxon", "genus": "taxon", "kind": "kind", "view": "only", "stage": "stage", "technique": "technique", "creator": "creator", "year": "year", "structure": "shows", "rights": "rights",
}

// facetOrder is how facets are listed: what is most often narrowed by comes first.
var facetOrder = []string{"kind", "family", "genus", "stage", "view", "structure", "rights", "creator", "year"}

func (s *Site) search(v *visit) error {
	q := v.r.URL.Query()
	ask := question{
		Words: strings.TrimSpace(q.Get("q")), Near: strings.TrimSpace(q.Get("near")), Counts: strings.TrimSpace(q.Get("counts")), Structures: strings.TrimSpace(q.Get("structures")),
		View: q.Get("view"), Order: q.Get("order"), values: q,
	}
	ask.Printed, _ = strconv.ParseFloat(q.Get("printed"), 64)
	page := searching{Ask: ask, Views: words[pb.View](), Fresh: len(q) == 0}
	req := ask.request()
	var err error
	if page.Answer, err = s.services.search.SearchPictures(v.ctx(), req); err != nil {
		c := complain(err)
		if c.Code != http.StatusBadRequest {
			return err
		}
		page.Wrong = c.Text
		return v.show(http.StatusBadRequest, "search.html", "Search", page)
	}
	for _, h := range page.Answer.GetHits() {
		one := ask.hit(h)
		if v.staff() {
			one.Choose = ask.choosing(h.GetPicture().GetName())
		}
		page.Hits = append(page.Hits, one)
	}
	page.Set = ask.chips(page.Answer)
	page.Facets = ask.facets(page.Answer.GetFacets())
	if t := page.Answer.GetNextPageToken(); t != "" {
		page.Next = ask.with("page", t)
	}
	return v.show(http.StatusOK, "search.html", "Search", page)
}

// request turns the form into a question to the services.
func (q question) request() *pb.SearchPicturesRequest {
	v := q.values
	req := &pb.SearchPicturesRequest{
		Text: q.Words, PageSize: hitsPerPage, PageToken: v.Get("page"), Facets: facetOrder,
		Wanted: &pb.Wanted{Near: q.Near, Counts: q.Counts, Structures: listed(q.Structures), View: valueOf[pb.View](q.View)},
		Filter: &pb.PictureFilter{
			Taxa: v["taxon"], Kinds: valuesOf[pb.Kind](v["kind"]), Views: valuesOf[pb.View](v["only"]), Stages: valuesOf[pb.Stage](v["stage"]),
			Techniques: v["technique"], Structures: v["shows"], Creators: v["creator"], Rights: v["rights"], Specimen: v.Get("specimen"), Jobs: v["job"],
		},
		Order: valueOf[pb.SearchPicturesRequest_Order](q.Order),
	}
	if year, err := strconv.ParseInt(v.Get("year"), 10, 32); err == nil {
		req.Filter.YearFrom, req.Filter.YearTo = int32(year), int32(year)
	}
	return req
}

// Resolutions that printing usually wants, pixels per inch (common practice, no source).
const (
	toneWants = 300
	lineWants = 600
)

func (q question) hit(h *pb.Hit) hit {
	out := hit{Hit: h}
	if width := h.GetPicture().GetOriginal().GetWidth(); q.Printed > 0 && width > 0 {
		out.PPI = float64(width) / (q.Printed / 25.4)
		wants := float64(toneWants)
		if h.GetPicture().GetOriginal().GetColorModel() == "bilevel" {
			wants = lineWants
		}
		out.Low = out.PPI < wants
	}
	return out
}

// with is the address of this question with a field added.
func (q question) with(field, value string) string {
	v := url.Values{}
	for k, list := range q.values {
		if k != "page" {
			v[k] = slices.Clone(list)
		}
	}
	if field == "page" || field == "year" {
		v.Set(field, value)
	} else {
		v.Add(field, value)
	}
	return "/search?" + v.Encode()
}

// without is the address of this question with one value of a field taken away.
func (q question) without(field, value string) string {
	v := url.Values{}
	for k, list := range q.values {
		for _, x := range list {
			if k != "page" && (k != field || x != value) {
				v.Add(k, x)
			}
		}
	}
	return "/search?" + v.Encode()
}

func (q question) facets(list []*pb.Facet) []facet {
	const shown = 8
	var out []facet
	for _, f := range list {
		field := conditionFields[f.GetFacet()]
		one := facet{Name: f.GetFacet()}
		for _, val := range f.GetValues() {
			if field == "" || slices.Contains(q.values[field], val.GetValue()) || len(one.Values) == shown {
				continue
			}
			label := val.GetLabel()
			if label == "" {
				label = val.GetValue()
			}
			one.Values = append(one.Values, facetLink{label, val.GetCount(), q.with(field, val.GetValue())})
		}
		if len(one.Values) > 1 || len(one.Values) == 1 && one.Values[0].Count < 1<<62 && len(f.GetValues()) > 1 {
			out = append(out, one)
		}
	}
	return out
}

// chips lists the conditions that hold, in words.
func (q question) chips(res *pb.SearchPicturesResponse) []chip {
	labels := map[string]string{}
	for _, f := range res.GetFacets() {
		for _, v := range f.GetValues() {
			if v.GetLabel() != "" {
				labels[v.GetValue()] = v.GetLabel()
			}
		}
	}
	var out []chip
	for _, name := range append(facetOrder, "technique", "specimen", "job") {
		field := conditionFields[name]
		if field == "" {
			field = name
		}
		if name == "genus" { // shares its field with family
			continue
		}
		for _, value := range q.values[field] {
			label := labels[value]
			if label == "" {
				label = value
			}
			if name == "family" {
				name = "under"
			}
			out = append(out, chip{name, label, q.without(field, value)})
		}
	}
	return out
}

// Hidden are the conditions that the form must carry along.
func (q question) Hidden() []chip {
	var out []chip
	for _, field := range []string{"taxon", "kind", "only", "stage", "technique", "shows", "creator", "rights", "year", "specimen", "job"} {
		for _, value := range q.values[field] {
			out = append(out, chip{Label: field, Value: value})
		}
	}
	return out
}

// listed takes a list of words apart.
func listed(s string) []string {
	var out []string
	for _, part := range strings.FieldsFunc(s, func(r rune) bool { return r == ',' || r == ';' }) {
		if part = strings.TrimSpace(part); part != "" {
			out = append(out, part)
		}
	}
	return out
}

type enum interface {
	~int32
	protoreflect.Enum
}

// valueOf reads an enum's value by its word or its name in the contract; zero if it has none such.
func valueOf[E enum](s string) E {
	var zero E
	values := zero.Descriptor().Values()
	prefix := strings.TrimSuffix(string(values.ByNumber(0).Name()), "UNSPECIFIED")
	name := strings.ToUpper(strings.ReplaceAll(strings.TrimSpace(s), " ", "_"))
	for _, n := range []string{name, prefix + name} {
		if v := values.ByName(protoreflect.Name(n)); v != nil {
			return E(v.Number())
		}
	}
	return zero
}

func valuesOf[E enum](list []string) []E {
	var out []E
	for _, s := range list {
		if e := valueOf[E](s); e != 0 {
			out = append(out, e)
		}
	}
	return out
}

// words lists the words of an enum's values.
func words[E enum]() []string {
	var zero E
	values := zero.Descriptor().Values()
	var out []string
	for i := 1; i < values.Len(); i++ {
		out = append(out, word(E(values.Get(i).Number())))
	}
	return out
}
