package main

import (
	"net/http"
	"net/url"
	"testing"
)

// plainVisitor signs in without a browser, and asks for pages as one without JavaScript does.
func plainVisitor(t *testing.T, pages, key string) *http.Client {
	t.Helper()
	jar := &oneCookie{}
	c := &http.Client{Jar: jar, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	res, err := c.PostForm(pages+"/signin", url.Values{"key": {key}})
	if err != nil {
		t.Fatal(err)
	}
	_ = res.Body.Close()
	if res.StatusCode != http.StatusSeeOther || jar.cookie == nil {
		t.Fatalf("signing in was answered %s", res.Status)
	}
	return c
}

// oneCookie keeps the last cookie set.
type oneCookie struct{ cookie *http.Cookie }

func (j *oneCookie) SetCookies(_ *url.URL, list []*http.Cookie) {
	for _, c := range list {
		j.cookie = c
	}
}

func (j *oneCookie) Cookies(*url.URL) []*http.Cookie {
	if j.cookie == nil || j.cookie.MaxAge < 0 {
		return nil
	}
	return []*http.Cookie{{Name: j.cookie.Name, Value: j.cookie.Value}}
}
