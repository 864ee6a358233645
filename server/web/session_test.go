package web_test

import (
	"io"
	"net/http"
	"net/url"
	"strings"
	"testing"
)

// ask sends a request without following what it leads to, and returns the answer with its body read.
func (h *house) ask(t *testing.T, method, path string, form url.Values, cookie *http.Cookie) (*http.Response, string) {
	t.Helper()
	req, err := http.NewRequestWithContext(t.Context(), method, h.at+path, strings.NewReader(form.Encode()))
	if err != nil {
		t.Fatal(err)
	}
	req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	if cookie != nil {
		req.AddCookie(cookie)
	}
	res, err := http.DefaultTransport.RoundTrip(req)
	if err != nil {
		t.Fatal(err)
	}
	b, err := io.ReadAll(res.Body)
	if err != nil {
		t.Fatal(err)
	}
	if err := res.Body.Close(); err != nil {
		t.Fatal(err)
	}
	return res, string(b)
}

func TestSessions(t *testing.T) {
	h := open(t, nil)
	res, body := h.ask(t, "POST", "/signin", url.Values{"key": {"not-the-key"}, "next": {"/licences"}}, nil)
	if res.StatusCode != http.StatusForbidden || len(res.Cookies()) != 0 || strings.Contains(body, "not-the-key") {
		t.Errorf("a wrong key was answered %d with %v", res.StatusCode, res.Cookies())
	}
	res, _ = h.ask(t, "POST", "/signin", url.Values{"key": {h.keys["owner"]}, "next": {"/licences?x=1"}}, nil)
	if res.StatusCode != http.StatusSeeOther || res.Header.Get("Location") != "/licences?x=1" || len(res.Cookies()) != 1 {
		t.Fatalf("the right key was answered %d, to %s", res.StatusCode, res.Header.Get("Location"))
	}
	c := res.Cookies()[0]
	if !c.HttpOnly || c.SameSite != http.SameSiteStrictMode || c.Path != "/" || c.MaxAge <= 0 || c.Secure || strings.Contains(c.Value, h.keys["owner"]) {
		t.Errorf("the cookie is %v", c)
	}
	for _, path := range []string{"/", "/search", "/pictures/perch-plate", "/pictures/perch-plate/annotate"} {
		if res, _ := h.ask(t, "GET", path, nil, &http.Cookie{Name: c.Name, Value: strings.Repeat("0", 64)}); res.StatusCode != http.StatusSeeOther || !strings.HasPrefix(res.Header.Get("Location"), "/signin?next=") {
			t.Errorf("%s with a made-up cookie was answered %d", path, res.StatusCode)
		}
		if res, _ := h.ask(t, "GET", path, nil, c); res.StatusCode >= 400 {
			t.Errorf("%s was answered %d", path, res.StatusCode)
		}
	}
	_, body = h.ask(t, "GET", "/licences", nil, c)
	token := tokenIn.FindStringSubmatch(body)[1]
	for _, bad := range []string{"", "x", strings.Repeat("0", len(token))} {
		for _, path := range []string{"/signout", "/pictures/perch-plate/annotate"} {
			if res, _ := h.ask(t, "POST", path, url.Values{"token": {bad}}, c); res.StatusCode != http.StatusForbidden {
				t.Errorf("%s with the token %q was answered %d", path, bad, res.StatusCode)
			}
		}
	}
	if res, _ := h.ask(t, "POST", "/signout", url.Values{"token": {token}}, c); res.StatusCode != http.StatusSeeOther || res.Cookies()[0].MaxAge >= 0 {
		t.Errorf("signing out was answered %d with %v", res.StatusCode, res.Cookies())
	}
	if res, _ := h.ask(t, "GET", "/licences", nil, c); res.StatusCode != http.StatusSeeOther {
		t.Errorf("after signing out a page was answered %d", res.StatusCode)
	}
}

// TestNobodyIsSentElsewhere: a link to the sign-in page can't lead out of the site.
func TestNobodyIsSentElsewhere(t *testing.T) {
	h := open(t, nil)
	for next, want := range map[string]string{
		"/licences": "/licences", "": "/search", "https://elsewhere.example/": "/search", "//elsewhere.example": "/search", `/\elsewhere.example`: "/search", "/\t/elsewhere.example": "/search",
		"javascript:alert(1)": "/search", "search": "/search", "///elsewhere.example": "/search", `\\elsewhere.example`: "/search",
	} {
		res, _ := h.ask(t, "POST", "/signin", url.Values{"key": {h.keys["owner"]}, "next": {next}}, nil)
		if got := res.Header.Get("Location"); got != want {
			t.Errorf("next=%q leads to %q; want %q", next, got, want)
		}
	}
}

// TestHeaders: whatever is answered, scripts of others and frames stay out.
func TestHeaders(t *testing.T) {
	h := open(t, nil)
	res, _ := h.ask(t, "POST", "/signin", url.Values{"key": {h.keys["owner"]}}, nil)
	c := res.Cookies()[0]
	for _, ask := range []struct {
		method, path string
		cookie       *http.Cookie
	}{
		{"GET", "/signin", nil}, {"GET", "/search", nil}, {"GET", "/search", c}, {"GET", "/pictures/perch-plate", c}, {"GET", "/pictures/none-such", c}, {"GET", "/no/such/page", c}, {"GET", "/assets/0/none.css", nil},
		{"POST", "/signout", c}, {"POST", "/search", c}, {"GET", "/pictures/perch-plate/annotate", c}, {"GET", "/file/perch-plate/original", c},
	} {
		res, body := h.ask(t, ask.method, ask.path, nil, ask.cookie)
		csp := res.Header.Get("Content-Security-Policy")
		for _, want := range []string{"default-src 'none'", "script-src 'self'", "frame-ancestors 'none'", "base-uri 'none'", "form-action 'self'"} {
			if !strings.Contains(csp, want) {
				t.Errorf("%s %s: the policy %q lacks %q", ask.method, ask.path, csp, want)
			}
		}
		if strings.Contains(csp, "unsafe") || res.Header.Get("X-Content-Type-Options") != "nosniff" || !strings.Contains(res.Header.Get("Cache-Control"), "no-store") {
			t.Errorf("%s %s has the headers %v", ask.method, ask.path, res.Header)
		}
		for _, inline := range []string{"<style", "<script>", " style=", " onclick=", " onload="} {
			if strings.Contains(body, inline) {
				t.Errorf("%s %s holds %q, which the policy forbids", ask.method, ask.path, inline)
			}
		}
	}
}
