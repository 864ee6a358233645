package web_test

import (
	"context"
	"fmt"
	"io"
	"log/slog"
	"mime/multipart"
	"net"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/test/bufconn"

	pb "platarium/proto/platarium/v1"
	"platarium/server/api"
	"platarium/server/archive"
	"platarium/server/preview"
	"platarium/server/web"
	"platarium/storage/dir"
	"platarium/storage/imaging"
)

// house is an archive behind the services, and the services behind pages.
type house struct {
	archive *archive.Archive
	at      string            // address of the pages
	keys    map[string]string // secrets by role
	spool   string
}

var system = archive.Caller{Actor: "system"}

func today() time.Time { return time.Date(2026, 5, 4, 10, 0, 0, 0, time.UTC) }

// open stocks a small studio: two houses, two plates and a study, a grant to Quillfin Press and a confidential one to Otterbach, and a brief.
func open(t *testing.T, importer web.Importer) *house {
	t.Helper()
	h := &house{keys: map[string]string{}, spool: t.TempDir()}
	b, err := dir.Open(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	log := slog.New(slog.DiscardHandler)
	ids := 0
	h.archive, err = archive.Open(t.Context(), archive.Config{
		Bucket: b, Cache: t.TempDir(), Logger: log, CheckpointMin: -1, Clock: today, NewID: func() string { ids++; return fmt.Sprintf("made-%04d", ids) },
	})
	if err != nil {
		t.Fatal(err)
	}
	runner, err := imaging.NewRunner(imaging.Config{Decoders: imaging.OnlyGo})
	if err != nil {
		t.Fatal(err)
	}
	services := api.New(h.archive, preview.New(b, h.archive.Originals(), runner, 1, log), log, "test")
	g := grpc.NewServer(services.Options()...)
	services.Register(g)
	line := bufconn.Listen(1 << 20)
	served := make(chan error, 1)
	go func() { served <- g.Serve(line) }()
	conn, err := grpc.NewClient("passthrough:house", grpc.WithContextDialer(func(ctx context.Context, _ string) (net.Conn, error) { return line.DialContext(ctx) }),
		grpc.WithTransportCredentials(insecure.NewCredentials()))
	if err != nil {
		t.Fatal(err)
	}
	site, err := web.New(web.Config{Conn: conn, Studio: "Studio Ebbvik", Log: log, Now: today, Importer: importer, Spool: h.spool})
	if err != nil {
		t.Fatal(err)
	}
	front := httptest.NewServer(site)
	h.at = front.URL
	t.Cleanup(func() {
		front.Close()
		for _, err := range []error{site.Close(), conn.Close()} {
			if err != nil {
				t.Error(err)
			}
		}
		g.Stop()
		for _, err := range []error{<-served, h.archive.Close()} {
			if err != nil {
				t.Error(err)
			}
		}
	})
	h.stock(t)
	return h
}

func (h *house) stock(t *testing.T) {
	t.Helper()
	ctx := t.Context()
	keys := map[string]*pb.Key{"owner": {Role: pb.Role_ROLE_OWNER}, "assistant": {Role: pb.Role_ROLE_ASSISTANT}}
	for id, name := range map[string]string{"quillfin": "Quillfin Press", "otterbach": "Verlag Otterbach"} {
		must(t)(h.archive.CreateParty(ctx, system, &pb.Party{DisplayName: name, Role: "publisher", Notes: "private words"}, id))
		keys[id] = &pb.Key{Role: pb.Role_ROLE_PUBLISHER, Party: "parties/" + id}
	}
	for role, k := range keys {
		must(t)(h.archive.CreateKey(ctx, system, k, role+"-key", func(secret string) error { h.keys[role] = secret; return nil }))
	}
	for id, kind := range map[string]pb.Kind{"perch-plate": pb.Kind_KIND_PLATE, "perch-study": pb.Kind_KIND_STUDY, "ruffe-plate": pb.Kind_KIND_PLATE} {
		must(t)(h.archive.CreatePicture(ctx, system, &pb.Picture{Kind: kind, Title: "The " + id, View: pb.View_VIEW_LEFT_LATERAL, Identification: &pb.Identification{ScientificName: "Perca fluviatilis"},
			Structures: []*pb.Structure{{Structure: "opercle", Completeness: pb.Completeness_COMPLETENESS_COMPLETE}}}, id))
	}
	for id, g := range map[string]*pb.Grant{
		"guide": {Licensee: "parties/quillfin", Exclusivity: pb.Exclusivity_EXCLUSIVITY_EXCLUSIVE, Fee: &pb.Money{Amount: "450.00", Currency: "EUR"}, Notes: "private words",
			Scope: &pb.Scope{Works: []string{"pictures/perch-plate"}, Media: []string{"print.book"}, Territories: []string{"GB"}, Languages: []string{"en"}, From: "2025-01-01", To: "2026-06-10"}},
		"silent": {Licensee: "parties/otterbach", Disclosure: pb.Disclosure_DISCLOSURE_CONFIDENTIAL, Exclusivity: pb.Exclusivity_EXCLUSIVITY_EXCLUSIVE,
			Scope: &pb.Scope{Works: []string{"pictures/ruffe-plate"}, Media: []string{"print.book"}, Territories: []string{"DE"}, Languages: []string{"de"}, From: "2025-01-01", To: "2030-12-31"}},
	} {
		g.Status, g.SignedOn = pb.GrantStatus_GRANT_STATUS_EXECUTED, "2024-12-01"
		must(t)(h.archive.CreateGrant(ctx, system, g, id))
	}
	must(t)(h.archive.CreateBrief(ctx, system, &pb.Brief{Title: "Perch wall panel", Identification: &pb.Identification{ScientificName: "Perca fluviatilis"}, DueOn: "2026-08-01", Client: "parties/quillfin",
		Structures: []*pb.WantedStructure{{Structure: "opercle"}, {Structure: "anal fin"}}}, "panel"))
}

func must(t *testing.T) func(_ any, err error) {
	return func(_ any, err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
}

// visitor is a browser without JavaScript that signed in.
type visitor struct {
	t     *testing.T
	at    string
	http  *http.Client
	token string
}

// answer is what a page says.
type answer struct {
	code int
	text string
	to   string // where a redirect leads
}

var tokenIn = regexp.MustCompile(`data-token="([0-9a-f]+)"`)

func (h *house) visit(t *testing.T, role string) *visitor {
	t.Helper()
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	v := &visitor{t: t, at: h.at, http: &http.Client{Jar: jar, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}}
	if a := v.post("/signin", url.Values{"key": {h.keys[role]}}); a.code != http.StatusSeeOther {
		t.Fatalf("signing in was answered %d", a.code)
	}
	v.token = tokenIn.FindStringSubmatch(v.get("/licences").text)[1]
	return v
}

func (v *visitor) do(req *http.Request) answer {
	v.t.Helper()
	res, err := v.http.Do(req)
	if err != nil {
		v.t.Fatal(err)
	}
	b, err := io.ReadAll(res.Body)
	if err != nil {
		v.t.Fatal(err)
	}
	if err := res.Body.Close(); err != nil {
		v.t.Fatal(err)
	}
	return answer{res.StatusCode, string(b), res.Header.Get("Location")}
}

func (v *visitor) get(path string) answer {
	v.t.Helper()
	req, err := http.NewRequestWithContext(v.t.Context(), http.MethodGet, v.at+path, nil)
	if err != nil {
		v.t.Fatal(err)
	}
	return v.do(req)
}

// post sends a form with the token of the session.
func (v *visitor) post(path string, form url.Values) answer {
	v.t.Helper()
	if v.token != "" && !form.Has("token") {
		form.Set("token", v.token)
	}
	req, err := http.NewRequestWithContext(v.t.Context(), http.MethodPost, v.at+path, strings.NewReader(form.Encode()))
	if err != nil {
		v.t.Fatal(err)
	}
	req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	return v.do(req)
}

// dropped is a file with its path below what was dropped.
type dropped struct{ path, text string }

// drop sends files as the form does: the token first, unless it is empty.
func (v *visitor) drop(token string, files ...dropped) answer {
	v.t.Helper()
	var b strings.Builder
	w := multipart.NewWriter(&b)
	fields := [][2]string{}
	if token != "" {
		fields = append(fields, [2]string{"token", token})
	}
	for _, f := range fields {
		if err := w.WriteField(f[0], f[1]); err != nil {
			v.t.Fatal(err)
		}
	}
	for _, f := range files {
		if err := w.WriteField("path", f.path); err != nil {
			v.t.Fatal(err)
		}
		part, err := w.CreateFormFile("file", "picture")
		if err == nil {
			_, err = io.WriteString(part, f.text)
		}
		if err != nil {
			v.t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		v.t.Fatal(err)
	}
	req, err := http.NewRequestWithContext(v.t.Context(), http.MethodPost, v.at+"/import", strings.NewReader(b.String()))
	if err != nil {
		v.t.Fatal(err)
	}
	req.Header.Set("Content-Type", w.FormDataContentType())
	return v.do(req)
}
