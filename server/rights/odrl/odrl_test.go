package odrl

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"os"
	"slices"
	"strings"
	"testing"

	"platarium/server/rights"
)

// paper is an executed exclusive licence that has nearly everything.
func paper() Grant {
	return Grant{
		Name: "grants/lake-book", Status: Executed, Exclusivity: rights.Exclusive, ExclusiveTo: "2026-12", Studio: Party{"studio", "Studio Moor"},
		Licensees: []Party{{"parties/reed-press", "Reed Press"}}, Works: []string{"pictures/perch-plate", "pictures/ruffe-plate#head"},
		Media: []string{"print.book", "digital.ebook", "-print.book.jacket"}, Territories: []string{"DE", "AT", "-AT-9"}, Languages: []string{"de"}, Purposes: []string{"commercial"},
		From: "2026-01-15", To: "2027", CopiesMax: 3000, UsesMax: 1, Product: "Fishes of the Lake", CreditLine: "Ida Moor", SignedOn: "2026-01-10",
		FeeAmount: "450.00", FeeCurrency: "EUR", EvidenceDueOn: "2027-06-30", Amends: "grants/older", Tables: "test",
	}
}

// kinds are grants of every kind that has a policy of its own form.
func kinds() map[string]Grant {
	of := func(change func(*Grant)) Grant {
		g := paper()
		change(&g)
		return g
	}
	return map[string]Grant{
		"exclusive":     paper(),
		"non-exclusive": of(func(g *Grant) { g.Exclusivity, g.PaymentFirst, g.AlterationAllowed = rights.NonExclusive, true, true }),
		"sole":          of(func(g *Grant) { g.Exclusivity = rights.Sole }),
		"first rights": of(func(g *Grant) {
			g.Exclusivity, g.FirstPublicationDeadline = rights.FirstRights, "2027-03-31"
		}),
		"first rights, published": of(func(g *Grant) { g.Exclusivity, g.FirstPublishedOn = rights.FirstRights, "2026-05-02" }),
		"offered":                 of(func(g *Grant) { g.Status = Offered }),
		"assignment":              of(func(g *Grant) { g.Kind = rights.Assignment }),
		"holdback":                of(func(g *Grant) { g.Kind, g.HoldbackMode = rights.Holdback, "all" }),
		"option":                  of(func(g *Grant) { g.Kind, g.OptionUntil = rights.Option, "2026-09-30" }),
		"public": of(func(g *Grant) {
			*g = Grant{Name: "grants/open", Status: Executed, Kind: rights.Public, Studio: g.Studio, Works: g.Works, Media: []string{"*"}, Territories: []string{"WORLD"},
				Languages: []string{"*"}, From: "2026", PublicLicence: "https://creativecommons.org/licenses/by/4.0/"}
		}),
		"sublicence": of(func(g *Grant) {
			g.Kind, g.Head, g.SubjectTo = rights.Sublicence, "grants/head", []string{"grants/a", "grants/b"}
		}),
		"everything": of(func(g *Grant) { g.Works, g.Media = []string{"*", "-pictures/carp"}, []string{"*", "-digital.training"} }),
		"term event": of(func(g *Grant) { g.TermAnchor, g.TermMonths, g.To, g.EndedOn = "first delivery", 24, "", "2026-11-01" }),
		"affiliates": of(func(g *Grant) { g.Licensees = append(g.Licensees, Party{"parties/reed-digital", ""}) }),
	}
}

func decode(t *testing.T, g Grant) map[string]any {
	t.Helper()
	b, err := Marshal(g)
	if err != nil {
		t.Fatal(err)
	}
	var p map[string]any
	if err := json.Unmarshal(b, &p); err != nil {
		t.Fatal(err)
	}
	return p
}

func TestEveryKindKeepsTheInformationModel(t *testing.T) {
	v := newValidator(t)
	for name, g := range kinds() {
		for _, fault := range v.policy(decode(t, g)) {
			t.Errorf("%s: %s", name, fault)
		}
		a, _ := Marshal(g)
		b, _ := Marshal(g)
		if !bytes.Equal(a, b) {
			t.Errorf("%s: written twice, two files", name)
		}
	}
}

// TestTheValidatorFindsFaults spoils a good policy in each way that the validator looks for.
func TestTheValidatorFindsFaults(t *testing.T) {
	v := newValidator(t)
	rule := func(p map[string]any) map[string]any { return p["permission"].([]any)[0].(map[string]any) }
	limit := func(p map[string]any) map[string]any { return rule(p)["constraint"].([]any)[0].(map[string]any) }
	for name, spoil := range map[string]func(map[string]any){
		"no uid":            func(p map[string]any) { delete(p, "uid") },
		"relative uid":      func(p map[string]any) { p["uid"] = "grants/x" },
		"type":              func(p map[string]any) { p["@type"] = "Contract" },
		"no profile":        func(p map[string]any) { delete(p, "profile") },
		"no context":        func(p map[string]any) { delete(p, "@context") },
		"no rule":           func(p map[string]any) { delete(p, "permission"); delete(p, "prohibition"); delete(p, "obligation") },
		"no target":         func(p map[string]any) { delete(rule(p), "target") },
		"no assigner":       func(p map[string]any) { delete(rule(p), "assigner") },
		"no assignee":       func(p map[string]any) { delete(rule(p), "assignee") },
		"unknown action":    func(p map[string]any) { rule(p)["action"] = "photocopy" },
		"unknown operand":   func(p map[string]any) { limit(p)["leftOperand"] = "colour" },
		"unknown operator":  func(p map[string]any) { limit(p)["operator"] = "between" },
		"no right operand":  func(p map[string]any) { delete(limit(p), "rightOperand") },
		"unknown key":       func(p map[string]any) { rule(p)["licensee"] = "x" },
		"list for one":      func(p map[string]any) { limit(p)["operator"] = "eq" },
		"undescribed term":  func(p map[string]any) { p["plt:mood"] = "good" },
		"untyped day":       func(p map[string]any) { limit(p)["leftOperand"], limit(p)["operator"] = "dateTime", "lteq" },
		"place without IRI": func(p map[string]any) { limit(p)["leftOperand"], limit(p)["rightOperand"] = "spatial", "DE" },
	} {
		p := decode(t, paper())
		spoil(p)
		if len(v.policy(p)) == 0 {
			t.Errorf("%s: no fault found", name)
		}
	}
}

func TestWhatIsAgreedIsInThePolicy(t *testing.T) {
	for name, c := range map[string]struct {
		grant string
		want  []string
	}{
		"exclusivity ends":    {"exclusive", []string{`obligation ensureExclusivity by studio`, `dateTime lteq 2026-12-31`, `plt:exclusivity exclusive`}},
		"sole":                {"sole", []string{"prohibition grantUse by studio", "plt:exclusivity sole"}},
		"first rights":        {"first rights", []string{"obligation ensureExclusivity by studio", "event lt urn:x-platarium:odrl:1:firstPublication", "dateTime lteq 2027-03-31"}},
		"published":           {"first rights, published", []string{"dateTime lt 2026-05-02"}},
		"holdback":            {"holdback", []string{"prohibition grantUse by studio", "prohibition use by studio", "plt:holdback all"}},
		"option":              {"option", []string{"obligation plt:offerFirst by studio", "dateTime lteq 2026-09-30"}},
		"assignment":          {"assignment", []string{"permission transfer by parties/reed-press"}},
		"scope":               {"exclusive", []string{"spatial isAnyOf urn:x-platarium:territory:DE urn:x-platarium:territory:AT", "spatial isNoneOf urn:x-platarium:territory:AT-9", "media isNoneOf urn:x-platarium:media:print.book.jacket", "language isAnyOf de", "purpose isAnyOf urn:x-platarium:purpose:commercial", "dateTime gteq 2026-01-15", "dateTime lteq 2027-12-31", "product eq Fishes of the Lake", "count lteq 3000"}},
		"print only in print": {"exclusive", []string{"permission print by parties/reed-press media isAnyOf urn:x-platarium:media:print.book;", "permission display by parties/reed-press media isAnyOf urn:x-platarium:media:digital.ebook;"}},
		"fee owed":            {"exclusive", []string{"obligation compensate by parties/reed-press payAmount eq 450.00", "prohibition derive by parties/reed-press", "obligation inform by parties/reed-press dateTime lteq 2027-06-30"}},
		"fee first":           {"non-exclusive", []string{"duty compensate payAmount eq 450.00", "duty attribute", "permission derive by parties/reed-press"}},
		"term":                {"term event", []string{"elapsedTime lteq P24M", "dateTime lt 2026-11-01"}},
	} {
		text := outline(decode(t, kinds()[c.grant]))
		for _, w := range c.want {
			if !strings.Contains(text, w) {
				t.Errorf("%s: no %q in\n%s", name, w, text)
			}
		}
	}
	public := decode(t, kinds()["public"])
	if text := outline(public); public["@type"] != "Offer" || strings.Contains(text, "media") || strings.Contains(text, "language") || !strings.Contains(text, "urn:x-platarium:territory:WORLD") {
		t.Errorf("a licence to everybody came out as\n%s", text)
	}
}

func TestWhatBindsNobodyIsRefused(t *testing.T) {
	if _, err := Marshal(Grant{Name: "grants/draft"}); !errors.Is(err, ErrNotAgreed) {
		t.Errorf("a draft gave %v; want ErrNotAgreed", err)
	}
	bad := paper()
	bad.To = "31.12.2027"
	if _, err := Marshal(bad); err == nil || !strings.Contains(err.Error(), "31.12.2027") {
		t.Errorf("a day that can't be read gave %v", err)
	}
}

// outline writes rules and constraints as lines.
func outline(p map[string]any) string {
	var b strings.Builder
	value := func(v any) string {
		list, is := v.([]any)
		if !is {
			list = []any{v}
		}
		var words []string
		for _, e := range list {
			if o, is := e.(map[string]any); is {
				for _, k := range []string{"@id", "@value"} {
					if o[k] != nil {
						e = o[k]
					}
				}
			}
			words = append(words, fmt.Sprint(e))
		}
		return strings.Join(words, " ")
	}
	limits := func(r map[string]any) {
		list, _ := r["constraint"].([]any)
		for _, c := range list {
			o := c.(map[string]any)
			fmt.Fprintf(&b, " %v %v %s;", o["leftOperand"], o["operator"], value(o["rightOperand"]))
		}
		b.WriteString("\n")
	}
	for _, kind := range []string{"permission", "prohibition", "obligation"} {
		rules, _ := p[kind].([]any)
		for _, r := range rules {
			rule := r.(map[string]any)
			by := ""
			if one, is := rule["assignee"].(map[string]any); is {
				by = strings.TrimPrefix(one["uid"].(string), "urn:x-platarium:")
			}
			fmt.Fprintf(&b, "%s %v by %s", kind, rule["action"], by)
			limits(rule)
			duties, _ := rule["duty"].([]any)
			for _, d := range duties {
				fmt.Fprintf(&b, "  duty %v", d.(map[string]any)["action"])
				limits(d.(map[string]any))
			}
		}
	}
	for _, k := range slices.Sorted(maps.Keys(p)) {
		if strings.HasPrefix(k, "plt:") {
			fmt.Fprintf(&b, "%s %s\n", k, value(p[k]))
		}
	}
	return b.String()
}

// published reads the terms of ODRL 2.2 by class.
func published(t *testing.T) map[string][]string {
	t.Helper()
	b, err := os.ReadFile("../../../testdata/published/odrl-terms.tsv")
	if err != nil {
		t.Fatal(err)
	}
	terms := map[string][]string{}
	for _, line := range strings.Split(strings.TrimSpace(string(b)), "\n")[1:] {
		cells := strings.Split(line, "\t")
		terms[cells[1]] = append(terms[cells[1]], cells[0])
	}
	return terms
}
