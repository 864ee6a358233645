package rest_test

import (
	"encoding/json"
	"net/http"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/testing/protocmp"

	pb "platarium/proto/platarium/v1"
)

// A picture's life over HTTP: made, read, changed by mask, guarded by its etag, told of, deleted.
func TestLifeOfAPicture(t *testing.T) {
	d := newDesk(t)
	made := d.do(t, "assistant", "POST", "/v1/pictures?picture_id=zander-plate&requestId=r1", `{"kind":"KIND_PLATE","title":"Zander","identification":{"scientificName":"Sander lucioperca"}}`).object(t, 200)
	if made["name"] != "pictures/zander-plate" || made["title"] != "Zander" {
		t.Fatalf("made %v", made)
	}
	again := d.do(t, "assistant", "POST", "/v1/pictures?pictureId=zander-plate", `{"kind":"KIND_PLATE","title":"Zander","identification":{"scientific_name":"Sander lucioperca"}}`, with("Idempotency-Key", `"r1"`))
	if got := again.object(t, 200); got["etag"] != made["etag"] {
		t.Errorf("a repetition made %v", got)
	}
	changed := d.do(t, "assistant", "PATCH", "/v1/pictures/zander-plate?updateMask=title,notes", `{"title":"Zander, left side","technique":"gouache","etag":"`+made["etag"].(string)+`"}`).object(t, 200)
	if changed["title"] != "Zander, left side" || changed["technique"] != nil {
		t.Errorf("the mask names title alone: %v", changed)
	}
	if reason, _ := d.do(t, "assistant", "PATCH", "/v1/pictures/zander-plate?updateMask=title", `{"title":"late","etag":"`+made["etag"].(string)+`"}`).reason(t, 409); reason != "STALE_ETAG" {
		t.Errorf("an old etag: %s", reason)
	}
	if reason, fields := d.do(t, "assistant", "PATCH", "/v1/pictures/zander-plate", `{"title":"x"}`).reason(t, 400); reason != "INVALID_FIELD" || !slices.Contains(fields, "update_mask") {
		t.Errorf("without a mask: %s %v", reason, fields)
	}
	if got := d.do(t, "assistant", "GET", "/v1/pictures/zander-plate", "").object(t, 200); got["title"] != "Zander, left side" || got["etag"] != changed["etag"] {
		t.Errorf("read %v", got)
	}
	revisions, _ := d.do(t, "assistant", "GET", "/v1/pictures/zander-plate/revisions", "").object(t, 200)["revisions"].([]any)
	if len(revisions) != 2 {
		t.Errorf("%d revisions", len(revisions))
	}
	d.do(t, "assistant", "DELETE", "/v1/pictures/zander-plate?etag="+changed["etag"].(string), "").object(t, 200)
	if reason, _ := d.do(t, "assistant", "GET", "/v1/pictures/zander-plate", "").reason(t, 404); reason != "NOT_FOUND" {
		t.Errorf("after deletion: %s", reason)
	}
}

// Pages follow each other by token, and a token fits its question alone.
func TestPages(t *testing.T) {
	d := newDesk(t)
	d.stock(t)
	var names []string
	token, pages := "", 0
	for ; pages < 10; pages++ {
		got := d.do(t, "assistant", "GET", "/v1/pictures?page_size=1&pageToken="+token, "").object(t, 200)
		for _, p := range got["pictures"].([]any) {
			names = append(names, p.(map[string]any)["name"].(string))
		}
		if token, _ = got["nextPageToken"].(string); token == "" {
			break
		}
	}
	if want := []string{"pictures/perch-plate", "pictures/perch-study", "pictures/ruffe-plate"}; !slices.Equal(names, want) || pages != 2 {
		t.Errorf("%d pages of %v", pages+1, names)
	}
	first, _ := d.do(t, "assistant", "GET", "/v1/pictures?page_size=1", "").object(t, 200)["nextPageToken"].(string)
	if reason, _ := d.do(t, "assistant", "GET", "/v1/specimens?page_size=1&page_token="+first, "").reason(t, 400); reason != "PAGE_TOKEN" {
		t.Errorf("a token of another list: %s", reason)
	}
	if reason, fields := d.do(t, "assistant", "GET", "/v1/pictures?pageSize=5000", "").reason(t, 400); reason != "INVALID_FIELD" || !slices.Equal(fields, []string{"page_size"}) {
		t.Errorf("a page too large: %s %v", reason, fields)
	}
}

func TestSearch(t *testing.T) {
	d := newDesk(t)
	d.stock(t)
	got := d.do(t, "assistant", "POST", "/v1/pictures:search", `{"text":"ruffe","filter":{"kinds":["KIND_PLATE"]},"facets":["kind"]}`).object(t, 200)
	hits, _ := got["hits"].([]any)
	if len(hits) != 1 || got["total"] != "1" || len(got["facets"].([]any)) != 1 {
		t.Fatalf("found %v", got)
	}
	if name := hits[0].(map[string]any)["picture"].(map[string]any)["name"]; name != "pictures/ruffe-plate" {
		t.Errorf("found %v", name)
	}
}

// A stream is one object a line, in the order of the question; what fails before its first line has the status of the error.
func TestStreams(t *testing.T) {
	d := newDesk(t)
	d.stock(t)
	question := `{"works":["pictures/ruffe-plate","pictures/none-such","pictures/perch-plate"],"scope":{"media":["print.book"],"territories":["DE"],"languages":["de"],"from":"2026-06-01","to":"2026-12-31"}}`
	a := d.do(t, "otterbach", "POST", "/v1/availability:batch", question)
	if a.code != 200 || a.header.Get("Content-Type") != "application/x-ndjson" {
		t.Fatalf("got %d %s", a.code, a.body)
	}
	var said []string
	for line := range strings.Lines(string(a.body)) {
		var m pb.CheckAvailabilitiesResponse
		if err := protojson.Unmarshal([]byte(line), &m); err != nil {
			t.Fatalf("line %q: %v", line, err)
		}
		said = append(said, m.GetWork()+" "+m.GetAvailability().GetAnswer()+m.GetProblem().GetReason())
	}
	if want := []string{"pictures/ruffe-plate yes", "pictures/none-such NOT_FOUND", "pictures/perch-plate no"}; !slices.Equal(said, want) {
		t.Errorf("said %q, want %q", said, want)
	}
	if reason, _ := d.do(t, "otterbach", "POST", "/v1/availability:batch", `{}`).reason(t, 400); reason != "INVALID_FIELD" {
		t.Errorf("a question without works: %s", reason)
	}
	if reason, _ := d.do(t, "otterbach", "POST", "/v1/journal:verify", "").reason(t, 403); reason != "ROLE" {
		t.Errorf("a publisher verifies: %s", reason)
	}
	lines := strings.Split(strings.TrimSpace(string(d.do(t, "assistant", "POST", "/v1/journal:verify", "").body)), "\n")
	var last pb.VerifyResponse
	if err := protojson.Unmarshal([]byte(lines[len(lines)-1]), &last); err != nil || !last.GetDone() || last.GetProblems() != 0 || last.GetOriginals() != 3 {
		t.Errorf("verify ends with %q, %v", lines[len(lines)-1], err)
	}
}

// What a publisher gets over HTTP is what it gets over gRPC, and what is hidden from it answers as what isn't there.
func TestPublisher(t *testing.T) {
	d := newDesk(t)
	d.stock(t)
	archive, licensing := pb.NewArchiveServiceClient(d.conn), pb.NewLicensingServiceClient(d.conn)
	for _, key := range []string{"quillfin", "otterbach"} {
		ctx := d.as(t, key)
		pic, err := archive.GetPicture(ctx, &pb.GetPictureRequest{Name: "pictures/perch-plate"})
		d.same(t, key, "/v1/pictures/perch-plate", pic, err)
		list, err := archive.ListPictures(ctx, &pb.ListPicturesRequest{})
		d.same(t, key, "/v1/pictures", list, err)
		history, err := licensing.GetHistory(ctx, &pb.GetHistoryRequest{Picture: "pictures/perch-plate"})
		d.same(t, key, "/v1/pictures/perch-plate/history", history, err)
		hidden := d.do(t, key, "GET", "/v1/pictures/perch-study", "")
		absent := d.do(t, key, "GET", "/v1/pictures/perch-stud1", "")
		if a, b := canon(t, hidden.body), strings.ReplaceAll(canon(t, absent.body), "perch-stud1", "perch-study"); hidden.code != 404 || absent.code != 404 || a != b {
			t.Errorf("hidden answers %d %s, absent %d %s", hidden.code, a, absent.code, b)
		}
	}
	if got := d.do(t, "otterbach", "GET", "/v1/pictures/perch-plate/history", ""); strings.Contains(string(got.body), "450.00") {
		t.Error("another's fee is shown")
	}
	if got := d.do(t, "quillfin", "GET", "/v1/grants/first-grant", "").object(t, 200); got["name"] != "grants/first-grant" {
		t.Errorf("its own grant: %v", got)
	}
	if got := d.do(t, "otterbach", "GET", "/v1/grants/first-grant", ""); got.code != 404 {
		t.Errorf("another's grant: %d", got.code)
	}
}

// same compares an answer over HTTP with that over gRPC.
func (d *desk) same(t *testing.T, key, path string, want proto.Message, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
	got := want.ProtoReflect().New().Interface()
	if err := protojson.Unmarshal(d.do(t, key, http.MethodGet, path, "").body, got); err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(want, got, protocmp.Transform()); diff != "" {
		t.Errorf("%s for %s differs from gRPC:\n%s", path, key, diff)
	}
}

// canon is JSON without the spaces that vary.
func canon(t testing.TB, b []byte) string {
	t.Helper()
	var v any
	if err := json.Unmarshal(b, &v); err != nil {
		t.Fatalf("%q: %v", b, err)
	}
	out, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	return string(out)
}
