package api

import (
	"slices"
	"testing"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	pb "platarium/proto/platarium/v1"
)

// TestMadeFrom lists what was made from a picture, by pages and as far as each role may see it.
func TestMadeFrom(t *testing.T) {
	d := newDesk(t)
	must[*pb.Party](t)(d.archive.CreateParty(t.Context(), system, &pb.Party{DisplayName: "Press"}, "press"))
	d.key(t, "press-key", &pb.Key{DisplayName: "press", Role: pb.Role_ROLE_PUBLISHER, Party: "parties/press"})
	add := func(id string, kind pb.Kind, from ...string) {
		p := &pb.Picture{Kind: kind, Title: id, Identification: &pb.Identification{ScientificName: "Perca fluviatilis"}}
		for _, f := range from {
			p.DerivedFrom = append(p.DerivedFrom, &pb.Derivation{Picture: "pictures/" + f})
		}
		must[*pb.Picture](t)(d.archive.CreatePicture(t.Context(), system, p, id))
	}
	add("plate-a", pb.Kind_KIND_PLATE)
	add("study-b", pb.Kind_KIND_STUDY, "plate-a")
	add("plate-c", pb.Kind_KIND_PLATE, "study-b", "plate-a")
	add("plate-d", pb.Kind_KIND_PLATE)
	list := func(key, from string) (names []string, err error) {
		req := &pb.ListPicturesRequest{DerivedFrom: "pictures/" + from, PageSize: 1}
		for {
			res, err := d.records().ListPictures(d.as(t, key), req)
			if err != nil {
				return nil, err
			}
			for _, p := range res.GetPictures() {
				names = append(names, p.GetTitle())
			}
			if req.PageToken = res.GetNextPageToken(); req.PageToken == "" {
				return names, nil
			}
		}
	}
	for _, tt := range []struct {
		key, from string
		want      []string
		code      codes.Code
	}{
		{"desk-key", "plate-a", []string{"plate-c", "study-b"}, codes.OK},
		{"desk-key", "study-b", []string{"plate-c"}, codes.OK},
		{"desk-key", "plate-d", nil, codes.OK},
		{"desk-key", "none-such", nil, codes.NotFound},
		{"press-key", "plate-a", []string{"plate-c"}, codes.OK},
		{"press-key", "study-b", nil, codes.NotFound},
	} {
		got, err := list(tt.key, tt.from)
		if status.Code(err) != tt.code || !slices.Equal(got, tt.want) {
			t.Errorf("%s asks for what was made from %s: %v, %v; want %v, %v", tt.key, tt.from, got, err, tt.want, tt.code)
		}
	}
}
