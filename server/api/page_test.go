package api

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"

	pb "platarium/proto/platarium/v1"
)

func revisionsOf(name string) *pb.ListRevisionsRequest { return &pb.ListRevisionsRequest{Name: name} }

// lists are the methods that answer by pages, from the contract: those whose request has a page token.
func lists() []rpc {
	var out []rpc
	for _, m := range contract() {
		if m.desc.Input().Fields().ByName("page_token") != nil {
			out = append(out, m)
		}
	}
	return out
}

// pagesOf gives each list something to page through; a list without it fails the test.
func pagesOf(s stock) map[string]proto.Message {
	return map[string]proto.Message{
		"ListPictures": &pb.ListPicturesRequest{}, "ListSpecimens": &pb.ListSpecimensRequest{}, "ListBriefs": &pb.ListBriefsRequest{}, "ListRevisions": revisionsOf(s.plate), "ListTaxa": &pb.ListTaxaRequest{},
		"ListParties": &pb.ListPartiesRequest{}, "ListGrants": &pb.ListGrantsRequest{Picture: s.plate}, "ListUses": &pb.ListUsesRequest{Picture: s.plate}, "ListKeys": &pb.ListKeysRequest{},
		"SearchPictures": &pb.SearchPicturesRequest{Order: pb.SearchPicturesRequest_ORDER_NAME}, "ListAlarms": &pb.ListAlarmsRequest{}, "ListHistory": &pb.ListHistoryRequest{Party: "parties/licensee"},
	}
}

func setInt(m proto.Message, field string, n int32) {
	m.ProtoReflect().Set(m.ProtoReflect().Descriptor().Fields().ByName(protoreflect.Name(field)), protoreflect.ValueOfInt32(n))
}

func setText(m proto.Message, field, s string) {
	m.ProtoReflect().Set(m.ProtoReflect().Descriptor().Fields().ByName(protoreflect.Name(field)), protoreflect.ValueOfString(s))
}

// items are the entries of a page: the field of messages that is repeated, the first one.
func items(page proto.Message) []proto.Message {
	fields := page.ProtoReflect().Descriptor().Fields()
	for i := range fields.Len() {
		if f := fields.Get(i); f.IsList() && f.Kind() == protoreflect.MessageKind {
			list := page.ProtoReflect().Get(f).List()
			out := make([]proto.Message, list.Len())
			for k := range out {
				out[k] = list.Get(k).Message().Interface()
			}
			return out
		}
	}
	return nil
}

func tokenOf(page proto.Message) string {
	return page.(interface{ GetNextPageToken() string }).GetNextPageToken()
}

// fillPages makes more of everything, so that each list has several pages.
func fillPages(t *testing.T, d *desk, s stock) {
	t.Helper()
	ctx := t.Context()
	for i := range 5 {
		id := fmt.Sprint("extra-", i)
		p := markedPicture(d.file(t, "extra "+id))
		p.Title = fmt.Sprint("extra title ", i)
		must[*pb.Picture](t)(d.archive.CreatePicture(ctx, system, p, id))
		must[*pb.Specimen](t)(d.archive.CreateSpecimen(ctx, system, markedSpecimen(), id))
		must[*pb.Brief](t)(d.archive.CreateBrief(ctx, system, &pb.Brief{Title: id, Identification: &pb.Identification{ScientificName: "Perca fluviatilis"}}, id))
		x := markedTaxon()
		x.ScientificName += strings.Repeat("a", i+1)
		must[*pb.Taxon](t)(d.archive.CreateTaxon(ctx, system, x, id))
		g := markedGrant("licensee", s.plate)
		g.EvidenceDueOn = fmt.Sprintf("2026-05-1%d", i)
		must[*pb.Grant](t)(d.archive.CreateGrant(ctx, system, g, id))
		must[*pb.Use](t)(d.archive.CreateUse(ctx, system, markedUse("licensee", "grants/"+id, s.plate), id))
		must[*pb.Picture](t)(d.archive.UpdatePicture(ctx, system, &pb.Picture{Name: s.plate, Notes: id}, []string{"notes"}))
	}
}

// Pages together are the whole list, of any size; a token fits its own question alone, and its own caller.
func TestPages(t *testing.T) {
	d := newDesk(t)
	s := newStock(t, d)
	fillPages(t, d, s)
	questions := pagesOf(s)
	ctx := d.as(t, "owner-key")
	var others []string // tokens of other lists
	for _, m := range lists() {
		name := short(m.full)
		base := questions[name]
		if base == nil {
			t.Errorf("%s answers by pages, and nothing here pages through it: add a question", name)
			continue
		}
		page := func(req proto.Message) (proto.Message, error) {
			got, err := d.call(ctx, m, req, 1)
			if err != nil {
				return nil, err
			}
			return got[0], nil
		}
		whole := must[proto.Message](t)(page(base))
		want := items(whole)
		if len(want) < 3 || tokenOf(whole) != "" {
			t.Errorf("%s: the whole is %d entries, token %q", name, len(want), tokenOf(whole))
			continue
		}
		var token string
		for _, size := range []int32{1, 2, int32(len(want)), int32(len(want)) + 1} {
			var got []proto.Message
			req := proto.Clone(base)
			setInt(req, "page_size", size)
			for n := 0; ; n++ {
				res := must[proto.Message](t)(page(req))
				got = append(got, items(res)...)
				if tokenOf(res) == "" || n > len(want) {
					break
				}
				if len(items(res)) != int(size) {
					t.Errorf("%s: a page of %d has %d entries and a token", name, size, len(items(res)))
				}
				token = tokenOf(res)
				setText(req, "page_token", token)
			}
			if !slices.EqualFunc(got, want, proto.Equal) {
				t.Errorf("%s: pages of %d together are %d entries; want the %d of the whole", name, size, len(got), len(want))
			}
		}
		refused := func(what string, change func(proto.Message)) {
			t.Helper()
			req := proto.Clone(base)
			setText(req, "page_token", token)
			change(req)
			_, err := page(req)
			if status.Code(err) != codes.InvalidArgument || reason(err) == "" {
				t.Errorf("%s: %s gave %v", name, what, err)
			}
		}
		for _, size := range []int32{-1, 1001, 1_000_000} {
			refused(fmt.Sprint("page size ", size), func(m proto.Message) { setText(m, "page_token", ""); setInt(m, "page_size", size) })
		}
		for _, bad := range []string{"x", "!!!!", token[:len(token)-2], token + "AA", string(token[0]^1) + token[1:], strings.Repeat("A", 40)} {
			refused("the token "+bad, func(m proto.Message) { setText(m, "page_token", bad) })
		}
		for _, other := range others {
			refused("another list's token", func(m proto.Message) { setText(m, "page_token", other) })
		}
		changed := 0
		fields := m.desc.Input().Fields()
		for i := range fields.Len() {
			f := fields.Get(i)
			if f.Kind() != protoreflect.StringKind || f.IsList() || f.Name() == "page_token" {
				continue
			}
			changed++
			refused("a changed "+string(f.Name()), func(m proto.Message) { setText(m, string(f.Name()), changedName(name, string(f.Name()))) })
		}
		if changed == 0 && fields.Len() > 2 && name != "SearchPictures" && name != "ListAlarms" {
			t.Errorf("%s: no field was changed", name)
		}
		if allowed[m.full].has(pb.Role_ROLE_PUBLISHER) {
			req := proto.Clone(base)
			setText(req, "page_token", token)
			_, err := d.call(d.as(t, "licensee-key"), m, req, 1)
			if status.Code(err) != codes.InvalidArgument {
				t.Errorf("%s: the owner's token in a publisher's hand gave %v", name, err)
			}
		}
		others = append(others, token)
	}
}

// changedName is another right value for a field of a list's question.
func changedName(method, field string) string {
	switch {
	case method == "ListRevisions":
		return "pictures/plate-two"
	case field == "text":
		return "extra"
	}
	return map[string]string{"picture": "pictures/plate-two", "derived_from": "pictures/plate-two", "party": "parties/affiliate", "grant": "grants/extra-1", "parent": "taxa/own-perch"}[field]
}

func TestTokens(t *testing.T) {
	if _, err := pageOf(&pb.ListPicturesRequest{PageToken: "AA"}, principal{}); err == nil {
		t.Error("a short token was taken")
	}
	if got := (page{}).next("pictures/x", false); got != "" {
		t.Errorf("the last page has the token %q", got)
	}
}

// Whatever a token is, it is refused, or it is the one that a page of this question gave.
func FuzzPageToken(f *testing.F) {
	asker := principal{role: pb.Role_ROLE_PUBLISHER, party: "parties/reed-press"}
	question := func(token string) *pb.ListGrantsRequest {
		return &pb.ListGrantsRequest{Picture: "pictures/subject", PageToken: token}
	}
	first, err := pageOf(question(""), asker)
	if err != nil {
		f.Fatal(err)
	}
	for _, s := range []string{"", "AA", strings.Repeat("A", 16), first.next("", true), first.next("grants/abcd", true), first.next("grants/abcd", true) + "A", strings.Repeat("_", 100)} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, token string) {
		got, err := pageOf(question(token), asker)
		if err != nil || token == "" {
			return
		}
		if first.next(got.after, true) != strings.NewReplacer("\r", "", "\n", "").Replace(token) { // the decoder passes over line ends
			t.Errorf("%q is taken for the place after %q", token, got.after)
		}
	})
}
