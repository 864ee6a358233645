package server

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"

	pb "platarium/proto/platarium/v1"
)

// browser asks without following redirects, trusting one certificate.
func browser(t *testing.T, cert string) *http.Client {
	t.Helper()
	tr := &http.Transport{}
	if cert != "" {
		pem, err := os.ReadFile(cert)
		if err != nil {
			t.Fatal(err)
		}
		pool := x509.NewCertPool()
		pool.AppendCertsFromPEM(pem)
		tr.TLSClientConfig = &tls.Config{RootCAs: pool}
	}
	t.Cleanup(tr.CloseIdleConnections)
	return &http.Client{Transport: tr, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
}

// fetched gives code and body of a GET with a key, or with none.
func fetched(t *testing.T, b *http.Client, url, key string) (int, string) {
	t.Helper()
	req, err := http.NewRequestWithContext(t.Context(), http.MethodGet, url, nil)
	if err != nil {
		t.Fatal(err)
	}
	if key != "" {
		req.Header.Set("Authorization", "Bearer "+key)
	}
	res, err := b.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	body, err := io.ReadAll(res.Body)
	if err != nil {
		t.Fatal(err)
	}
	return res.StatusCode, string(body)
}

// Every way in over HTTP is there, over TLS too, and asks for a key.
func TestDoors(t *testing.T) {
	for _, secure := range []bool{false, true} {
		conf := newConfig(t)
		conf.Pages = "127.0.0.1:0"
		scheme := "http://"
		if secure {
			conf.CertFile, conf.KeyPEM = certificate(t)
			scheme = "https://"
		}
		news, stop := launch(t, func(ctx context.Context, ready func(Ready)) error { return Run(ctx, conf, ready) })
		if !strings.HasPrefix(news.Pages, scheme) {
			t.Errorf("pages on %q", news.Pages)
		}
		secret, b := secretIn(t, news.KeyFile), browser(t, conf.CertFile)
		for _, c := range []struct {
			path, key string
			code      int
			holds     string
		}{
			{"/", "", http.StatusSeeOther, ""},
			{"/signin", "", http.StatusOK, "Sign in"},
			{"/v1/status", "", http.StatusUnauthorized, "NO_KEY"},
			{"/v1/status", secret, http.StatusOK, "archiveId"},
			{"/v1/openapi.json", "", http.StatusOK, "openapi"},
			{"/iiif/3/none-such/info.json", "", http.StatusUnauthorized, ""},
			{"/iiif/3/none-such/info.json", secret, http.StatusNotFound, ""},
		} {
			code, body := fetched(t, b, news.Pages+c.path, c.key)
			if code != c.code || !strings.Contains(body, c.holds) {
				t.Errorf("%s%s: %d %.200s; want %d with %q", scheme, c.path, code, body, c.code, c.holds)
			}
		}
		if err := stop(); err != nil {
			t.Error(err)
		}
		if _, err := b.Get(news.Pages + "/signin"); err == nil { // nobody answers any more
			t.Error("pages are served after the end")
		}
	}
}

// Whoever shows no key sees by IIIF what the guests' key sees, and nothing else.
func TestGuests(t *testing.T) {
	conf := newConfig(t)
	conf.Pages, conf.Decoders = "127.0.0.1:0", 0
	first := start(t, conf)
	ctx := t.Context()
	party, err := first.owner.Licensing.CreateParty(ctx, &pb.CreatePartyRequest{Party: &pb.Party{DisplayName: "Anybody"}, PartyId: "anybody"})
	if err != nil {
		t.Fatal(err)
	}
	made, err := first.owner.Admin.CreateKey(ctx, &pb.CreateKeyRequest{Key: &pb.Key{DisplayName: "guests", Role: pb.Role_ROLE_PUBLISHER, Party: party.GetName()}})
	if err != nil {
		t.Fatal(err)
	}
	sum := upload(t, first.owner, lineArt(t), "fish.png")
	for id, kind := range map[string]pb.Kind{"the-plate": pb.Kind_KIND_PLATE, "the-study": pb.Kind_KIND_STUDY} {
		_, err := first.owner.Archive.CreatePicture(ctx, &pb.CreatePictureRequest{PictureId: id, Picture: &pb.Picture{Kind: kind, Title: id, Original: &pb.Original{Sha256: sum}}})
		if err != nil {
			t.Fatal(err)
		}
	}
	waitPreviews(t, first.owner)
	first.stop()

	conf.GuestKey = filepath.Join(t.TempDir(), "guest.key")
	if err := os.WriteFile(conf.GuestKey, []byte(made.GetSecret()+"\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	news, _ := launch(t, func(ctx context.Context, ready func(Ready)) error { return Run(ctx, conf, ready) })
	b := browser(t, "")
	for path, want := range map[string]int{
		"/iiif/3/the-plate/info.json": http.StatusOK, "/iiif/3/the-study/info.json": http.StatusNotFound,
		"/v1/pictures/the-plate": http.StatusUnauthorized, "/pictures/the-plate": http.StatusSeeOther,
	} {
		if code, body := fetched(t, b, news.Pages+path, ""); code != want {
			t.Errorf("%s: %d %.200s; want %d", path, code, body, want)
		}
	}
	if code, _ := fetched(t, b, news.Pages+"/iiif/3/the-study/info.json", first.secret); code != http.StatusOK {
		t.Errorf("the owner's own key gets %d", code)
	}
}

func TestDoorsThatDontOpen(t *testing.T) {
	for name, spoil := range map[string]func(*Config){
		"pages":                               func(c *Config) { c.Pages = "nowhere" },
		"0.0.0.0:0 is not a loopback address": func(c *Config) { c.Pages = "0.0.0.0:0" },
		"guests' key":                         func(c *Config) { c.Pages, c.GuestKey = "127.0.0.1:0", filepath.Join(t.TempDir(), "none.key") },
	} {
		conf := newConfig(t)
		spoil(&conf)
		if err := Run(t.Context(), conf, nil); err == nil || !strings.Contains(err.Error(), name) {
			t.Errorf("%s: the server ends with %v", name, err)
		}
	}
	// An address that is taken, and a store that can be opened again afterwards: nothing was left behind.
	conf := newConfig(t)
	conf.Pages = "127.0.0.1:0"
	news, _ := launch(t, func(ctx context.Context, ready func(Ready)) error { return Run(ctx, conf, ready) })
	second := newConfig(t)
	second.Pages = strings.TrimPrefix(news.Pages, "http://")
	if err := Run(t.Context(), second, nil); err == nil || !strings.Contains(err.Error(), "listen for pages") {
		t.Errorf("on a taken address the server ends with %v", err)
	}
	second.Pages, second.KeyFile = "", filepath.Join(t.TempDir(), "again.key")
	launch(t, func(ctx context.Context, ready func(Ready)) error { return Run(ctx, second, ready) })
}
