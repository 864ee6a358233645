package imaging

import (
	"slices"
	"strings"
)

// fieldRule describes how one field of Embedded is settled.
type fieldRule struct {
	name string
	// iimMax is the most bytes that IPTC-IIM 4.2 (from memory) keeps of one value: a longer one is cut off there and still agrees.
	iimMax int
	// same compares two values of which neither was cut.
	same func(a, b string) bool
	// ordered says that the order of a list matters.
	ordered bool
	into    func(e *Embedded, values []string)
}

// claims holds what each origin says of each field.
type claims map[string]map[Origin][]string

// Names of the fields, as Disagreement gives them.
const (
	fieldTitle       = "title"
	fieldDescription = "description"
	fieldCreators    = "creators"
	fieldCredit      = "credit"
	fieldCopyright   = "copyright notice"
	fieldTerms       = "usage terms"
	fieldStatement   = "web statement"
	fieldKeywords    = "keywords"
	fieldDate        = "date created"
	fieldSoftware    = "software"
)

func fieldRules() []fieldRule {
	first := func(into func(e *Embedded) *string) func(*Embedded, []string) {
		return func(e *Embedded, v []string) { *into(e) = v[0] }
	}
	return []fieldRule{
		{fieldTitle, 64, sameText, true, first(func(e *Embedded) *string { return &e.Title })},
		{fieldDescription, 2000, sameText, true, first(func(e *Embedded) *string { return &e.Description })},
		{fieldCreators, 32, sameText, true, func(e *Embedded, v []string) { e.Creators = v }},
		{fieldCredit, 32, sameText, true, first(func(e *Embedded) *string { return &e.Credit })},
		{fieldCopyright, 128, sameText, true, first(func(e *Embedded) *string { return &e.CopyrightNotice })},
		{fieldTerms, 0, sameText, true, first(func(e *Embedded) *string { return &e.UsageTerms })},
		{fieldStatement, 0, sameText, true, first(func(e *Embedded) *string { return &e.WebStatement })},
		{fieldKeywords, 64, sameText, false, func(e *Embedded, v []string) { e.Keywords = v }},
		{fieldDate, 0, sameDate, true, first(func(e *Embedded) *string { return &e.DateCreated })},
		{fieldSoftware, 32, sameText, true, first(func(e *Embedded) *string { return &e.Software })},
	}
}

// say records a statement; empty values say nothing, and the first statement of an origin counts.
func (c claims) say(o Origin, field string, values ...string) {
	values = slices.DeleteFunc(slices.Clone(values), func(s string) bool { return s == "" })
	if len(values) == 0 || c[field][o] != nil {
		return
	}
	if c[field] == nil {
		c[field] = map[Origin][]string{}
	}
	c[field][o] = values
}

// settle fills e by precedence and lists what differs. The programs that saved a file state themselves in each origin and differ by nature,
// so that software is never a disagreement.
func (c claims) settle(e *Embedded, iimFirst bool) {
	order := []Origin{FromXMP, FromIIM, FromExif, FromPNG}
	if iimFirst {
		order = []Origin{FromIIM, FromXMP, FromExif, FromPNG}
	}
	seen := map[Origin]bool{}
	for _, rule := range fieldRules() {
		var said []Origin
		for _, o := range order {
			if c[rule.name][o] != nil {
				said = append(said, o)
				seen[o] = true
			}
		}
		if len(said) == 0 {
			continue
		}
		rule.into(e, c[rule.name][said[0]])
		if d := rule.differences(c[rule.name], said); d != nil && rule.name != fieldSoftware {
			e.Disagreements = append(e.Disagreements, Disagreement{Field: rule.name, Values: d})
		}
	}
	for _, o := range order {
		if seen[o] {
			e.Origins = append(e.Origins, o)
		}
	}
}

// differences lists all values when any two origins disagree, else nothing.
func (r fieldRule) differences(by map[Origin][]string, said []Origin) []Statement {
	differ := false
	for i, a := range said {
		for _, b := range said[i+1:] {
			differ = differ || !r.agree(by[a], by[b], a, b)
		}
	}
	if !differ {
		return nil
	}
	out := make([]Statement, len(said))
	for i, o := range said {
		out[i] = Statement{o, strings.Join(by[o], "; ")}
	}
	return out
}

func (r fieldRule) agree(a, b []string, from, against Origin) bool {
	if len(a) != len(b) {
		return false
	}
	if !r.ordered {
		a, b = slices.Sorted(slices.Values(a)), slices.Sorted(slices.Values(b))
	}
	for i := range a {
		if !r.same(a[i], b[i]) && !(from == FromIIM && r.cut(a[i], b[i])) && !(against == FromIIM && r.cut(b[i], a[i])) {
			return false
		}
	}
	return true
}

// cut says whether short is long as IIM would have kept it; a character of several bytes may be lost whole at the end.
func (r fieldRule) cut(short, long string) bool {
	return r.iimMax > 0 && len(short) > r.iimMax-4 && len(short) <= r.iimMax && strings.HasPrefix(long, short)
}

// sameText ignores how lines and spaces are written.
func sameText(a, b string) bool {
	return strings.Join(strings.Fields(a), " ") == strings.Join(strings.Fields(b), " ")
}

// sameDate compares as far as both are given: a year agrees with a day in it, a time without zone with the same time in any.
func sameDate(a, b string) bool {
	la, za := splitZone(a)
	lb, zb := splitZone(b)
	n := min(len(la), len(lb))
	if la[:n] != lb[:n] {
		return false
	}
	timed := n > len("2006-01-02")
	return !timed || za == "" || zb == "" || za == zb
}

// splitZone parts an ISO date into local time to the second and zone, "Z" given as "+00:00".
func splitZone(s string) (local, zone string) {
	day, clock, ok := strings.Cut(s, "T")
	if !ok {
		return s, ""
	}
	if i := strings.IndexAny(clock, "Z+-"); i >= 0 {
		clock, zone = clock[:i], clock[i:]
	}
	if zone == "Z" {
		zone = "+00:00"
	}
	clock, _, _ = strings.Cut(clock, ".")
	return day + "T" + clock, zone
}
