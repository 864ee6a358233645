package rest_test

import (
	"flag"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/encoding/protojson"

	pb "platarium/proto/platarium/v1"
	"platarium/server/rest"
)

var update = flag.Bool("update", false, "write golden files anew")

// What isn't understood is refused, and what is at fault is named.
func TestRefused(t *testing.T) {
	d := newDesk(t)
	d.stock(t)
	patch := "/v1/pictures/perch-plate?updateMask=title"
	for _, c := range []struct {
		name, key, verb, path, body string
		set                         func(*http.Request)
		code                        int
		reason, field               string
	}{
		{name: "unknown field", verb: "POST", path: "/v1/pictures", body: `{"kind":"KIND_PLATE","titel":"x"}`, code: 400, reason: "INVALID_FIELD", field: "titel"},
		{name: "unknown field deep down", verb: "POST", path: "/v1/pictures:search", body: `{"filter":{"colour":"red"}}`, code: 400, reason: "INVALID_FIELD", field: "colour"},
		{name: "field twice", verb: "PATCH", path: patch, body: `{"title":"a","title":"b"}`, code: 400, reason: "INVALID_FIELD", field: "body"},
		{name: "not JSON", verb: "PATCH", path: patch, body: `title=a`, code: 400, reason: "INVALID_FIELD", field: "body"},
		{name: "something after the JSON", verb: "PATCH", path: patch, body: `{"title":"a"} {}`, code: 400, reason: "INVALID_FIELD", field: "body"},
		{name: "wrong type", verb: "PATCH", path: patch, body: `{"title":5}`, code: 400, reason: "INVALID_FIELD", field: "body"},
		{name: "too deep", verb: "PATCH", path: patch, body: strings.Repeat(`{"calibration":`, 100), code: 400, reason: "INVALID_FIELD"},
		{name: "no body", verb: "POST", path: "/v1/pictures", code: 400, reason: "INVALID_FIELD", field: "body"},
		{name: "body of a GET", verb: "GET", path: "/v1/pictures", body: `{}`, code: 400, reason: "INVALID_FIELD", field: "body"},
		{name: "body of a DELETE", verb: "DELETE", path: "/v1/pictures/perch-plate", body: `{"etag":"1"}`, code: 400, reason: "INVALID_FIELD", field: "body"},
		{name: "body too large", verb: "POST", path: "/v1/pictures:search", body: `{"text":"` + strings.Repeat("a", rest.MaxBody) + `"}`, code: 413, reason: "TOO_LARGE"},
		{name: "unknown parameter", verb: "GET", path: "/v1/pictures?limit=5", code: 400, reason: "INVALID_FIELD", field: "limit"},
		{name: "parameter twice", verb: "GET", path: "/v1/pictures?pageSize=1&pageSize=2", code: 400, reason: "INVALID_FIELD", field: "pageSize"},
		{name: "parameter of another type", verb: "GET", path: "/v1/pictures?pageSize=many", code: 400, reason: "INVALID_FIELD", field: "page_size"},
		{name: "parameter that can't be read", verb: "GET", path: "/v1/pictures?pageSize=%zz", code: 400, reason: "INVALID_FIELD", field: "query"},
		{name: "name in the query", verb: "GET", path: "/v1/pictures/perch-plate?name=pictures/ruffe-plate", code: 400, reason: "INVALID_FIELD", field: "name"},
		{name: "record in the query", verb: "POST", path: "/v1/pictures?picture=x", body: `{"kind":"KIND_PLATE"}`, code: 400, reason: "INVALID_FIELD", field: "picture"},
		{name: "parameter where the body has all", verb: "POST", path: "/v1/pictures:search?text=ruffe", body: `{}`, code: 400, reason: "INVALID_FIELD", field: "text"},
		{name: "truth in other words", key: "owner", verb: "POST", path: "/v1/grants?validateOnly=yes", body: `{}`, code: 400, reason: "INVALID_FIELD", field: "validate_only"},
		{name: "key in the query", key: "none", verb: "GET", path: "/v1/pictures?access_token=x", code: 401, reason: "NO_KEY"},
		{name: "another name in the body", verb: "PATCH", path: patch, body: `{"name":"pictures/ruffe-plate","title":"x"}`, code: 400, reason: "INVALID_FIELD", field: "picture.name"},
		{name: "two request ids", verb: "POST", path: "/v1/pictures?requestId=a", body: `{}`, set: with("Idempotency-Key", "b"), code: 400, reason: "INVALID_FIELD", field: "Idempotency-Key"},
		{name: "request id where there is none", key: "owner", verb: "POST", path: "/v1/keys", body: `{}`, set: with("Idempotency-Key", "b"), code: 400, reason: "INVALID_FIELD", field: "Idempotency-Key"},
		{name: "no such path", verb: "GET", path: "/v1/plates", code: 404, reason: "NO_ROUTE"},
		{name: "no such action", verb: "POST", path: "/v1/grants/first-grant:burn", code: 404, reason: "NO_ROUTE"},
		{name: "verb of an action alone", verb: "POST", path: "/v1/pictures/perch-plate", code: 405, reason: "METHOD"},
		{name: "no such verb", verb: "PUT", path: "/v1/pictures/perch-plate", code: 405, reason: "METHOD"},
		{name: "way out of the collection", verb: "GET", path: "/v1/pictures/..%2Fgrants%2Ffirst-grant", code: 400, reason: "INVALID_FIELD", field: "name"},
		{name: "a session's cookie alone", key: "none", verb: "GET", path: "/v1/pictures", set: with("Cookie", "platarium_session=abc"), code: 401, reason: "NO_KEY"},
		{name: "another scheme", key: "none", verb: "GET", path: "/v1/pictures", set: with("Authorization", "Basic abc"), code: 401, reason: "NO_KEY"},
		{name: "a key that nobody has", key: "none", verb: "GET", path: "/v1/pictures", set: with("Authorization", "Bearer abc"), code: 401, reason: "KEY_DENIED"},
		{name: "two keys", verb: "GET", path: "/v1/pictures", set: func(r *http.Request) { r.Header.Add("Authorization", "Bearer x") }, code: 401, reason: "NO_KEY"},
		{name: "a key by another way", key: "none", verb: "GET", path: "/v1/pictures", set: with("Grpc-Metadata-Authorization", "Bearer "+d.keys["owner"]), code: 401, reason: "NO_KEY"},
		{name: "role", key: "assistant", verb: "GET", path: "/v1/keys", code: 403, reason: "ROLE"},
	} {
		t.Run(c.name, func(t *testing.T) {
			key := c.key
			switch key {
			case "":
				key = "assistant"
			case "none":
				key = ""
			}
			set := c.set
			if set == nil {
				set = func(*http.Request) {}
			}
			a := d.do(t, key, c.verb, c.path, c.body, set)
			reason, fields := a.reason(t, c.code)
			if reason != c.reason || c.field != "" && !slices.Contains(fields, c.field) {
				t.Errorf("refused with %s, naming %q: %s", reason, fields, a.body)
			}
			if (a.header.Get("WWW-Authenticate") != "") != (c.code == 401) || c.code == 405 && a.header.Get("Allow") != "DELETE, GET, PATCH" {
				t.Errorf("headers %v", a.header)
			}
		})
	}
}

// Errors found here look like those of the services.
func TestSameErrorWithoutKey(t *testing.T) {
	d := newDesk(t)
	_, err := pb.NewAdminServiceClient(d.conn).GetStatus(t.Context(), &pb.GetStatusRequest{})
	want, err := protojson.Marshal(status.Convert(err).Proto())
	if err != nil {
		t.Fatal(err)
	}
	if got := d.do(t, "", "GET", "/v1/status", ""); canon(t, got.body) != canon(t, want) {
		t.Errorf("here %s, there %s", got.body, want)
	}
}

// The bodies of errors, word by word.
func TestErrorBodies(t *testing.T) {
	d := newDesk(t)
	d.stock(t)
	grant := `{"licensee":"parties/otterbach","kind":"GRANT_KIND_LICENCE","exclusivity":"EXCLUSIVITY_NON_EXCLUSIVE","status":"GRANT_STATUS_EXECUTED","signedOn":"2026-01-05",` +
		`"scope":{"works":["pictures/perch-plate"],"media":["print.book"],"territories":["DE"],"languages":["de"],"from":"2026-06-01","to":"2026-12-31"}}`
	var b strings.Builder
	for _, c := range []struct{ key, verb, path, body string }{
		{"", "GET", "/v1/status", ""},
		{"quillfin", "GET", "/v1/specimens", ""},
		{"assistant", "GET", "/v1/pictures/none-such", ""},
		{"assistant", "POST", "/v1/pictures", `{"kind":"KIND_PLATE","titel":"x"}`},
		{"assistant", "PATCH", "/v1/pictures/perch-plate", `{"title":"x"}`},
		{"assistant", "GET", "/v1/pictures?limit=5", ""},
		{"assistant", "GET", "/v1/pictures?pageSize=many", ""},
		{"assistant", "POST", "/v1/grants", grant},
		{"assistant", "DELETE", "/v1/pictures/perch-plate", ""},
		{"assistant", "GET", "/v1/plates", ""},
		{"assistant", "PUT", "/v1/pictures", ""},
	} {
		a := d.do(t, c.key, c.verb, c.path, c.body)
		fmt.Fprintf(&b, "%s %s as %q: %d\n%s\n\n", c.verb, c.path, c.key, a.code, canon(t, a.body))
	}
	golden(t, "errors.txt", b.String())
}

func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.MkdirAll("testdata", 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("%s differs; now:\n%s", path, got)
	}
}
