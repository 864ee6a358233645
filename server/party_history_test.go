package server

import (
	"slices"
	"strings"
	"testing"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	"platarium/client"
	pb "platarium/proto/platarium/v1"
)

func TestHistoryOfAnOrganisation(t *testing.T) {
	r := desk(t)
	reed, moor := r.party(t, "reed-press"), r.party(t, "moor-books")
	one := r.picture(t, "plate-one", func(p *pb.Picture) { p.View, p.RightsHolder = pb.View_VIEW_LEFT_LATERAL, "Studio Ebbvik" })
	study := r.picture(t, "study", func(p *pb.Picture) { p.Kind = pb.Kind_KIND_STUDY })
	pair := agreement("pair", reed, one, study+"#head")
	pair.Grant.Fee, pair.Grant.EvidenceDueOn = &pb.Money{Amount: "450.00", Currency: "EUR"}, "2026-08-01"
	r.grant(t, pair)
	draft := agreement("draft", reed, one)
	draft.Grant.Status = pb.GrantStatus_GRANT_STATUS_DRAFT
	r.grant(t, draft)
	shared := agreement("shared", moor, one)
	shared.Grant.Affiliates, shared.Grant.Fee = []string{reed}, &pb.Money{Amount: "9.00", Currency: "EUR"}
	r.grant(t, shared)
	r.grant(t, agreement("others", moor, one))
	r.use(t, printing("book", reed, "grants/pair", 500, one))

	whole := []string{"plate-one grants/draft", "plate-one grants/pair", "plate-one grants/shared", "study grants/pair", "plate-one uses/book"}
	for _, size := range []int32{0, 2} {
		if got := dealings(t, r.owner, reed, size); !slices.Equal(got, whole) {
			t.Errorf("by pages of %d staff is told %q; want %q", size, got, whole)
		}
	}
	press := r.as(t, pb.Role_ROLE_PUBLISHER, reed)
	if got, want := dealings(t, press, "", 0), append([]string{}, whole[1:]...); !slices.Equal(got, want) {
		t.Errorf("the house itself is told %q; want %q", got, want)
	}
	res := ok[*pb.ListHistoryResponse](t)(press.Licensing.ListHistory(t.Context(), &pb.ListHistoryRequest{}))
	first := res.GetEntries()[0]
	if first.GetEvidence() != "due 2026-08-01" || first.GetDescription() != "plate, left lateral" || first.GetEntry().GetFee().GetAmount() != "450.00" {
		t.Errorf("the first line says %v", first)
	}
	for _, e := range res.GetEntries() {
		if e.GetPicture() == study && e.GetTitle() != "" || strings.Contains(e.GetEntry().GetName(), "shared") && e.GetEntry().GetFee() != nil {
			t.Errorf("a publisher is told too much: %v", e)
		}
	}
	_, foreign := press.Licensing.ListHistory(t.Context(), &pb.ListHistoryRequest{Party: moor})
	_, absent := press.Licensing.ListHistory(t.Context(), &pb.ListHistoryRequest{Party: "parties/nobody"})
	if status.Code(foreign) != codes.NotFound || strings.ReplaceAll(foreign.Error(), moor, "") != strings.ReplaceAll(absent.Error(), "parties/nobody", "") {
		t.Errorf("another house gives %v, none gives %v; want the same NOT_FOUND", foreign, absent)
	}
}

// dealings lists what stands in the history of a party, page by page.
func dealings(t *testing.T, c *client.Client, party string, size int32) (lines []string) {
	t.Helper()
	req := &pb.ListHistoryRequest{Party: party, PageSize: size}
	for {
		res := ok[*pb.ListHistoryResponse](t)(c.Licensing.ListHistory(t.Context(), req))
		for _, e := range res.GetEntries() {
			lines = append(lines, strings.TrimPrefix(e.GetPicture(), "pictures/")+" "+e.GetEntry().GetName())
		}
		if req.PageToken = res.GetNextPageToken(); req.PageToken == "" {
			return lines
		}
	}
}
