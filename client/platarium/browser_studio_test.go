package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"

	"google.golang.org/protobuf/types/known/fieldmaskpb"

	"platarium/client"
	"platarium/client/demo"
	"platarium/client/manifest"
	pb "platarium/proto/platarium/v1"
	"platarium/server"
)

// studioSite is a server with pages and some of the invented studio's works, drawn small; all tests of pages share it. A test that changes a record takes one that no other test looks at.
type studioSite struct {
	pages     string            // address
	keys      map[string]string // secrets by role
	names     map[string]string // pictures by the works' keys
	specimens map[string]string
	owner     *client.Client
}

// studioWorks are the works that the site holds.
var studioWorks = []string{"P-007", "S-015", "R-020", "S-060", "S-061", "S-062", "S-053", "P-034", "S-058", "S-019", "P-010"}

func studio(t testing.TB) *studioSite {
	t.Helper()
	s, err := openStudio()
	if err != nil {
		t.Fatal(err)
	}
	return s
}

var openStudio = sync.OnceValues(func() (*studioSite, error) {
	dir, err := os.MkdirTemp("", "platarium-studio-")
	if err != nil {
		return nil, err
	}
	ctx, cancel := context.WithCancel(context.Background())
	conf := server.Config{
		Store: "dir:" + filepath.Join(dir, "store"), Cache: filepath.Join(dir, "cache"), Listen: "127.0.0.1:0", Pages: "127.0.0.1:0", KeyFile: filepath.Join(dir, "owner.key"),
		Studio: demo.Studio().Name, TimeZone: demo.Studio().TimeZone, Workers: 2, Importer: newBringer,
	}
	ready, ended := make(chan server.Ready, 1), make(chan error, 1)
	go func() { ended <- server.Run(ctx, conf, func(r server.Ready) { ready <- r }) }()
	atEnd(func() {
		cancel()
		<-ended
		_ = os.RemoveAll(dir) // a leftover in the temporary folder harms nobody
	})
	select {
	case r := <-ready:
		return fillStudio(ctx, dir, conf.KeyFile, r)
	case err := <-ended:
		ended <- err
		return nil, fmt.Errorf("the server didn't start: %w", err)
	}
})

func fillStudio(ctx context.Context, dir, keyFile string, r server.Ready) (*studioSite, error) {
	secret, err := os.ReadFile(keyFile)
	if err != nil {
		return nil, err
	}
	s := &studioSite{pages: r.Pages, keys: map[string]string{"owner": strings.TrimSpace(string(secret))}, names: map[string]string{}, specimens: map[string]string{}}
	if s.owner, err = client.Dial(client.Config{Address: r.Address, Key: s.keys["owner"]}); err != nil {
		return nil, err
	}
	atEnd(func() { _ = s.owner.Close() })
	scans := filepath.Join(dir, "scans")
	if _, err := demo.WriteScans(ctx, scans, demo.ScanOptions{PPIFactor: 0.4, Keep: func(w demo.Work) bool { return slices.Contains(studioWorks, w.Key) }}); err != nil {
		return nil, err
	}
	sum, err := manifest.Import(ctx, s.owner, manifest.Options{
		Path: filepath.Join(scans, demo.ManifestName), Specimens: filepath.Join(scans, demo.SpecimensName), Jobs: 2,
		Report: func(row manifest.RowResult) {
			if row.Table == demo.SpecimensName {
				s.specimens[row.Key] = row.Name
			} else {
				s.names[row.Key] = row.Name
			}
		},
	})
	if err != nil || sum.Rejected() > 0 || len(s.names) != len(studioWorks) {
		return nil, fmt.Errorf("import: %d rejected, %d of %d works: %w", sum.Rejected(), len(s.names), len(studioWorks), err)
	}
	for _, step := range []func() error{
		func() error { return demo.FillDiagnoses(ctx, s.owner) }, func() error { return demo.FillClients(ctx, s.owner) },
		func() error { return demo.FillBriefs(ctx, s.owner, s.names, s.specimens) }, func() error { return s.license(ctx) }, func() error { return s.handOutKeys(ctx) },
	} {
		if err := step(); err != nil {
			return nil, err
		}
	}
	return s, s.untilPreviewed(ctx)
}

// license enters two of the studio's grants and a use, over works that the site holds.
func (s *studioSite) license(ctx context.Context) error {
	works := []string{s.names["P-007"], s.names["P-034"]}
	for id, g := range map[string]*pb.Grant{
		"field-guide": {Licensee: "parties/quillfin", Exclusivity: pb.Exclusivity_EXCLUSIVITY_EXCLUSIVE, Scope: &pb.Scope{Works: works, Media: []string{"print.book.fieldguide"}, Territories: []string{"WORLD", "-DE"}, Languages: []string{"en"}, From: "2016-04-01", To: "2029-03-31"}},
		"wall-panel":  {Licensee: "parties/nnhm", Exclusivity: pb.Exclusivity_EXCLUSIVITY_NON_EXCLUSIVE, Scope: &pb.Scope{Works: works[:1], Media: []string{"display"}, Territories: []string{"GB"}, Languages: []string{"*"}, From: "2020-01-01"}},
	} {
		g.Status, g.SignedOn, g.Kind = pb.GrantStatus_GRANT_STATUS_EXECUTED, g.GetScope().GetFrom(), pb.GrantKind_GRANT_KIND_LICENCE
		if _, err := s.owner.Licensing.CreateGrant(ctx, &pb.CreateGrantRequest{Grant: g, GrantId: id}); err != nil {
			return err
		}
	}
	_, err := s.owner.Licensing.CreateUse(ctx, &pb.CreateUseRequest{UseId: "first-guide", Use: &pb.Use{User: "parties/quillfin", Grant: "grants/field-guide", Title: "Sea basses at a glance", Copies: 2000,
		Scope: &pb.Scope{Works: works[:1], Media: []string{"print.book.fieldguide"}, Territories: []string{"GB"}, Languages: []string{"en"}, From: "2017-05-02", To: "2017-05-02"}}})
	return err
}

func (s *studioSite) handOutKeys(ctx context.Context) error {
	for role, key := range map[string]*pb.Key{
		"assistant": {DisplayName: "desk", Role: pb.Role_ROLE_ASSISTANT}, "publisher": {DisplayName: "Quillfin's desk", Role: pb.Role_ROLE_PUBLISHER, Party: "parties/quillfin"},
	} {
		res, err := s.owner.Admin.CreateKey(ctx, &pb.CreateKeyRequest{Key: key})
		if err != nil {
			return err
		}
		s.keys[role] = res.GetSecret()
	}
	return nil
}

// untilPreviewed waits until every preview is made.
func (s *studioSite) untilPreviewed(ctx context.Context) error {
	stream, err := s.owner.Admin.WaitDerived(ctx, &pb.WaitDerivedRequest{})
	if err != nil {
		return err
	}
	for {
		news, err := stream.Recv()
		if err != nil {
			return fmt.Errorf("wait for previews: %w", err)
		}
		if news.GetFailed() > 0 {
			return errors.New("a scan of the studio has no preview")
		}
		if news.GetPending() == 0 {
			return nil
		}
	}
}

func maskOf(paths ...string) *fieldmaskpb.FieldMask { return &fieldmaskpb.FieldMask{Paths: paths} }
