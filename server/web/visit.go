package web

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"strings"

	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/status"

	pb "platarium/proto/platarium/v1"
)

var (
	// errNoPage: there is no such page. The visitor follows another link.
	errNoPage = errors.New("there is no such page")
	// errToken: a form came without its session's token. The visitor loads the page anew.
	errToken = errors.New("this form is too old, or came from elsewhere: load the page anew and send it again")
)

// maxForm is the longest form, bytes; files have a way of their own.
const maxForm = 1 << 20

// visit is one request by somebody who signed in.
type visit struct {
	*session
	site *Site
	w    http.ResponseWriter
	r    *http.Request
}

// ctx carries the visitor's key to the services.
func (v *visit) ctx() context.Context {
	return metadata.AppendToOutgoingContext(v.r.Context(), "authorization", "Bearer "+v.secret)
}

func (v *visit) staff() bool { return v.role == pb.Role_ROLE_OWNER || v.role == pb.Role_ROLE_ASSISTANT }

// redirect sends the visitor on, by GET.
func (v *visit) redirect(to string) error {
	http.Redirect(v.w, v.r, to, http.StatusSeeOther)
	return nil
}

// page makes a handler of a page: the visitor must have signed in, and a form that changes something must carry the session's token.
func (s *Site) page(do func(*visit) error) http.HandlerFunc {
	return s.visited(func(v *visit) error {
		v.r.Body = http.MaxBytesReader(v.w, v.r.Body, maxForm)
		if v.r.Method != http.MethodGet && v.r.Method != http.MethodHead && !v.hasToken(v.r) {
			return errToken
		}
		return do(v)
	})
}

// visited makes a handler for whoever signed in, and sends others to do so.
func (s *Site) visited(do func(*visit) error) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		who := s.sessions.of(r)
		if who == nil {
			to := "/signin"
			if r.Method == http.MethodGet {
				to += "?next=" + url.QueryEscape(r.URL.RequestURI())
			}
			http.Redirect(w, r, to, http.StatusSeeOther)
			return
		}
		v := &visit{session: who, site: s, w: w, r: r}
		if err := do(v); err != nil {
			v.fail(err)
		}
	}
}

// complaint is what an error page says.
type complaint struct {
	Code   int
	Title  string
	Text   string
	Fields []*errdetails.BadRequest_FieldViolation
}

// fail answers with an error, in words: what a service says is meant for people.
func (v *visit) fail(err error) {
	c := complain(err)
	if c.Code == http.StatusUnauthorized { // the key was revoked or has ended
		v.site.sessions.end(v.r)
		http.SetCookie(v.w, v.site.cookie(""))
		http.Redirect(v.w, v.r, "/signin", http.StatusSeeOther)
		return
	}
	if c.Code >= 500 {
		v.site.conf.Log.Error("page failed", "path", v.r.URL.Path, "error", err)
	}
	if strings.HasPrefix(v.r.Header.Get("Accept"), "application/json") {
		writeJSON(v.w, c.Code, map[string]any{"error": c.Text, "fields": c.Fields})
		return
	}
	if e := v.show(c.Code, "error.html", c.Title, c); e != nil {
		v.site.conf.Log.Error("error page failed", "path", v.r.URL.Path, "error", e)
	}
}

func complain(err error) complaint {
	switch {
	case errors.Is(err, errNoPage):
		return complaint{Code: http.StatusNotFound, Title: "No such page", Text: err.Error()}
	case errors.Is(err, errToken):
		return complaint{Code: http.StatusForbidden, Title: "Form too old", Text: err.Error()}
	}
	st := status.Convert(err)
	c := complaint{Code: http.StatusInternalServerError, Title: "That didn't work", Text: st.Message()}
	switch st.Code() {
	case codes.InvalidArgument, codes.OutOfRange:
		c.Code, c.Title = http.StatusBadRequest, "Something is to be mended"
	case codes.Unauthenticated:
		c.Code = http.StatusUnauthorized
	case codes.PermissionDenied:
		c.Code, c.Title = http.StatusForbidden, "Not open to this key"
	case codes.NotFound:
		c.Code, c.Title = http.StatusNotFound, "Nothing there"
	case codes.FailedPrecondition, codes.Aborted, codes.AlreadyExists:
		c.Code, c.Title = http.StatusConflict, "Not as things stand"
	case codes.ResourceExhausted:
		c.Code, c.Title = http.StatusTooManyRequests, "Too many questions in a short time"
	case codes.Unavailable, codes.DeadlineExceeded:
		c.Code, c.Title = http.StatusServiceUnavailable, "Not to be reached now"
	case codes.Unknown: // an error of this package
		c.Text = "The page couldn't be made; the server's log says more."
	default: // as it was said
	}
	for _, d := range st.Details() {
		if bad, ok := d.(*errdetails.BadRequest); ok {
			c.Fields = append(c.Fields, bad.GetFieldViolations()...)
		}
	}
	return c
}

// named is the resource name that a path holds.
func (v *visit) named(collection string) string {
	return fmt.Sprintf("%s/%s", collection, v.r.PathValue("id"))
}
