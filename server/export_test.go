package server

import (
	"encoding/json"
	"strings"
	"testing"

	pb "platarium/proto/platarium/v1"
)

// TestAGrantLeavesAsODRL exports one grant to staff, its licensee, an affiliate and a stranger.
func TestAGrantLeavesAsODRL(t *testing.T) {
	r := desk(t)
	plate := r.picture(t, "perch-plate", nil)
	reed, digital, lake := r.party(t, "reed-press"), r.party(t, "reed-digital"), r.party(t, "lake-museum")
	req := exclusively(agreement("book", reed, plate))
	req.Grant.Fee, req.Grant.Affiliates, req.Grant.Notes = &pb.Money{Amount: "450.00", Currency: "EUR"}, []string{digital}, "said on the telephone"
	req.Grant.Scope.Territories = []string{"EEA@2026-01-01"}
	r.grant(t, req)

	export := func(role pb.Role, party string) string {
		res := ok[*pb.ExportGrantResponse](t)(r.as(t, role, party).Licensing.ExportGrant(t.Context(), &pb.ExportGrantRequest{Name: "grants/book", Format: "odrl"}))
		var policy map[string]any
		if err := json.Unmarshal(res.GetContent(), &policy); err != nil {
			t.Fatal(err)
		}
		if policy["@type"] != "Agreement" || policy["uid"] != "urn:x-platarium:grants/book" || res.GetFileName() != "book.odrl.jsonld" || res.GetMediaType() != "application/ld+json" {
			t.Errorf("got %s of type %v about %v", res.GetFileName(), policy["@type"], policy["uid"])
		}
		return string(res.GetContent())
	}
	for role, c := range map[string]struct {
		content string
		fee     bool
	}{
		"staff":     {export(pb.Role_ROLE_ASSISTANT, ""), true},
		"licensee":  {export(pb.Role_ROLE_PUBLISHER, reed), true},
		"affiliate": {export(pb.Role_ROLE_PUBLISHER, digital), false},
	} {
		if strings.Contains(c.content, "450.00") != c.fee || strings.Contains(c.content, "telephone") {
			t.Errorf("%s: fee shown %v, want %v, and never the notes:\n%s", role, !c.fee, c.fee, c.content)
		}
		for _, want := range []string{"House reed-press", "ensureExclusivity", "territory:NO", "territory:IE"} {
			if !strings.Contains(c.content, want) {
				t.Errorf("%s: no %s", role, want)
			}
		}
		if strings.Contains(c.content, "territory:EEA") || strings.Contains(c.content, "territory:CH\"") {
			t.Errorf("%s: the group wasn't expanded as at signature", role)
		}
	}
	_, err := r.as(t, pb.Role_ROLE_PUBLISHER, lake).Licensing.ExportGrant(t.Context(), &pb.ExportGrantRequest{Name: "grants/book"})
	wantReason(t, err, "NOT_FOUND")
	_, err = r.owner.Licensing.ExportGrant(t.Context(), &pb.ExportGrantRequest{Name: "grants/book", Format: "paper"})
	wantReason(t, err, "INVALID_FIELD")
	draft := agreement("draft", reed, plate)
	draft.Grant.Status = pb.GrantStatus_GRANT_STATUS_DRAFT
	r.grant(t, draft)
	_, err = r.owner.Licensing.ExportGrant(t.Context(), &pb.ExportGrantRequest{Name: "grants/draft"})
	wantReason(t, err, "NOT_AGREED")
}
