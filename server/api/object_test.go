package api

import (
	"errors"
	"fmt"
	"io"
	"regexp"
	"strings"
	"testing"

	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/encoding/prototext"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"

	pb "platarium/proto/platarium/v1"
)

// questions are right requests of every method that a publisher may call: what TestHiddenIsAbsent varies, and what TestNothingElseIsShown gathers answers of.
func questions(s stock) map[string][]proto.Message {
	span := &pb.Scope{Media: []string{"print.book"}, Territories: []string{"DE"}, Languages: []string{"de"}, From: "2026-06-01", To: "2027-05-31"}
	everywhere := &pb.Scope{Media: []string{"print"}, Territories: []string{"WORLD"}, Languages: []string{"*"}}
	asked := func(sc *pb.Scope, works ...string) *pb.Scope {
		sc = proto.Clone(sc).(*pb.Scope)
		sc.Works = works
		return sc
	}
	facets := []string{"family", "genus", "kind", "view", "stage", "technique", "creator", "year", "structure", "rights"}
	return map[string][]proto.Message{
		"GetPicture":   {&pb.GetPictureRequest{Name: s.plate}, &pb.GetPictureRequest{Name: s.secretPlate}, &pb.GetPictureRequest{Name: s.study}},
		"ListPictures": {&pb.ListPicturesRequest{}, &pb.ListPicturesRequest{PageSize: 1}, &pb.ListPicturesRequest{DerivedFrom: s.plate}, &pb.ListPicturesRequest{DerivedFrom: s.study}},
		"GetTaxon":     {&pb.GetTaxonRequest{Name: "taxa/own-perch"}},
		"ListTaxa":     {&pb.ListTaxaRequest{}, &pb.ListTaxaRequest{Parent: "taxa/own-perch"}},
		"MatchNames":   {&pb.MatchNamesRequest{Names: []string{"Perca markeria", "mark-vernacular"}}},
		"GetLineage":   {&pb.GetLineageRequest{Name: "taxa/own-perch"}},
		"ParseCounts":  {&pb.ParseCountsRequest{Formulae: []string{"D XIV"}}},
		"CheckCounts":  {&pb.CheckCountsRequest{Taxon: "taxa/own-perch", Formula: "D XX"}},
		"SearchPictures": {
			&pb.SearchPicturesRequest{Facets: facets, PageSize: 1}, &pb.SearchPicturesRequest{Facets: facets, Order: pb.SearchPicturesRequest_ORDER_NAME},
			&pb.SearchPicturesRequest{Wanted: &pb.Wanted{Near: "Perca fluviatilis", Counts: "D XIV", Structures: []string{"mark-structure"}, View: pb.View_VIEW_LEFT_LATERAL}, Facets: facets},
			&pb.SearchPicturesRequest{Filter: &pb.PictureFilter{Kinds: []pb.Kind{pb.Kind_KIND_STUDY, pb.Kind_KIND_PLATE, pb.Kind_KIND_REFERENCE}}, Facets: facets},
			&pb.SearchPicturesRequest{Filter: &pb.PictureFilter{Kinds: []pb.Kind{pb.Kind_KIND_STUDY}}, Facets: facets},
		},
		"GetGrant":            {&pb.GetGrantRequest{Name: "grants/own-grant"}, &pb.GetGrantRequest{Name: "grants/hidden-one"}, &pb.GetGrantRequest{Name: "grants/secret-one"}},
		"ExportGrant":         {&pb.ExportGrantRequest{Name: "grants/own-grant"}, &pb.ExportGrantRequest{Name: "grants/secret-one"}},
		"ListGrants":          {&pb.ListGrantsRequest{}, &pb.ListGrantsRequest{Picture: s.secretPlate}, &pb.ListGrantsRequest{Party: "parties/hidden-one"}},
		"GetUse":              {&pb.GetUseRequest{Name: "uses/own-use"}, &pb.GetUseRequest{Name: "uses/hidden-one"}},
		"ListUses":            {&pb.ListUsesRequest{}, &pb.ListUsesRequest{Picture: s.plate}, &pb.ListUsesRequest{Grant: "grants/hidden-one"}},
		"GetHistory":          {&pb.GetHistoryRequest{Picture: s.plate}, &pb.GetHistoryRequest{Picture: s.secretPlate}},
		"ListHistory":         {&pb.ListHistoryRequest{}, &pb.ListHistoryRequest{Party: "parties/licensee"}, &pb.ListHistoryRequest{Party: "parties/hidden-one"}},
		"GetStatement":        {&pb.GetStatementRequest{Picture: s.plate}, &pb.GetStatementRequest{Picture: s.secretPlate}, &pb.GetStatementRequest{Picture: s.plate, Sequence: 1}, &pb.GetStatementRequest{Grant: "grants/own-grant"}, &pb.GetStatementRequest{Grant: "grants/hidden-one"}, &pb.GetStatementRequest{Party: "parties/licensee"}, &pb.GetStatementRequest{Party: "parties/affiliate"}, &pb.GetStatementRequest{Party: "parties/hidden-one"}},
		"CheckHead":           {&pb.CheckHeadRequest{Sequence: 1, Head: strings.Repeat("0", 64)}},
		"CheckAvailability":   {&pb.CheckAvailabilityRequest{Scope: asked(span, s.plate)}, &pb.CheckAvailabilityRequest{Scope: asked(everywhere, s.plate), Exclusivity: pb.Exclusivity_EXCLUSIVITY_EXCLUSIVE}, &pb.CheckAvailabilityRequest{Scope: asked(everywhere, s.secretPlate)}},
		"CheckAvailabilities": {&pb.CheckAvailabilitiesRequest{Scope: span, Works: []string{s.plate, s.secretPlate, s.study}}},
		"Download":            {&pb.DownloadRequest{Picture: s.plate, Variant: "preview-320"}, &pb.DownloadRequest{Picture: s.plate, Variant: "original"}, &pb.DownloadRequest{Picture: s.plate, Variant: "none"}},
		"Deliver":             {&pb.DeliverRequest{Picture: s.plate, Grant: "grants/own-grant", Variant: "preview-320"}, &pb.DeliverRequest{Picture: s.plate, Grant: "grants/hidden-one"}, &pb.DeliverRequest{Picture: s.secretPlate, Grant: "grants/own-grant"}},
		"GetDerived":          {&pb.GetDerivedRequest{Picture: s.plate}, &pb.GetDerivedRequest{Picture: s.study}},
		"GetStatus":           {&pb.GetStatusRequest{}},
	}
}

func short(full string) string { return full[strings.LastIndexByte(full, '/')+1:] }

// outsidersMethods are those that a publisher may call. A method without a question fails the test: it has to be thought about what it shows.
func outsidersMethods(t *testing.T, s stock) map[string][]proto.Message {
	t.Helper()
	all := questions(s)
	for _, m := range contract() {
		if allowed[m.full].has(pb.Role_ROLE_PUBLISHER) && len(all[short(m.full)]) == 0 {
			t.Errorf("publishers may call %s, and nothing here asks it: add a question", m.full)
		}
	}
	return all
}

// outcome is all that a caller learns from a call, as text.
func (d *desk) outcome(t *testing.T, key string, m rpc, req proto.Message) string {
	t.Helper()
	var b strings.Builder
	answers, err := d.call(d.as(t, key), m, req, 100)
	for _, a := range answers {
		b.WriteString(prototext.MarshalOptions{Multiline: true}.Format(a))
		if e, ok := a.(interface{ GetContent() []byte }); ok {
			b.Write(e.GetContent())
		}
	}
	if err != nil && !errors.Is(err, io.EOF) {
		st := status.Convert(err).Proto()
		fmt.Fprintf(&b, "%d %s\n", st.GetCode(), st.GetMessage())
		for _, d := range status.Convert(err).Details() {
			if m, ok := d.(proto.Message); ok {
				b.WriteString(prototext.Format(m))
			}
		}
	}
	text := strings.ReplaceAll(b.String(), ":  ", ": ") // the formatter varies its spaces on purpose
	return pageTokens.ReplaceAllString(text, "$1")      // a token is a checksum of the question
}

var pageTokens = regexp.MustCompile(`(next_page_token: )"[^"]+"`)

// texts calls set for every text of a message, nested ones included, with a copy in which only that text is changed.
func texts(base proto.Message, path string, values []string, visit func(path, value string, m proto.Message)) {
	var walk func(root proto.Message, at func(proto.Message) protoreflect.Message, path string, depth int)
	walk = func(root proto.Message, at func(proto.Message) protoreflect.Message, path string, depth int) {
		fields := at(root).Descriptor().Fields()
		for i := range fields.Len() {
			f := fields.Get(i)
			here := path + "." + string(f.Name())
			switch {
			case f.IsMap() || depth > 3:
			case f.Kind() == protoreflect.StringKind:
				for _, v := range values {
					m := proto.Clone(root)
					if f.IsList() {
						list := at(m).NewField(f).List()
						list.Append(protoreflect.ValueOfString(v))
						at(m).Set(f, protoreflect.ValueOfList(list))
					} else {
						at(m).Set(f, protoreflect.ValueOfString(v))
					}
					visit(here, v, m)
				}
			case f.Kind() == protoreflect.MessageKind && !f.IsList():
				walk(root, func(m proto.Message) protoreflect.Message { return at(m).Mutable(f).Message() }, here, depth+1)
			}
		}
	}
	walk(base, func(m proto.Message) protoreflect.Message { return m.ProtoReflect() }, path, 0)
}

// To a publisher, what it may not see is as if it weren't there: every method that it may call, asked with the name of a hidden thing in any of its fields, answers
// as it does for a name that nothing has: the same code, words and details.
func TestHiddenIsAbsent(t *testing.T) {
	d := newDesk(t)
	s := newStock(t, d)
	d.key(t, "hidden-one", &pb.Key{Role: pb.Role_ROLE_ASSISTANT})
	d.unlimited()
	ask := outsidersMethods(t, s)
	renamed := strings.NewReplacer("hidden-one", "absent-one", "HIDDEN", "ABSENT") // some messages repeat a word in capitals
	compared := 0
	for _, m := range contract() {
		if !allowed[m.full].has(pb.Role_ROLE_PUBLISHER) {
			continue
		}
		for _, base := range ask[short(m.full)][:1] {
			for _, collection := range []string{"pictures", "specimens", "parties", "grants", "uses", "keys"} {
				hidden, absent := collection+"/hidden-one", collection+"/absent-one"
				answers := map[string]string{}
				texts(base, short(m.full), []string{hidden, absent}, func(path, value string, req proto.Message) {
					answers[path+" "+value] = renamed.Replace(d.outcome(t, "licensee-key", m, req))
				})
				for k, got := range answers {
					path, ok := strings.CutSuffix(k, " "+hidden)
					if !ok {
						continue
					}
					compared++
					if want := answers[path+" "+absent]; got != want {
						t.Errorf("%s of %v:\n%s is answered\n%s\n%s is answered\n%s", path, base, hidden, got, absent, want)
					}
				}
			}
		}
	}
	if compared < 200 {
		t.Errorf("compared only %d answers", compared)
	}
	// The things are really there, for those who may see them.
	for _, name := range []string{"pictures/hidden-one", "specimens/hidden-one", "parties/hidden-one", "grants/hidden-one", "uses/hidden-one", "keys/hidden-one"} {
		if _, err := d.records().ListRevisions(d.as(t, "owner-key"), &pb.ListRevisionsRequest{Name: name}); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
	_, err := d.records().ListRevisions(d.as(t, "desk-key"), &pb.ListRevisionsRequest{Name: "keys/hidden-one"})
	_, absent := d.records().ListRevisions(d.as(t, "desk-key"), &pb.ListRevisionsRequest{Name: "keys/absent-one"})
	if strings.ReplaceAll(err.Error(), "hidden", "absent") != absent.Error() {
		t.Errorf("an assistant asking for a key's past gets %v; for none %v", err, absent)
	}
}
