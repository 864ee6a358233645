package web

import (
	"context"
	"net/http"
	"net/url"
	"strings"
	"time"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/status"

	pb "platarium/proto/platarium/v1"
)

// signing is what the sign-in page shows.
type signing struct {
	Next  string
	Wrong string
}

// signIn asks for a key, and takes it.
func (s *Site) signIn(w http.ResponseWriter, r *http.Request) {
	v := &visit{site: s, w: w, r: r}
	next := local(r.FormValue("next"))
	code, main := http.StatusOK, signing{Next: next}
	if r.Method == http.MethodPost {
		r.Body = http.MaxBytesReader(w, r.Body, maxForm)
		secret := strings.TrimSpace(r.PostFormValue("key"))
		who, err := s.whose(r.Context(), secret)
		if err == nil {
			http.SetCookie(w, s.cookie(s.sessions.begin(secret, who)))
			http.Redirect(w, r, next, http.StatusSeeOther)
			return
		}
		code, main.Wrong = http.StatusForbidden, "This key isn't known here, or no longer stands. Paste the whole line of the key file."
		if c := status.Code(err); c != codes.Unauthenticated && c != codes.InvalidArgument {
			s.conf.Log.Error("sign-in failed", "error", err)
			code, main.Wrong = http.StatusServiceUnavailable, "The archive can't be reached now. Try again in a moment."
		}
	}
	if err := v.show(code, "signin.html", "Sign in", main); err != nil {
		s.conf.Log.Error("sign-in page failed", "error", err)
	}
}

// whose asks the services whose key it is.
func (s *Site) whose(ctx context.Context, secret string) (*pb.Status, error) {
	if secret == "" || len(secret) > 1000 || strings.ContainsFunc(secret, func(r rune) bool { return r <= ' ' || r > '~' }) {
		return nil, status.Error(codes.InvalidArgument, "no key")
	}
	ctx, cancel := context.WithTimeout(ctx, 10*time.Second)
	defer cancel()
	return s.services.admin.GetStatus(metadata.AppendToOutgoingContext(ctx, "authorization", "Bearer "+secret), &pb.GetStatusRequest{})
}

// local is a path of this site, so that nobody can be sent elsewhere by a link to the sign-in page.
func local(next string) string {
	u, err := url.Parse(next)
	if err != nil || !strings.HasPrefix(next, "/") || strings.HasPrefix(next, "//") || strings.Contains(next, `\`) || u.Host != "" {
		return "/search"
	}
	return next
}

func (s *Site) signOut(v *visit) error {
	s.sessions.end(v.r)
	http.SetCookie(v.w, s.cookie(""))
	return v.redirect("/signin")
}
