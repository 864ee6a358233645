package rights

import (
	"errors"
	"fmt"
	"strings"

	"golang.org/x/text/language"

	"platarium/server/rights/media"
	"platarium/server/rights/territory"
)

// CheckScope finds everything wrong with a written scope, more strictly than the
// questions do: media must be in the vocabulary and language subtags in the
// registry. field is the path put before each field's name ("scope."), day the
// day of signature. It returns nil if nothing is wrong.
func CheckScope(s Scope, field, day string) FieldErrors {
	var out FieldErrors
	note := func(list string, i int, err error) {
		if err != nil {
			out = append(out, *inField(fmt.Sprintf("%s%s[%d]", field, list, i), err))
		}
	}
	for i, w := range s.Works {
		_, err := readWorks([]string{w}, nothing)
		note("works", i, err)
	}
	for i, m := range s.Media {
		note("media", i, media.Check(strings.TrimPrefix(m, "-")))
	}
	for i, t := range s.Territory {
		_, err := territory.Read([]string{t}, day)
		note("territory", i, err)
	}
	for i, l := range s.Languages {
		note("languages", i, checkTag(strings.TrimPrefix(l, "-")))
	}
	for i, p := range s.Purposes {
		_, err := readPurposes([]string{p})
		note("purposes", i, err)
	}
	for _, list := range []struct {
		name    string
		entries []string
	}{{"works", s.Works}, {"media", s.Media}, {"territory", s.Territory}, {"languages", s.Languages}} {
		if len(list.entries) == 0 {
			out = append(out, FieldError{Field: field + list.name, Wanted: "at least one entry"})
		}
	}
	if !s.From.IsZero() && !s.To.IsZero() && s.To.Last() < s.From.First() {
		out = append(out, FieldError{Field: field + "to", Found: s.To.String(), Wanted: "a day not before " + s.From.String()})
	}
	return out
}

func checkTag(tag string) error {
	if _, err := readTag(tag); err != nil {
		return err
	}
	if tag == "*" {
		return nil
	}
	_, err := language.Raw.Parse(tag)
	var unknown language.ValueError
	if errors.As(err, &unknown) {
		return &FieldError{Found: tag, Wanted: fmt.Sprintf("a registered language subtag; %q is not one", unknown.Subtag())}
	}
	return nil
}

// CheckGrant finds everything wrong with a grant on its own. It returns nil if nothing is wrong.
func CheckGrant(g Grant) FieldErrors {
	out := CheckScope(g.Scope, "scope.", g.signingDay())
	need := func(bad bool, field, found, wanted string) {
		if bad {
			out = append(out, FieldError{Field: field, Found: found, Wanted: wanted})
		}
	}
	for i, m := range g.Reserved {
		if err := media.Check(m); err != nil {
			out = append(out, *inField(fmt.Sprintf("reserved[%d]", i), err))
		}
	}
	need(g.Status == Executed && g.Signed.IsZero(), "signed", "", "the day of signature of an executed grant")
	need(g.Kind == Sublicence && g.Head == "", "head", "", "the grant on which the sublicence hangs")
	need(g.Kind != Sublicence && g.Head != "", "head", g.Head, "a sublicence: no other grant hangs on one")
	need(g.Head != "" && g.Head == g.ID, "head", g.Head, "another grant")
	need(g.Amends != "" && g.Amends == g.ID, "amends", g.Amends, "another grant")
	need(g.Kind == Public && !g.Ended.IsZero(), "ended", g.Ended.String(), "no end: a public licence is irrevocable")
	need(g.Kind == Public && g.URI == "", "uri", "", "the address of the public licence")
	need(g.Kind == Public && g.Exclusivity != NonExclusive, "exclusivity", "", "non-exclusive: a public licence shuts nobody out")
	need(g.To == "" && g.Kind != Public && g.Kind != Holdback, "to", "", "the party that the grant is made to")
	need(len(g.Reserved) > 0 && g.Exclusivity != Exclusive, "reserved", strings.Join(g.Reserved, ", "), "an exclusive: nothing needs reserving from other grants")
	need(g.Term != nil && g.Term.Months < 0, "term.months", fmt.Sprint(months(g.Term)), "a number of months from the event on")
	need(g.CopiesMax < 0, "copies_max", fmt.Sprint(g.CopiesMax), "the copies allowed, or 0 for no limit")
	need(g.UsesMax < 0, "uses_max", fmt.Sprint(g.UsesMax), "the uses allowed, or 0 for no limit")
	return out
}

func months(t *TermEvent) int {
	if t == nil {
		return 0
	}
	return t.Months
}
