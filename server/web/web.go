// Package web gives people pages: past work found and looked at, fins counted, briefs and plans, licences, imports.
//
// Invariants: a page asks the services of the contract as the key of whoever signed in, and holds no rights of its own, so that what a role may see is decided in one place; everything can be read and
// searched without JavaScript; all that a page needs is in the program, and its content security policy lets nothing else in; a form changes nothing without its session's token.
//
// Left out: sockets and TLS (server), the pictures' own tiles (server/iiif), JSON (server/rest).
package web

import (
	"errors"
	"log/slog"
	"net/http"
	"time"

	"google.golang.org/grpc"

	pb "platarium/proto/platarium/v1"
)

// Config is what the pages need.
type Config struct {
	Conn   grpc.ClientConnInterface // to the services
	Studio string                   // name of the house, shown at the head of each page
	Secure bool                     // the pages come over TLS: cookies then never travel without
	Log    *slog.Logger
	Now    func() time.Time

	Importer Importer // brings files in; nil if this server has none
	Spool    string   // folder of its own for files that are being brought in; emptied at the start
}

// Site answers for the pages. Safe for concurrent use.
type Site struct {
	conf     Config
	services services
	sessions *sessions
	views    views
	assets   *assets
	imports  *imports // nil if files can't be brought in here
	mux      *http.ServeMux
}

// services are the clients of the contract.
type services struct {
	archive    pb.ArchiveServiceClient
	taxa       pb.TaxaServiceClient
	search     pb.SearchServiceClient
	licensing  pb.LicensingServiceClient
	transfer   pb.TransferServiceClient
	commission pb.CommissionServiceClient
	admin      pb.AdminServiceClient
}

// New makes the pages.
func New(conf Config) (*Site, error) {
	if conf.Conn == nil || conf.Log == nil || conf.Now == nil {
		return nil, errors.New("pages need a connection, a log and a clock")
	}
	c := conf.Conn
	s := &Site{
		conf: conf, sessions: newSessions(conf.Now),
		services: services{
			pb.NewArchiveServiceClient(c), pb.NewTaxaServiceClient(c), pb.NewSearchServiceClient(c), pb.NewLicensingServiceClient(c),
			pb.NewTransferServiceClient(c), pb.NewCommissionServiceClient(c), pb.NewAdminServiceClient(c),
		},
	}
	var err error
	if s.assets, err = loadAssets(); err != nil {
		return nil, err
	}
	if s.views, err = loadViews(s.assets); err != nil {
		return nil, err
	}
	if s.imports, err = newImports(conf.Importer, conf.Spool, conf.Now); err != nil {
		return nil, err
	}
	s.mux = s.routes()
	return s, nil
}

// routes lists every page. Those that change something take POST and a token.
func (s *Site) routes() *http.ServeMux {
	m := http.NewServeMux()
	m.HandleFunc("GET /assets/{mark}/{file}", s.assets.serve)
	m.HandleFunc("GET /signin", s.signIn)
	m.HandleFunc("POST /signin", s.signIn)
	for pattern, page := range map[string]func(*visit) error{
		"GET /{$}":                     func(v *visit) error { return v.redirect("/search") },
		"POST /signout":                s.signOut,
		"GET /search":                  s.search,
		"GET /pictures/{id}":           s.picture,
		"GET /file/{id}/{variant}":     s.file,
		"GET /pictures/{id}/record":    s.record,
		"GET /pictures/{id}/annotate":  s.annotate,
		"POST /pictures/{id}/annotate": s.saveMarks,
		"GET /specimens/{id}":          s.specimen,

		"GET /briefs":                   s.briefs,
		"GET /briefs/new":               s.briefForm,
		"POST /briefs/new":              s.briefForm,
		"GET /briefs/{id}":              s.brief,
		"GET /briefs/{id}/edit":         s.briefForm,
		"POST /briefs/{id}/edit":        s.briefForm,
		"POST /briefs/{id}/choices":     s.planChoose,
		"POST /briefs/{id}/studies":     s.briefStudy,
		"POST /briefs/{id}/checked":     s.briefCheck,
		"POST /briefs/{id}/deliver":     s.briefDeliver,
		"POST /briefs/{id}/delete":      s.briefDelete,
		"GET /briefs/{id}/plan":         s.plan,
		"POST /briefs/{id}/plan":        s.planChoose,
		"POST /briefs/{id}/body":        s.planBody,
		"GET /briefs/{id}/files/{what}": s.planFile,
		"GET /choose":                   s.choose,
		"POST /choose":                  s.choose,
		"GET /licences":                 s.licences,
		"GET /grants":                   s.grants,
		"GET /grants/new":               staffOnly(s.grantForm),
		"POST /grants/new":              staffOnly(s.grantForm),
		"GET /grants/{id}":              s.grant,
		"POST /grants/{id}":             staffOnly(s.grantStep),
		"GET /grants/{id}/edit":         staffOnly(s.grantForm),
		"POST /grants/{id}/edit":        staffOnly(s.grantForm),
		"GET /grants/{id}/amend":        staffOnly(s.grantForm),
		"POST /grants/{id}/amend":       staffOnly(s.grantForm),
		"GET /grants/{id}/files/{what}": s.grantFile,
		"GET /uses/new":                 staffOnly(s.useForm),
		"POST /uses/new":                staffOnly(s.useForm),
		"GET /uses/{id}":                s.useOf,
		"GET /available":                s.available,
		"GET /parties":                  staffOnly(s.parties),
		"GET /parties/new":              staffOnly(s.party),
		"POST /parties/new":             staffOnly(s.party),
		"GET /parties/{id}":             staffOnly(s.party),
		"POST /parties/{id}":            staffOnly(s.party),
		"GET /parties/{id}/history":     s.history,
		"GET /import":                   staffOnly(s.importPage),
		"GET /import/state":             staffOnly(s.importStanding),
		"POST /import/step":             staffOnly(s.importStep),
		"GET /import/files/{file}":      staffOnly(s.importFile),
	} {
		m.HandleFunc(pattern, s.page(page))
	}
	m.HandleFunc("POST /import", s.visited(s.receive)) // reads its own body, which is long
	m.HandleFunc("/", s.page(func(*visit) error { return errNoPage }))
	return m
}

// Close gives up what is being brought in, and waits for it.
func (s *Site) Close() error {
	if s.imports == nil {
		return nil
	}
	return s.imports.close()
}

// ServeHTTP answers a request with the headers that every answer carries.
func (s *Site) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	h := w.Header()
	h.Set("Content-Security-Policy", "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob:; connect-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'")
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("Referrer-Policy", "same-origin")
	h.Set("Cross-Origin-Opener-Policy", "same-origin")
	h.Set("Cache-Control", "no-store")
	if s.conf.Secure {
		h.Set("Strict-Transport-Security", "max-age=31536000")
	}
	var guard http.CrossOriginProtection // a second fence behind the tokens
	guard.Handler(s.mux).ServeHTTP(w, r)
}
