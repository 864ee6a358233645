package server

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	"platarium/client"
	pb "platarium/proto/platarium/v1"
)

// TestAlarms has one grant or use for each thing that somebody should look at, and one with nothing the matter.
func TestAlarms(t *testing.T) {
	r := desk(t)
	reed, moor := r.party(t, "reed-press"), r.party(t, "moor-books")
	plate := func(n int) string { return r.picture(t, fmt.Sprintf("plate-%d", n), nil) }
	one, two, three, four, five, six, seven := plate(1), plate(2), plate(3), plate(4), plate(5), plate(6), plate(7)
	with := func(req *pb.CreateGrantRequest, change func(*pb.Grant)) *pb.Grant {
		change(req.GetGrant())
		return r.grant(t, req)
	}
	with(agreement("ends-soon", reed, one), func(g *pb.Grant) { g.Scope.To = "2026-07-15" })
	with(agreement("ends-late", reed, one), func(g *pb.Grant) { g.Scope.To = "2026-09-15" })
	with(exclusively(agreement("opens-soon", reed, two)), func(g *pb.Grant) { g.ExclusiveTo = "2026-06-30" })
	with(agreement("unproven", reed, three), func(g *pb.Grant) { g.EvidenceDueOn = "2026-05-01" })
	with(agreement("unpaid", reed, three), func(g *pb.Grant) { g.PaymentIsCondition = true })
	with(agreement("capped", reed, four), func(g *pb.Grant) { g.CopiesMax = 1000 })
	with(agreement("asks-first", moor, five), func(g *pb.Grant) { g.Kind, g.OptionUntil = pb.GrantKind_GRANT_KIND_OPTION, "2026-06-20" })
	with(agreement("at-peace", moor, six), func(*pb.Grant) {})
	with(agreement("draft", moor, six), func(g *pb.Grant) { g.Scope.To, g.Status = "2026-06-15", pb.GrantStatus_GRANT_STATUS_DRAFT })
	r.use(t, printing("too-many", reed, "grants/capped", 4000, four))
	r.use(t, printing("wild", moor, "", 500, seven))
	r.use(t, printing("covered", moor, "grants/at-peace", 500, six))
	elsewhere := printing("elsewhere", moor, "grants/at-peace", 500, six)
	elsewhere.Use.Scope.Territories = []string{"FR"}
	r.use(t, elsewhere)

	want := []string{
		"2026-03-01 not licensed uses/elsewhere", "2026-03-01 not licensed uses/too-many", "2026-03-01 no grant uses/wild",
		"2026-05-01 evidence missing grants/unproven", "2026-06-01 over run grants/capped", "2026-06-01 condition unpaid grants/unpaid",
		"2026-06-20 option open grants/asks-first", "2026-06-30 exclusivity ends grants/opens-soon", "2026-07-15 term ends grants/ends-soon",
	}
	if got := alarms(t, r.owner, 0, 0); !slices.Equal(got, want) {
		t.Errorf("alarms:\n%s\nwant:\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
	if got := alarms(t, r.owner, 0, 2); !slices.Equal(got, want) {
		t.Errorf("alarms by pages of two differ:\n%s", strings.Join(got, "\n"))
	}
	if got := alarms(t, r.owner, 120, 0); !slices.Contains(got, "2026-09-15 term ends grants/ends-late") || len(got) != len(want)+1 {
		t.Errorf("alarms of 120 days:\n%s", strings.Join(got, "\n"))
	}
	_, err := r.owner.Licensing.ListAlarms(t.Context(), &pb.ListAlarmsRequest{Days: 10_000})
	wantReason(t, err, "INVALID_FIELD")
	_, err = r.as(t, pb.Role_ROLE_PUBLISHER, reed).Licensing.ListAlarms(t.Context(), &pb.ListAlarmsRequest{})
	if status.Code(err) != codes.PermissionDenied {
		t.Errorf("a publisher's alarms: %v; want PERMISSION_DENIED", err)
	}
}

// alarms lists all alarms as lines, page by page.
func alarms(t *testing.T, c *client.Client, days, size int32) (lines []string) {
	t.Helper()
	req := &pb.ListAlarmsRequest{Days: days, PageSize: size}
	for {
		res := ok[*pb.ListAlarmsResponse](t)(c.Licensing.ListAlarms(t.Context(), req))
		if size > 0 && len(res.GetAlarms()) > int(size) {
			t.Fatalf("a page of %d holds %d alarms", size, len(res.GetAlarms()))
		}
		for _, a := range res.GetAlarms() {
			lines = append(lines, a.GetDay()+" "+a.GetKind()+" "+a.GetName())
			if a.GetPartyName() == "" || a.GetText() == "" || len(a.GetWorks()) == 0 {
				t.Errorf("%s says too little: %v", a.GetName(), a)
			}
		}
		if req.PageToken = res.GetNextPageToken(); req.PageToken == "" {
			return lines
		}
	}
}
