package odrl

import (
	"encoding/json"
	"fmt"
	"maps"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/piprate/json-gold/ld"
)

// Namespaces of what a policy may be made of.
const (
	odrlSpace = "http://www.w3.org/ns/odrl/2/"
	xsdSpace  = "http://www.w3.org/2001/XMLSchema#"
)

// shelf gives the published context from a stored copy, and nothing else: no test asks the network.
type shelf struct {
	context any
}

func (s shelf) LoadDocument(u string) (*ld.RemoteDocument, error) {
	if u != Context {
		return nil, fmt.Errorf("%s isn't at hand", u)
	}
	return &ld.RemoteDocument{DocumentURL: u, Document: s.context}, nil
}

// expanded is a policy as a JSON-LD processor that knows nothing of this program reads it.
func expanded(t *testing.T, policy map[string]any) map[string]any {
	t.Helper()
	raw, err := os.ReadFile(filepath.Join("..", "..", "..", "testdata", "published", "odrl-context.jsonld"))
	if err != nil {
		t.Fatal(err)
	}
	var context any
	if err := json.Unmarshal(raw, &context); err != nil {
		t.Fatal(err)
	}
	options := ld.NewJsonLdOptions("")
	options.DocumentLoader = shelf{context}
	out, err := ld.NewJsonLdProcessor().Expand(policy, options)
	if err != nil {
		t.Fatal(err)
	}
	if len(out) != 1 {
		t.Fatalf("read as %d nodes; want one policy", len(out))
	}
	node, _ := out[0].(map[string]any)
	return node
}

// walk visits every object of a document.
func walk(v any, visit func(map[string]any)) {
	switch v := v.(type) {
	case map[string]any:
		visit(v)
		for _, key := range slices.Sorted(maps.Keys(v)) {
			if key != "@context" {
				walk(v[key], visit)
			}
		}
	case []any:
		for _, e := range v {
			walk(e, visit)
		}
	}
}

// meant is the IRI that a key or word of ours stands for.
func meant(word string) string {
	if term, own := strings.CutPrefix(word, "plt:"); own {
		return Profile + ":" + term
	}
	return odrlSpace + strings.TrimPrefix(word, "odrl:")
}

// TestEveryTermExpandsToItsIRI: a processor finds every property and word that was written, and nothing that stands for no term of ODRL or of the profile.
func TestEveryTermExpandsToItsIRI(t *testing.T) {
	v := newValidator(t)
	for name, g := range kinds() {
		for _, fault := range v.expansion(t, decode(t, g)) {
			t.Errorf("%s: %s", name, fault)
		}
	}
}

// expansion says what a policy loses or gains when it is expanded.
func (v *validator) expansion(t *testing.T, p map[string]any) []string {
	t.Helper()
	f := &faults{validator: v}
	written, read := map[string]int{}, map[string]int{}
	walk(p, func(o map[string]any) {
		for key, value := range o {
			switch {
			case strings.HasPrefix(key, "@") || key == "uid":
			case key == "action" || key == "leftOperand" || key == "operator":
				written[fmt.Sprintf("%s = %s", meant(key), meant(value.(string)))]++
			default:
				written[meant(key)]++
			}
		}
	})
	walk(expanded(t, p), func(o map[string]any) {
		for key, value := range o {
			switch short := strings.TrimPrefix(key, odrlSpace); {
			case key == "@type":
				f.types(value)
			case key == "@id":
				u, err := url.Parse(fmt.Sprint(value))
				f.need(err == nil && u.IsAbs(), "%v is no IRI", value)
			case strings.HasPrefix(key, "@"):
			case short == "action" || short == "leftOperand" || short == "operator":
				for _, id := range value.([]any) {
					iri, _ := id.(map[string]any)["@id"].(string)
					f.need(v.term(iri), "%s is %q, which is no term", short, iri)
					read[fmt.Sprintf("%s = %s", key, iri)]++
				}
			default:
				f.need(short != key || v.term(key), "%q is no property of ODRL or the profile", key)
				read[key]++
			}
		}
	})
	for _, key := range slices.Sorted(maps.Keys(written)) {
		f.need(read[key] == written[key], "%s was written %d times and read %d times", key, written[key], read[key])
	}
	f.need(len(read) == len(written), "%d terms were written and %d read", len(written), len(read))
	return f.list
}

// types verifies classes and datatypes.
func (f *faults) types(value any) {
	list, isList := value.([]any)
	if !isList {
		list = []any{value}
	}
	for _, t := range list {
		iri, _ := t.(string)
		word, odrls := strings.CutPrefix(iri, odrlSpace)
		class := odrls && (slices.Contains(f.terms["policy"], word) || slices.Contains([]string{"Party", "AssetCollection", "PartyCollection"}, word))
		f.need(class || strings.HasPrefix(iri, xsdSpace), "type %q is no class of ODRL and no datatype", iri)
	}
}

// term says whether an IRI is a published term of ODRL, or one that the profile describes.
func (v *validator) term(iri string) bool {
	if own, is := strings.CutPrefix(iri, Profile+":"); is {
		return (&faults{validator: v}).described(own)
	}
	word, is := strings.CutPrefix(iri, odrlSpace)
	return is && slices.ContainsFunc(slices.Collect(maps.Values(v.terms)), func(list []string) bool { return slices.Contains(list, word) })
}

// TestExpansionFindsFaults spoils a good policy in ways that only a processor notices.
func TestExpansionFindsFaults(t *testing.T) {
	v := newValidator(t)
	for name, spoil := range map[string]func(map[string]any){
		"a key without a term":    func(p map[string]any) { p["mood"] = "good" },
		"a word without a term":   func(p map[string]any) { p["permission"].([]any)[0].(map[string]any)["action"] = "photocopy" },
		"a profile without a key": func(p map[string]any) { p["@context"] = Context },
		"another class":           func(p map[string]any) { p["@type"] = "Contract" },
		"a slip of the context": func(p map[string]any) {
			p["permission"].([]any)[0].(map[string]any)["constraint"].([]any)[0].(map[string]any)["operator"] = "neq"
		},
		"a relative name": func(p map[string]any) { p["uid"] = "grants/x" },
	} {
		p := decode(t, paper())
		spoil(p)
		if len(v.expansion(t, p)) == 0 {
			t.Errorf("%s isn't noticed", name)
		}
	}
}
