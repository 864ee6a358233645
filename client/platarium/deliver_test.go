package main

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"platarium/client"
	"platarium/client/cli"
	pb "platarium/proto/platarium/v1"
)

// TestDeliverCommand writes a copy and its sidecar, and nothing over a file that is there.
func TestDeliverCommand(t *testing.T) {
	r := start(t, newConfig(t))
	b := scan(t, 2)
	sum, size, err := client.Sum(t.Context(), bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := r.owner.Upload(t.Context(), bytes.NewReader(b), sum, size, "perch.png", nil); err != nil {
		t.Fatal(err)
	}
	pic := &pb.Picture{Kind: pb.Kind_KIND_PLATE, Title: "Perch", Original: &pb.Original{Sha256: sum}}
	if _, err := r.owner.Archive.CreatePicture(t.Context(), &pb.CreatePictureRequest{PictureId: "perch-plate", Picture: pic}); err != nil {
		t.Fatal(err)
	}
	if _, err := r.owner.Licensing.CreateParty(t.Context(), &pb.CreatePartyRequest{PartyId: "reed-press", Party: &pb.Party{DisplayName: "Reed Press"}}); err != nil {
		t.Fatal(err)
	}
	if _, err := r.owner.Licensing.CreateGrant(t.Context(), &pb.CreateGrantRequest{GrantId: "book", Grant: &pb.Grant{
		Licensee: "parties/reed-press", Status: pb.GrantStatus_GRANT_STATUS_EXECUTED, SignedOn: "2020-01-10",
		Scope: &pb.Scope{Works: []string{"pictures/perch-plate"}, Media: []string{"print.book"}, Territories: []string{"DE"}, Languages: []string{"*"}, From: "2020-01-15"},
	}}); err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(t.TempDir(), "copy.png")
	for i, want := range []int{cli.OK, cli.Failed} {
		if code, out, errOut := ran(t, t.Context(), r, "deliver", "pictures/perch-plate", "--grant", "grants/book", "-o", file); code != want {
			t.Errorf("time %d: code %d, %q, %q; want %d", i, code, out, errOut, want)
		}
	}
	made, err := os.ReadFile(file)
	if err != nil || !bytes.Contains(made, []byte("urn:x-platarium:grants/book")) {
		t.Errorf("%d bytes without the grant in them, %v", len(made), err)
	}
	beside, err := os.ReadFile(file + ".json")
	if err != nil {
		t.Fatal(err)
	}
	var said map[string]any
	if err := json.Unmarshal(beside, &said); err != nil || said["grant"] != "grants/book" || !strings.Contains(said["usage_terms"].(string), "Reed Press") {
		t.Errorf("sidecar %s, %v", beside, err)
	}
	if left, err := filepath.Glob(filepath.Join(filepath.Dir(file), ".platarium-*")); err != nil || len(left) > 0 {
		t.Errorf("left behind: %v, %v", left, err)
	}
}
