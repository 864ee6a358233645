package server

import (
	"bytes"
	"slices"
	"strings"
	"testing"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/types/known/fieldmaskpb"

	"platarium/client"
	pb "platarium/proto/platarium/v1"
	"platarium/server/rights/statement"
)

// partyStated is the statement of a party, read.
func partyStated(t *testing.T, c *client.Client, req *pb.GetStatementRequest) (b []byte, content map[string]any) {
	t.Helper()
	st := ok[*pb.Statement](t)(c.Licensing.GetStatement(t.Context(), req))
	mark, content, err := statement.Check(st.GetContent())
	if err != nil || mark.Subject() != req.GetParty() || mark.Sequence != st.GetSequence() || mark.Head != st.GetHead() {
		t.Errorf("%v: %+v, %v", req, mark, err)
	}
	return st.GetContent(), content
}

// listed are the objects of a list in a statement.
func listed(content map[string]any, key string) (out []map[string]any) {
	list, _ := content[key].([]any)
	for _, i := range list {
		out = append(out, i.(map[string]any))
	}
	return out
}

// TestAPartyIsStatedInFull: to staff all, to the house itself what ListHistory tells it, each grant in full and once, and of a fee only its own.
func TestAPartyIsStatedInFull(t *testing.T) {
	r := desk(t)
	reed, moor := r.party(t, "reed-press"), r.party(t, "moor-books")
	plate := r.picture(t, "plate-one", func(p *pb.Picture) { p.View = pb.View_VIEW_LEFT_LATERAL })
	study := r.picture(t, "study", func(p *pb.Picture) { p.Kind = pb.Kind_KIND_STUDY })
	pair := exclusively(agreement("pair", reed, plate, study+"#head"))
	pair.Grant.Fee, pair.Grant.EvidenceDueOn, pair.Grant.ReservedMedia = &pb.Money{Amount: "450.00", Currency: "EUR"}, "2026-08-01", []string{"print.book.jacket"}
	pair.Grant.Notes = "between us"
	r.grant(t, pair)
	shared := agreement("shared", moor, plate)
	shared.Grant.Scope.Territories, shared.Grant.Affiliates, shared.Grant.Fee = []string{"JP"}, []string{reed}, &pb.Money{Amount: "9.00", Currency: "EUR"}
	r.grant(t, shared)
	draft := agreement("draft", reed, plate)
	draft.Grant.Status, draft.Grant.SignedOn, draft.Grant.Scope.Territories = pb.GrantStatus_GRANT_STATUS_DRAFT, "", []string{"US"}
	r.grant(t, draft)
	others := agreement("others", moor, plate)
	others.Grant.Scope.Territories = []string{"KR"}
	r.grant(t, others)
	r.use(t, printing("book", reed, "grants/pair", 500, plate, study+"#head"))
	r.use(t, printing("theirs", moor, "grants/others", 500, plate))

	for who, c := range map[string]*client.Client{"studio": r.owner, "house": r.as(t, pb.Role_ROLE_PUBLISHER, reed)} {
		b, content := partyStated(t, c, &pb.GetStatementRequest{Party: reed})
		var lines []string
		for _, e := range listed(content, "entries") {
			name, _ := e["entry"].(map[string]any)["name"].(string)
			lines = append(lines, strings.TrimPrefix(e["picture"].(string), "pictures/")+" "+name)
		}
		if want := dealings(t, c, reed, 0); !slices.Equal(lines, want) {
			t.Errorf("%s: the entries are %q; ListHistory has %q", who, lines, want)
		}
		var grants []string
		for _, g := range listed(content, "grants") {
			grants = append(grants, g["grant"].(string))
		}
		want := []string{"grants/draft", "grants/pair", "grants/shared"}
		if who == "house" {
			want = want[1:]
		}
		if !slices.Equal(grants, want) {
			t.Errorf("%s: told in full are %q; want %q", who, grants, want)
		}
		for text, want := range map[string]bool{
			`"fee":"450.00"`: true, `"fee":"9.00"`: who == "studio", `"reserved_media":["print.book.jacket"]`: true, `"works":["pictures/plate-one","pictures/study#head"]`: true,
			`"title":"Plate study"`: who == "studio", "between us": false, "grants/others": false, "uses/theirs": false, `"evidence":"due 2026-08-01"`: true, `"party_name":`: true,
			`"verdict":"licensed"`: true, `"affiliates":[`: true,
		} {
			if got := bytes.Contains(b, []byte(text)); got != want {
				t.Errorf("%s: %s is there: %v; want %v in %s", who, text, got, want, b)
			}
		}
	}
}

// TestAHouseIsStatedToItselfAlone: another house answers as one that isn't there.
func TestAHouseIsStatedToItselfAlone(t *testing.T) {
	r := desk(t)
	plate, reed, moor := r.picture(t, "perch-plate", nil), r.party(t, "reed-press"), r.party(t, "moor-books")
	press := r.as(t, pb.Role_ROLE_PUBLISHER, reed)
	_, foreign := press.Licensing.GetStatement(t.Context(), &pb.GetStatementRequest{Party: moor})
	_, absent := press.Licensing.GetStatement(t.Context(), &pb.GetStatementRequest{Party: "parties/nobody"})
	if status.Code(foreign) != codes.NotFound || strings.ReplaceAll(foreign.Error(), moor, "") != strings.ReplaceAll(absent.Error(), "parties/nobody", "") {
		t.Errorf("another house gives %v, none gives %v; want the same NOT_FOUND", foreign, absent)
	}
	_, err := r.owner.Licensing.GetStatement(t.Context(), &pb.GetStatementRequest{Party: "parties/nobody"})
	wantReason(t, err, "NOT_FOUND")
	for _, req := range []*pb.GetStatementRequest{
		{}, {Party: "reed-press"}, {Party: reed, Picture: plate}, {Party: reed, Grant: "grants/book"}, {Party: reed, Grant: "grants/book", Picture: plate}, {Party: reed, Sequence: -1},
	} {
		_, err := r.owner.Licensing.GetStatement(t.Context(), req)
		wantReason(t, err, "INVALID_FIELD")
	}
	if _, content := partyStated(t, press, &pb.GetStatementRequest{Party: reed}); len(listed(content, "entries")) != 0 || content["party_name"] == nil {
		t.Errorf("a house without dealings reads %v", content)
	}
}

// TestWhatAHouseWasOnceOffered: an offer that went to another house isn't told of the past any more, and a party that is gone is told of to staff.
func TestWhatAHouseWasOnceOffered(t *testing.T) {
	r := desk(t)
	plate, reed, moor := r.picture(t, "perch-plate", nil), r.party(t, "reed-press"), r.party(t, "moor-books")
	press := r.as(t, pb.Role_ROLE_PUBLISHER, reed)
	before := r.party(t, "lake-museum")
	offer := agreement("offer", reed, plate)
	offer.Grant.Status, offer.Grant.SignedOn = pb.GrantStatus_GRANT_STATUS_OFFERED, ""
	r.grant(t, offer)
	told, _ := partyStated(t, press, &pb.GetStatementRequest{Party: reed})
	staff, content := partyStated(t, r.owner, &pb.GetStatementRequest{Party: reed})
	if !bytes.Contains(told, []byte("grants/offer")) {
		t.Fatalf("the offer isn't told: %s", told)
	}
	mark, _, err := statement.Check(staff)
	if err != nil || content["audience"] != "studio" {
		t.Fatal(content["audience"], err)
	}
	ok[*pb.Grant](t)(r.owner.Licensing.UpdateGrant(t.Context(), &pb.UpdateGrantRequest{Grant: &pb.Grant{Name: "grants/offer", Licensee: moor}, UpdateMask: &fieldmaskpb.FieldMask{Paths: []string{"licensee"}}}))
	ok[*pb.DeletePartyResponse](t)(r.owner.Licensing.DeleteParty(t.Context(), &pb.DeletePartyRequest{Name: before}))
	_, err = press.Licensing.GetStatement(t.Context(), &pb.GetStatementRequest{Party: reed, Sequence: mark.Sequence})
	wantReason(t, err, "WITHHELD")
	if now, _ := partyStated(t, press, &pb.GetStatementRequest{Party: reed}); bytes.Contains(now, []byte("grants/offer")) {
		t.Errorf("the last statement tells it: %s", now)
	}
	if again, _ := partyStated(t, r.owner, &pb.GetStatementRequest{Party: reed, Sequence: mark.Sequence}); !bytes.Equal(again, staff) {
		t.Errorf("staff reads\n%s\nnot\n%s", again, staff)
	}
	partyStated(t, r.owner, &pb.GetStatementRequest{Party: before, Sequence: mark.Sequence})
	_, err = r.owner.Licensing.GetStatement(t.Context(), &pb.GetStatementRequest{Party: before})
	wantReason(t, err, "NOT_FOUND")
}
