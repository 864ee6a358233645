package odrl

import (
	"fmt"
	"net/url"
	"os"
	"slices"
	"strings"
	"testing"
)

// validator holds a policy against the ODRL Information Model 2.2 (W3C Recommendation, 15 February 2018), sections 2.1 to 2.7: what each class must have,
// with which values; and against the profile, whose terms must stand in the package comment.
type validator struct {
	terms   map[string][]string
	comment string
}

func newValidator(t *testing.T) *validator {
	t.Helper()
	src, err := os.ReadFile("odrl.go")
	if err != nil {
		t.Fatal(err)
	}
	comment, _, _ := strings.Cut(string(src), "\npackage odrl")
	return &validator{terms: published(t), comment: comment}
}

// faults gathers what is wrong.
type faults struct {
	*validator
	list []string
}

func (f *faults) need(ok bool, format string, args ...any) {
	if !ok {
		f.list = append(f.list, fmt.Sprintf(format, args...))
	}
}

func (f *faults) known(class string, v any) bool {
	s, _ := v.(string)
	if term, own := strings.CutPrefix(s, "plt:"); own {
		return f.described(term)
	}
	return slices.Contains(f.terms[class], s)
}

// described says whether a profile term stands in the package comment, as a word.
func (f *faults) described(term string) bool {
	return slices.Contains(strings.FieldsFunc(f.comment, func(r rune) bool { return strings.ContainsRune(" ,.;:\n/", r) }), term)
}

func (f *faults) keys(where string, o map[string]any, allowed ...string) {
	for k := range o {
		term, own := strings.CutPrefix(k, "plt:")
		f.need(own && f.described(term) || slices.Contains(allowed, k), "%s has %q", where, k)
	}
}

func iri(v any) bool {
	s, _ := v.(string)
	u, err := url.Parse(s)
	return err == nil && u.IsAbs()
}

func (v *validator) policy(p map[string]any) []string {
	f := &faults{validator: v}
	f.keys("policy", p, "@context", "@type", "uid", "profile", "permission", "prohibition", "obligation")
	context, _ := p["@context"].([]any)
	f.need(len(context) == 2 && context[0] == "http://www.w3.org/ns/odrl.jsonld", "context is %v", p["@context"])
	f.need(f.known("policy", p["@type"]), "type is %v", p["@type"])
	f.need(iri(p["uid"]), "uid is %v", p["uid"])
	f.need(iri(p["profile"]), "profile is %v", p["profile"])
	rules := 0
	for _, kind := range []string{"permission", "prohibition", "obligation"} {
		list, _ := p[kind].([]any)
		for i, r := range list {
			rules++
			rule, _ := r.(map[string]any)
			f.rule(fmt.Sprintf("%s %d", kind, i), rule, p["@type"] == "Agreement")
			f.need(kind == "permission" || rule["duty"] == nil, "%s has a duty", kind)
		}
	}
	f.need(rules > 0, "no rule")
	return f.list
}

func (f *faults) rule(where string, r map[string]any, agreement bool) {
	f.keys(where, r, append(slices.Clone(f.terms["party function"]), "action", "target", "constraint", "duty")...)
	f.need(f.known("action", r["action"]), "%s: action %v", where, r["action"])
	targets, many := r["target"].([]any)
	if !many {
		targets = []any{r["target"]}
	}
	for _, target := range targets {
		if o, is := target.(map[string]any); is {
			f.need(o["@type"] == "AssetCollection", "%s: target of type %v", where, o["@type"])
			target = o["uid"]
		}
		f.need(iri(target), "%s: target %v", where, target)
	}
	f.need(len(targets) > 0, "%s: no target", where)
	f.parties(where+" assigner", r["assigner"], true)
	f.parties(where+" assignee", r["assignee"], agreement)
	f.constraints(where, r)
	duties, _ := r["duty"].([]any)
	for i, d := range duties {
		duty, _ := d.(map[string]any)
		at := fmt.Sprintf("%s duty %d", where, i)
		f.keys(at, duty, "action", "constraint")
		f.need(f.known("action", duty["action"]), "%s: action %v", at, duty["action"])
		f.constraints(at, duty)
	}
}

func (f *faults) parties(where string, v any, required bool) {
	list, many := v.([]any)
	if !many && v != nil {
		list = []any{v}
	}
	f.need(len(list) > 0 || !required, "%s is missing", where)
	for _, e := range list {
		o, _ := e.(map[string]any)
		f.need(o["@type"] == "Party" && iri(o["uid"]), "%s is %v", where, e)
	}
}

func (f *faults) constraints(where string, r map[string]any) {
	list, _ := r["constraint"].([]any)
	f.need(r["constraint"] == nil || len(list) > 0, "%s: no constraint in the list", where)
	for _, e := range list {
		c, _ := e.(map[string]any)
		f.keys(where+" constraint", c, "leftOperand", "operator", "rightOperand", "unit")
		f.need(f.known("left operand", c["leftOperand"]), "%s: operand %v", where, c["leftOperand"])
		f.need(f.known("operator", c["operator"]), "%s: operator %v", where, c["operator"])
		values, many := c["rightOperand"].([]any)
		if !many && c["rightOperand"] != nil {
			values = []any{c["rightOperand"]}
		}
		operator, _ := c["operator"].(string)
		f.need(len(values) > 0, "%s: no right operand", where)
		f.need(!many || slices.Contains([]string{"isAnyOf", "isAllOf", "isNoneOf"}, operator), "%s: %v of a list", where, operator)
		for _, value := range values {
			o, _ := value.(map[string]any)
			switch c["leftOperand"] {
			case "dateTime": // Vocabulary 2.2: xsd:date or xsd:dateTime
				f.need(o["@type"] == "http://www.w3.org/2001/XMLSchema#date", "%s: day %v", where, value)
			case "spatial", "purpose", "media", "event":
				f.need(iri(o["@id"]), "%s: %v %v isn't an IRI", where, c["leftOperand"], value)
			}
		}
		if c["leftOperand"] == "payAmount" || c["leftOperand"] == "count" {
			unit, _ := c["unit"].(map[string]any)
			f.need(iri(unit["@id"]), "%s: %v without a unit", where, c["leftOperand"])
		}
	}
}
