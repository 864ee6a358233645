package server

import (
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"testing"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	"platarium/client"
	pb "platarium/proto/platarium/v1"
)

// answers asks about many pictures and gives a line for each.
func answers(t *testing.T, c *client.Client, req *pb.CheckAvailabilitiesRequest) (lines []string, err error) {
	t.Helper()
	stream, err := c.Licensing.CheckAvailabilities(t.Context(), req)
	if err != nil {
		return nil, err
	}
	for {
		res, err := stream.Recv()
		if errors.Is(err, io.EOF) {
			return lines, nil
		}
		if err != nil {
			return lines, err
		}
		word := res.GetAvailability().GetAnswer()
		if p := res.GetProblem(); p != nil {
			word = codes.Code(p.GetCode()).String()
		}
		lines = append(lines, strings.TrimPrefix(res.GetWork(), "pictures/")+" "+word)
	}
}

func wanted(works ...string) *pb.CheckAvailabilitiesRequest {
	return &pb.CheckAvailabilitiesRequest{Works: works, Scope: &pb.Scope{Media: []string{"print.book"}, Territories: []string{"DE"}, Languages: []string{"de"}, From: "2026-07-01", To: "2026-12-31"}}
}

func TestManyPicturesAreAnsweredOneByOne(t *testing.T) {
	r := desk(t)
	reed, moor := r.party(t, "reed-press"), r.party(t, "moor-books")
	free, taken := r.picture(t, "free", nil), r.picture(t, "taken", nil)
	study := r.picture(t, "study", func(p *pb.Picture) { p.Kind = pb.Kind_KIND_STUDY })
	r.grant(t, exclusively(agreement("first", reed, taken)))

	got, err := answers(t, r.owner, wanted(taken, free, "pictures/nowhere", study))
	if want := []string{"taken no", "free yes", "nowhere NotFound", "study yes"}; err != nil || !slices.Equal(got, want) {
		t.Errorf("staff gets %v, %v; want %v", got, err, want)
	}
	press := r.as(t, pb.Role_ROLE_PUBLISHER, moor)
	got, err = answers(t, press, wanted(taken, free, "pictures/nowhere", study))
	if want := []string{"taken no", "free yes", "nowhere NotFound", "study NotFound"}; err != nil || !slices.Equal(got, want) {
		t.Errorf("a publisher gets %v, %v; want %v", got, err, want)
	}
	if got, err = answers(t, r.as(t, pb.Role_ROLE_PUBLISHER, reed), wanted(taken)); err != nil || got[0] != "taken yes" {
		t.Errorf("the holder gets %v, %v; want yes", got, err)
	}
	for name, change := range map[string]func(*pb.CheckAvailabilitiesRequest){
		"no pictures":       func(q *pb.CheckAvailabilitiesRequest) { q.Works = nil },
		"a picture twice":   func(q *pb.CheckAvailabilitiesRequest) { q.Works = []string{free, free} },
		"works in scope":    func(q *pb.CheckAvailabilitiesRequest) { q.Scope.Works = []string{free} },
		"unknown medium":    func(q *pb.CheckAvailabilitiesRequest) { q.Scope.Media = []string{"print.pamphlette"} },
		"another publisher": func(q *pb.CheckAvailabilitiesRequest) { q.Requester = reed },
		"too many": func(q *pb.CheckAvailabilitiesRequest) {
			q.Works = nil
			for n := range 201 {
				q.Works = append(q.Works, fmt.Sprintf("pictures/plate-%d", n))
			}
		},
	} {
		req := wanted(free)
		change(req)
		_, err := answers(t, press, req)
		if status.Code(err) != codes.InvalidArgument {
			t.Errorf("%s: %v; want INVALID_ARGUMENT", name, err)
		}
	}
}

// TestEachPictureCountsAsAQuestion maps the licence book no faster by asking for many at once.
func TestEachPictureCountsAsAQuestion(t *testing.T) {
	r := desk(t)
	press := r.as(t, pb.Role_ROLE_PUBLISHER, r.party(t, "reed-press"))
	var all []string
	for n := range 150 {
		all = append(all, fmt.Sprintf("pictures/absent-%d", n))
	}
	if got, err := answers(t, press, wanted(all...)); err != nil || len(got) != len(all) {
		t.Fatalf("the first 150 gave %d answers, %v", len(got), err)
	}
	_, err := answers(t, press, wanted(all...))
	wantReason(t, err, "TOO_OFTEN")
	if got, err := answers(t, r.owner, wanted(all...)); err != nil || len(got) != len(all) {
		t.Errorf("staff gets %d answers, %v; it isn't limited", len(got), err)
	}
}
