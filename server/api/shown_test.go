package api

import (
	"encoding/json"
	"flag"
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/encoding/prototext"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"

	pb "platarium/proto/platarium/v1"
)

// written are the texts of records that have a form of their own and so can't carry a mark; everything else must carry one in the stock.
var written = map[string]bool{
	"name": true, "etag": true, "licensee": true, "user": true, "grant": true, "specimen": true, "taxon": true, "scientific_name": true, "identified_on": true, "picture": true,
	"formula": true, "canonical": true, "character": true, "element": true, "created": true, "rights_statement": true, "sha256": true, "media_type": true, "color_model": true, "icc_profile": true,
	"compression": true, "collected_on": true, "works": true, "media": true, "territories": true, "languages": true, "purposes": true, "from": true, "to": true, "expanded_territories": true,
	"expanded_media": true, "tables": true, "exclusive_to": true, "reserved_media": true, "signed_on": true, "ended_on": true, "amount": true, "currency": true, "paid_on": true,
	"document_sha256": true, "amends": true, "supersedes": true, "effective_on": true, "subject_to": true, "head": true, "holdback_mode": true, "option_until": true, "public_licence": true,
	"embargo_until": true, "evidence_due_on": true, "first_published_on": true, "first_publication_deadline": true, "selloff_to": true, "happened_on": true, "evidence_received_on": true,
	"evidence_sha256": true, "affiliates": true, "rank": true, "parent": true, "accepted": true, "language": true, "former_names": true, "warnings": true, "collides_with": true, "remarks": true,
	"parsed": true, "email": true, "noted_on": true, "needs_approval_for": true, "party": true, "day": true, "variant": true, "format": true,
	"consented_on": true, "lender": true, "approved_on": true, "covers": true, "raised_on": true, "closed_on": true, "holder": true,
}

// unmarked lists the texts of a record that carry neither a mark nor have a form of their own. Messages that the stock leaves out are looked through as well.
func unmarked(m protoreflect.Message, path string, depth int) []string {
	var out []string
	fields := m.Descriptor().Fields()
	for i := range fields.Len() {
		f := fields.Get(i)
		here := path + "." + string(f.Name())
		switch {
		case f.Kind() == protoreflect.StringKind && !f.IsMap():
			text := ""
			if f.IsList() && m.Get(f).List().Len() > 0 {
				text = m.Get(f).List().Get(0).String()
			} else if !f.IsList() {
				text = m.Get(f).String()
			}
			if !written[string(f.Name())] && !strings.HasPrefix(text, "mark") {
				out = append(out, here)
			}
		case f.Kind() == protoreflect.MessageKind && !strings.HasPrefix(string(f.Message().FullName()), "google.") && depth < 4:
			list := m.Get(f)
			switch {
			case f.IsList() && list.List().Len() > 0:
				last := list.List().Len() - 1
				out = append(out, unmarked(list.List().Get(last).Message(), here, depth+1)...)
			case f.IsList():
				out = append(out, unmarked(list.List().NewElement().Message(), here, depth+1)...)
			default:
				out = append(out, unmarked(list.Message(), here, depth+1)...)
			}
		}
	}
	return out
}

var marks = regexp.MustCompile(`mark[-:][a-z-]+`)

// shown are the marks that a publisher may come to see, by who it is.
func shown() map[string][]string {
	everybody := []string{
		"mark-picture-title", "mark-qualifier", "mark-technique", "mark-structure", "mark-creator", "mark-credit",
		"mark-author", "mark-taxon-source", "mark-protection", "mark-vernacular", "mark-citation", "mark-provenance", "mark-length", "mark-over",
		"mark-holder", // in histories: who holds the rights is what a publisher has to know
	}
	own := []string{"mark-party-name-licensee", "mark-credit-line-licensee", "mark-product-licensee", "mark-anchor-licensee"}
	return map[string][]string{
		"stranger-key": append(slices.Clone(everybody), "mark-party-name-stranger"),
		"licensee-key": slices.Concat(everybody, own, []string{
			"mark-use-title-licensee", "mark:use-identifier-licensee", "mark-edition-licensee", "mark-printed-licensee", "mark-locator-licensee", "mark-party-name-affiliate",
		}),
		"affiliate-key": slices.Concat(everybody, own, []string{
			"mark-credit-line-hidden-one", "mark-product-hidden-one", "mark-anchor-hidden-one", "mark-party-name-hidden-one", "mark-party-name-affiliate",
		}),
	}
}

// Of all that records hold, a publisher gets through all methods together no more than what is listed here, and the words that it may not read find nothing.
func TestNothingElseIsShown(t *testing.T) {
	d := newDesk(t)
	s := newStock(t, d)
	for _, m := range []proto.Message{markedPicture("x"), markedSpecimen(), markedTaxon(), markedGrant("licensee", s.plate), markedUse("licensee", "grants/own-grant", s.plate),
		must[*pb.Party](t)(d.archive.GetParty(t.Context(), "parties/hidden-one"))} {
		if left := unmarked(m.ProtoReflect(), string(m.ProtoReflect().Descriptor().Name()), 0); len(left) > 0 {
			t.Errorf("texts without a mark: %q; mark them in the stock, or add them to those with a form of their own", left)
		}
	}
	d.unlimited()
	ask := outsidersMethods(t, s)
	staffSees := map[string]bool{}
	for _, m := range contract() {
		for _, req := range ask[short(m.full)] {
			for _, mark := range marks.FindAllString(d.outcome(t, "owner-key", m, req), -1) {
				staffSees[mark] = true
			}
		}
	}
	for key, allowed := range shown() {
		seen := map[string]bool{}
		see := func(m rpc, req proto.Message) {
			text := d.outcome(t, key, m, req)
			for _, mark := range marks.FindAllString(text, -1) {
				if !seen[mark] && !slices.Contains(allowed, mark) {
					t.Errorf("%s sees %s by %s of %v:\n%s", key, mark, short(m.full), req, text)
				}
				seen[mark] = true
			}
			if money := strings.Contains(text, fee); money && key != "licensee-key" {
				t.Errorf("%s sees the fee by %s of %v", key, short(m.full), req)
			}
			asked := prototext.Format(req) // what was asked for may be said again
			for _, secret := range []string{"pictures/hidden", "specimens/", "uses/hidden", "secret-one", "2026-01-20", "2025-01-0", "bytes of p", "bytes of the study"} {
				isTheirs := secret == "2026-01-20" && key == "licensee-key" || secret == "secret-one" && key == "affiliate-key" || short(m.full) == "Download"
				if strings.Contains(text, secret) && !strings.Contains(asked, secret) && !isTheirs {
					t.Errorf("%s sees %q by %s of %v:\n%s", key, secret, short(m.full), req, text)
				}
			}
		}
		for _, m := range contract() {
			for _, req := range ask[short(m.full)] {
				see(m, req)
			}
		}
		for _, mark := range allowed {
			if !seen[mark] {
				t.Errorf("%s never sees %s, which the list allows: the list is out of date, or a question is missing", key, mark)
			}
		}
	}
	probe(t, d, "stranger-key", shown()["stranger-key"], staffSees)
	if !staffSees["mark-picture-notes"] || !staffSees["mark-job"] || !staffSees["mark-grant-notes"] || len(staffSees) < 45 {
		t.Errorf("the studio itself sees only %d marks: %q", len(staffSees), slices.Sorted(maps.Keys(staffSees)))
	}
}

// probe searches for every mark, by words and by each filter: what may not be read must find nothing, nor order anything.
func probe(t *testing.T, d *desk, key string, allowed []string, all map[string]bool) {
	t.Helper()
	found := map[string]bool{}
	for mark := range all {
		f := func(f *pb.PictureFilter) *pb.SearchPicturesRequest { return &pb.SearchPicturesRequest{Filter: f} }
		for how, req := range map[string]*pb.SearchPicturesRequest{
			"words": {Text: mark}, "quoted": {Text: `"` + mark + `"`}, "begun": {Text: mark[:len(mark)-1]}, "technique": f(&pb.PictureFilter{Techniques: []string{mark}}),
			"creator": f(&pb.PictureFilter{Creators: []string{mark}}), "job": f(&pb.PictureFilter{Jobs: []string{mark}}), "structure": f(&pb.PictureFilter{Structures: []string{mark}}),
			"rights": f(&pb.PictureFilter{Rights: []string{mark}}), "specimen": f(&pb.PictureFilter{Specimen: mark}),
		} {
			res, err := d.search().SearchPictures(d.as(t, key), req)
			if err != nil {
				continue
			}
			if res.GetTotal() == 0 {
				continue
			}
			found[how] = true
			if readable := slices.ContainsFunc(allowed, func(a string) bool { return strings.HasPrefix(a, mark[:len(mark)-1]) || strings.HasPrefix(mark, a) }); !readable {
				t.Errorf("%s finds %d pictures by %s of %s, which it may not read", key, res.GetTotal(), how, mark)
			}
		}
	}
	if !found["words"] || !found["technique"] || !found["creator"] || !found["structure"] {
		t.Errorf("probing found only by %v: it proves nothing", found)
	}
}

// Publishers' searches count and page plates alone.
func TestOutsidersSearchPlatesAlone(t *testing.T) {
	d := newDesk(t)
	newStock(t, d)
	for _, kinds := range [][]pb.Kind{nil, {pb.Kind_KIND_PLATE}, {pb.Kind_KIND_STUDY, pb.Kind_KIND_PLATE}} {
		req := &pb.SearchPicturesRequest{Facets: []string{"kind", "family"}, PageSize: 1, Filter: &pb.PictureFilter{Kinds: kinds}}
		var names []string
		for {
			res := must[*pb.SearchPicturesResponse](t)(d.search().SearchPictures(d.as(t, "stranger-key"), req))
			if res.GetTotal() != 2 || len(res.GetHits()) != 1 {
				t.Fatalf("%d hits of %d; want 1 of 2", len(res.GetHits()), res.GetTotal())
			}
			for _, f := range res.GetFacets() {
				if len(f.GetValues()) != 1 || f.GetValues()[0].GetCount() != 2 {
					t.Errorf("facet %v", f)
				}
			}
			names = append(names, res.GetHits()[0].GetPicture().GetName())
			if res.GetNextPageToken() == "" {
				break
			}
			req.PageToken = res.GetNextPageToken()
		}
		if slices.Sort(names); !slices.Equal(names, []string{"pictures/plate-one", "pictures/plate-two"}) {
			t.Errorf("found %q", names)
		}
	}
	_, err := d.search().SearchPictures(d.as(t, "stranger-key"), &pb.SearchPicturesRequest{Filter: &pb.PictureFilter{Kinds: []pb.Kind{pb.Kind_KIND_STUDY}}})
	wantField(t, err, "filter.kinds")
	_, err = d.search().SearchPictures(d.as(t, "stranger-key"), &pb.SearchPicturesRequest{Filter: &pb.PictureFilter{Specimen: "specimens/hidden-one"}})
	wantField(t, err, "filter.specimen")
}

var update = flag.Bool("update", false, "write the golden files anew")

// golden compares answers with what was agreed that each role gets.
func TestGoldenAnswers(t *testing.T) {
	d := newDesk(t)
	s := newStock(t, d)
	volatile := regexp.MustCompile(`"(head|archiveId)": "[0-9a-f]+"`)
	for _, key := range []string{"owner-key", "licensee-key", "affiliate-key", "stranger-key"} {
		answers := map[string]any{}
		for _, m := range contract() {
			for i, req := range questions(s)[short(m.full)] {
				if i > 0 || slices.Contains([]string{"ListTaxa", "ExportGrant", "GetStatement"}, short(m.full)) { // documents have goldens of their own
					continue
				}
				got, err := d.call(d.as(t, key), m, req, 10)
				list := []any{}
				for _, g := range got {
					var v any
					if err := json.Unmarshal(must[[]byte](t)(protojson.Marshal(g)), &v); err != nil {
						t.Fatal(err)
					}
					list = append(list, v)
				}
				if err != nil {
					list = append(list, err.Error())
				}
				answers[short(m.full)] = list
			}
		}
		text := must[[]byte](t)(json.MarshalIndent(answers, "", " "))
		text = append(volatile.ReplaceAll(text, []byte(`"$1": "…"`)), '\n')
		path := filepath.Join("testdata", "answers", strings.TrimSuffix(key, "-key")+".json")
		if *update {
			if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(path, text, 0o644); err != nil {
				t.Fatal(err)
			}
			continue
		}
		want := must[[]byte](t)(os.ReadFile(path))
		if string(want) != string(text) {
			t.Errorf("answers to %s differ from %s; see the difference by go test -run TestGoldenAnswers -update and git diff", key, path)
		}
	}
}
