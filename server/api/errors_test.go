package api

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"log/slog"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	"platarium/indexer"
	"platarium/server/archive"
	"platarium/storage"
	"platarium/storage/journal"
	"platarium/storage/original"
)

// sentinels finds the sentinel errors that the source of a package declares: variables whose name begins with err and that errors.New makes.
func sentinels(t *testing.T, folder string) []string {
	t.Helper()
	files := must[[]string](t)(filepath.Glob(filepath.Join(folder, "*.go")))
	var names []string
	for _, path := range files {
		if strings.HasSuffix(path, "_test.go") {
			continue
		}
		f := must[*ast.File](t)(parser.ParseFile(token.NewFileSet(), path, nil, 0))
		ast.Inspect(f, func(n ast.Node) bool {
			v, ok := n.(*ast.ValueSpec)
			if !ok {
				return true
			}
			for i, name := range v.Names {
				if !strings.HasPrefix(strings.ToLower(name.Name), "err") || i >= len(v.Values) {
					continue
				}
				if call, ok := v.Values[i].(*ast.CallExpr); ok {
					if sel, ok := call.Fun.(*ast.SelectorExpr); ok && sel.Sel.Name == "New" {
						names = append(names, name.Name)
					}
				}
			}
			return true
		})
	}
	return names
}

// Every sentinel that can reach a handler has a row in the table: a code and a reason.
func TestEverySentinelHasARow(t *testing.T) {
	inTable := map[string]bool{}
	for _, r := range table {
		inTable[r.is.Error()] = true
	}
	texts := map[string]map[string]error{
		"archive": {
			"ErrNotFound": archive.ErrNotFound, "ErrExists": archive.ErrExists, "ErrStale": archive.ErrStale, "ErrRequestReused": archive.ErrRequestReused, "ErrNoOriginal": archive.ErrNoOriginal,
			"ErrForgotten": archive.ErrForgotten, "ErrAhead": archive.ErrAhead, "ErrDelivered": archive.ErrDelivered, "ErrDenied": archive.ErrDenied, "ErrLastOwner": archive.ErrLastOwner, "ErrTogether": archive.ErrTogether,
		},
		"indexer": {"ErrClosed": indexer.ErrClosed, "ErrLocked": indexer.ErrLocked},
		"journal": {
			"ErrReadOnly": journal.ErrReadOnly, "ErrUnknownOutcome": journal.ErrUnknownOutcome, "ErrFormat": journal.ErrFormat, "ErrBroken": journal.ErrBroken, "ErrForeign": journal.ErrForeign,
			"ErrTooLarge": journal.ErrTooLarge, "ErrClosed": journal.ErrClosed, "ErrCheckpoint": journal.ErrCheckpoint,
		},
		"original": {"ErrDamaged": original.ErrDamaged, "ErrTooLarge": original.ErrTooLarge},
		"storage": {
			"ErrNotExist": storage.ErrNotExist, "ErrExist": storage.ErrExist, "ErrChecksum": storage.ErrChecksum, "ErrKey": storage.ErrKey, "ErrUnsuitable": storage.ErrUnsuitable, "ErrDoubtful": storage.ErrDoubtful,
		},
	}
	for pkg, folder := range map[string]string{"archive": "../archive", "indexer": "../../indexer", "journal": "../../storage/journal", "original": "../../storage/original", "storage": "../../storage"} {
		found := sentinels(t, folder)
		if len(found) == 0 {
			t.Errorf("no sentinels found in %s", folder)
		}
		for _, name := range found {
			err, known := texts[pkg][name]
			switch {
			case !ast.IsExported(name): // a package's own affair
			case !known:
				t.Errorf("%s.%s isn't known here: add it, and a row to the table", pkg, name)
			case !inTable[err.Error()]:
				t.Errorf("%s.%s has no row in the table", pkg, name)
			}
		}
	}
	own := sentinels(t, ".")
	for _, r := range table {
		if slices.ContainsFunc(own, func(n string) bool { return strings.HasPrefix(n, "err") }) && r.reason == "" {
			t.Errorf("%v has no reason", r.is)
		}
	}
	if rows := len(own); rows > len(table) {
		t.Errorf("the package has %d sentinels, its table %d rows", rows, len(table))
	}
}

// Every row gives its code and reason also for a wrapped error, and what is hidden stays inside.
func TestErrorTable(t *testing.T) {
	const inside = "/var/lib/inside/records.db"
	for _, r := range table {
		st := statusOf(fmt.Errorf("reading %s: %w", inside, r.is))
		if st.Code() != r.code || reason(st.Err()) != r.reason {
			t.Errorf("%v gives %v with reason %q; want %v with %q", r.is, st.Code(), reason(st.Err()), r.code, r.reason)
		}
		if shows := strings.Contains(st.Message(), inside); shows == r.hide {
			t.Errorf("%v says %q; want its insides hidden: %v", r.is, st.Message(), r.hide)
		}
		if r.reason != strings.ToUpper(r.reason) || strings.ContainsAny(r.reason, " -") || r.reason == "" {
			t.Errorf("reason %q isn't UPPER_SNAKE", r.reason)
		}
		if r.code == codes.OK || r.code == codes.Unknown {
			t.Errorf("%v gives the code %v", r.is, r.code)
		}
		p := problemOf(fmt.Errorf("item: %w", r.is))
		if codes.Code(p.GetCode()) != r.code || p.GetReason() != r.reason || p.GetMessage() == "" {
			t.Errorf("%v as one item's problem is %v", r.is, p)
		}
	}
	if statusOf(nil) != nil {
		t.Error("no error gives a status")
	}
	// An unknown outcome isn't called cancelled: the caller has to ask again.
	st := statusOf(fmt.Errorf("%w: %w", journal.ErrUnknownOutcome, context.Canceled))
	if st.Code() != codes.Unavailable {
		t.Errorf("an unknown outcome of a cancelled call gives %v", st.Code())
	}
}

func TestTypedErrors(t *testing.T) {
	for name, c := range map[string]struct {
		err    error
		code   codes.Code
		reason string
		fields []string
	}{
		"violations": {&archive.InvalidError{Violations: []archive.Violation{{Field: "title", Description: "is missing"}, {Field: "structures[2].note", Description: "too long"}}},
			codes.InvalidArgument, "INVALID_FIELD", []string{"title", "structures[2].note"}},
		"search":            {&indexer.FieldError{Field: "filter.taxa[0]", Found: "x", Want: "taxa/{id}"}, codes.InvalidArgument, "INVALID_FIELD", []string{"filter.taxa[0]"}},
		"in use":            {&archive.InUseError{Name: "pictures/x", By: []string{"grants/a", "uses/b"}}, codes.FailedPrecondition, "IN_USE", nil},
		"collision":         {&archive.CollisionError{With: []archive.Collision{{Grant: "grants/a", Witness: "print in DE"}}}, codes.FailedPrecondition, "GRANT_COLLISION", nil},
		"from gRPC":         {status.Error(codes.ResourceExhausted, "message too large"), codes.ResourceExhausted, "TRANSPORT", nil},
		"from gRPC, inside": {fmt.Errorf("storing /inside: %w", status.Error(codes.Canceled, "gone")), codes.Canceled, "TRANSPORT", nil},
		"unknown":           {errors.New("disk /inside is full"), codes.Internal, "INTERNAL", nil},
	} {
		st := statusOf(fmt.Errorf("wrapped: %w", c.err))
		if st.Code() != c.code || reason(st.Err()) != c.reason || !slices.Equal(fieldsOf(st.Err()), c.fields) {
			t.Errorf("%s: %v, reason %q, fields %q", name, st.Code(), reason(st.Err()), fieldsOf(st.Err()))
		}
		if strings.Contains(st.Message(), "/inside") {
			t.Errorf("%s: says %q", name, st.Message())
		}
	}
}

// What the table doesn't know, and a panic, leave as INTERNAL without their text, and are logged once.
func TestUnknownErrorsAreLoggedOnce(t *testing.T) {
	var log bytes.Buffer
	s := &Server{log: slog.New(slog.NewJSONHandler(&log, &slog.HandlerOptions{Level: slog.LevelInfo})), limits: newLimiter()}
	ctx := context.WithValue(t.Context(), principalKey{}, principal{key: "desk-key"})
	if err := s.leave(ctx, "/x/Fine", time.Now(), nil); err != nil || log.Len() > 0 {
		t.Errorf("success gives %v and logs %q", err, log.String())
	}
	if err := s.leave(ctx, "/x/Wrong", time.Now(), archive.ErrNotFound); status.Code(err) != codes.NotFound || log.Len() > 0 {
		t.Errorf("a caller's mistake gives %v and logs %q", err, log.String())
	}
	check := func(err error, secret string) {
		t.Helper()
		if status.Code(err) != codes.Internal || reason(err) != "INTERNAL" || strings.Contains(status.Convert(err).String(), secret) {
			t.Errorf("caller gets %v", err)
		}
		lines := strings.Split(strings.TrimSpace(log.String()), "\n")
		var line struct{ Level, Method, Key, Error string }
		if len(lines) != 1 || json.Unmarshal([]byte(lines[0]), &line) != nil || line.Level != "ERROR" || line.Key != "desk-key" || !strings.Contains(line.Error, secret) {
			t.Errorf("log is %q", log.String())
		}
		log.Reset()
	}
	check(s.leave(ctx, "/x/Broken", time.Now(), errors.New("planted in the deep")), "planted in the deep")
	_, err := guarded(func() (any, error) { panic("planted panic") })
	check(s.leave(ctx, "/x/Panics", time.Now(), err), "planted panic")
	info := &grpc.UnaryServerInfo{FullMethod: openMethods + "Check"} // a method that needs no key
	_, err = s.unary(ctx, nil, info, func(context.Context, any) (any, error) { panic("nil map") })
	check(err, "nil map")
}

// What a server can't read any more leaves without its insides too.
func TestDamageStaysInside(t *testing.T) {
	d := newDesk(t)
	s := newStock(t, d)
	if err := os.RemoveAll(filepath.Join(d.folder, "journal")); err != nil {
		t.Fatal(err)
	}
	_, err := d.records().ListRevisions(d.as(t, "desk-key"), revisionsOf(s.plate))
	if status.Code(err) != codes.DataLoss || reason(err) != "OBJECT_MISSING" || strings.Contains(err.Error(), d.folder) {
		t.Errorf("a missing commit gives %v", err)
	}
	if n := strings.Count(d.log.text(), `"level":"ERROR"`); n != 1 {
		t.Errorf("%d errors were logged; want 1", n)
	}
}
