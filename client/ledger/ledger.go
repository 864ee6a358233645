// Package ledger brings an old ledger of licences into an archive: a table with one agreement a row.
//
// Invariants: nothing is lost or settled in silence: an unknown column is refused, a licensee is taken only by its id or exact name and the party that it was
// taken for is reported, rows that collide with each other or with what is there are rejected or, if so asked, recorded with their collisions, and what the
// ledger lacks is listed: times between agreements of a series, running numbers, signed documents; a row that says the same is the same grant, so that an import may be repeated; a bad row doesn't sink the rest.
//
// Left out: uses.
package ledger

import (
	"bytes"
	"cmp"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"slices"
	"strings"

	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	"platarium/client"
	pb "platarium/proto/platarium/v1"
	"platarium/server/rights"
)

// Options say how a ledger is imported.
type Options struct {
	Path             string
	DryRun           bool // only check: nothing is stored
	RecordCollisions bool // store colliding rows with a note of what they collide with; owners only
	Report           func(Result)
}

// State is what became of a row.
type State string

// The states.
const (
	Stored     State = "stored"
	There      State = "there already"
	Recorded   State = "recorded with collisions"
	Acceptable State = "acceptable" // in a dry run
	Rejected   State = "rejected"
)

// Result is what became of one row.
type Result struct {
	Line     int      `json:"line"` // of the file, from 2 on
	State    State    `json:"state"`
	Grant    string   `json:"grant,omitempty"`
	Party    string   `json:"party,omitempty"`
	Called   string   `json:"called,omitempty"`   // what the party is called
	Collides []string `json:"collides,omitempty"` // lines of this file ("line 4") and grants
	Reason   string   `json:"reason,omitempty"`   // of a rejection
	Warnings []string `json:"warnings,omitempty"`
}

// Summary is what became of a ledger.
type Summary struct {
	Rows    int           `json:"rows"`
	States  map[State]int `json:"states"`
	Gaps    []Gap         `json:"gaps,omitempty"`
	Numbers []Numbers     `json:"numbers,omitempty"` // series with missing or doubled numbers
	Rejects string        `json:"rejects,omitempty"` // file of the rejected rows

	Unnumbered   []int          `json:"unnumbered,omitempty"` // lines without a running number, in a ledger that has them
	Undocumented []Undocumented `json:"undocumented,omitempty"`
	NoDocuments  bool           `json:"no_documents,omitempty"` // the ledger has no column of documents
}

// importer is one import under way.
type importer struct {
	opts    Options
	c       *client.Client
	parties *parties
	book    *rights.Book   // the rows that went in, or would
	lines   map[string]int // by grant
	reasons map[int]string // of rejected rows
	in      []placed       // for gaps
	numbers []numbered
	sum     *Summary

	docs                 *documents
	numbered, documented bool // the ledger has such a column
}

type placed struct {
	line int
	row  *row
}

// Import brings a ledger in. The error is about the file as a whole (ErrUnusable) or about the server; what is wrong with a row stands in its result.
func Import(ctx context.Context, c *client.Client, opts Options) (*Summary, error) {
	t, err := readTable(opts.Path)
	if err != nil {
		return nil, err
	}
	im := &importer{opts: opts, c: c, lines: map[string]int{}, reasons: map[int]string{}, sum: &Summary{Rows: len(t.rows), States: map[State]int{}}}
	if im.parties, err = allParties(ctx, c); err != nil {
		return nil, err
	}
	if im.book, err = rights.NewBook(nil); err != nil {
		return nil, err
	}
	if im.docs, err = openDocuments(opts.Path); err != nil {
		return nil, err
	}
	defer func() { _ = im.docs.root.Close() }()
	im.numbered, im.documented = t.has("number"), t.has("document")
	im.sum.NoDocuments = !im.documented
	for i, rec := range t.rows {
		res, err := im.one(ctx, t, rec)
		if err != nil {
			return im.sum, errors.Join(fmt.Errorf("line %d: %w", rec.line, err), im.writeRejects(t))
		}
		if res.State == Rejected {
			im.reasons[i] = res.Reason
		}
		im.sum.States[res.State]++
		if opts.Report != nil {
			opts.Report(res)
		}
	}
	im.sum.Gaps, im.sum.Numbers = gaps(im.in), oddities(im.numbers)
	return im.sum, im.writeRejects(t)
}

// one brings in one row.
func (im *importer) one(ctx context.Context, t *table, rec record) (Result, error) {
	res := Result{Line: rec.line, State: Rejected}
	r, faults := read(t, rec)
	im.noteNumber(r, rec.line)
	if r.licensee != "" {
		party, err := im.parties.find(r.licensee)
		if err != nil {
			faults = append(faults, err.Error())
		}
		r.grant.Licensee, res.Party, res.Called = party, party, im.parties.names[party]
	}
	if len(faults) > 0 {
		res.Reason = strings.Join(faults, "; ")
		return res, nil
	}
	id, err := r.id()
	if err != nil {
		return res, err
	}
	name := "grants/" + id
	if line, twice := im.lines[name]; twice {
		res.State, res.Grant, res.Reason = There, name, fmt.Sprintf("says the same as line %d", line)
		return res, nil
	}
	document, err := im.document(ctx, r, rec.line)
	if err != nil {
		return res, err
	}
	r.grant.DocumentSha256 = document // not part of the id: it may turn up later
	if err := im.store(ctx, r, id, &res); err != nil || res.State == Rejected {
		return res, err
	}
	res.Grant, im.lines[name] = name, rec.line
	im.in = append(im.in, placed{rec.line, r})
	return res, im.book.Put(r.asGrant(name))
}

// noteNumber takes the running number of a row, whatever becomes of the row.
func (im *importer) noteNumber(r *row, line int) {
	if !im.numbered {
		return
	}
	if n, is := readNumber(r.number, line); is {
		im.numbers = append(im.numbers, n)
	} else {
		im.sum.Unnumbered = append(im.sum.Unnumbered, line)
	}
}

// without is s unless it is other.
func without(s, other string) string {
	if s == other {
		return ""
	}
	return s
}

// store asks the server, and asks again with leave to collide where that was wanted.
func (im *importer) store(ctx context.Context, r *row, id string, res *Result) error {
	if old, err := im.c.Licensing.GetGrant(ctx, &pb.GetGrantRequest{Name: "grants/" + id}); err == nil {
		res.State, res.Collides = There, old.GetCollidesWith()
		return im.addDocument(ctx, old, r.grant.GetDocumentSha256())
	} else if status.Code(err) != codes.NotFound {
		return err
	}
	collides := false
	req := &pb.CreateGrantRequest{Grant: r.grant, GrantId: id, RequestId: id, ValidateOnly: im.opts.DryRun}
	made, err := im.c.Licensing.CreateGrant(ctx, req)
	if names := collisionsOf(err); len(names) > 0 {
		for _, n := range names {
			if line, ours := im.lines[n]; !ours {
				res.Collides = append(res.Collides, n)
			} else if text := fmt.Sprintf("line %d", line); !slices.Contains(res.Collides, text) {
				res.Collides = append(res.Collides, text)
			}
		}
		collides = true
		if im.opts.RecordCollisions {
			req.AllowCollision, req.RequestId = true, id+"-collides"
			made, err = im.c.Licensing.CreateGrant(ctx, req)
		}
	}
	if err == nil && im.opts.DryRun {
		if err := im.amongRows(r, "grants/"+id, res); err != nil {
			return err
		}
		collides = collides || len(res.Collides) > 0
	}
	switch {
	case collides && !im.opts.RecordCollisions:
		res.Reason = "collides with " + strings.Join(res.Collides, ", ") + "; an old contract that stands nevertheless goes in with --record-collisions"
		return nil
	case status.Code(err) == codes.InvalidArgument || status.Code(err) == codes.FailedPrecondition:
		res.Reason = status.Convert(err).Message()
		return nil
	case err != nil:
		return err
	}
	res.Warnings = made.GetWarnings()
	switch {
	case im.opts.DryRun:
		res.State = Acceptable
	case collides:
		res.State = Recorded
	default:
		res.State = Stored
	}
	return nil
}

// amongRows finds the rows before it that a row collides with: in a dry run the server doesn't know them.
func (im *importer) amongRows(r *row, name string, res *Result) error {
	if r.grant.GetStatus() != pb.GrantStatus_GRANT_STATUS_EXECUTED {
		return nil // it promises nothing
	}
	clashes, err := im.book.Try(r.asGrant(name))
	for _, clash := range clashes {
		res.Collides = append(res.Collides, fmt.Sprintf("line %d", im.lines[cmp.Or(without(clash.A, name), clash.B)]))
	}
	return err
}

// collisionsOf are the grants that a refusal names as standing in the way.
func collisionsOf(err error) (names []string) {
	for _, d := range status.Convert(err).Details() {
		if p, ok := d.(*errdetails.PreconditionFailure); ok {
			for _, v := range p.GetViolations() {
				if v.GetType() == "GRANT_COLLISION" {
					names = append(names, v.GetSubject())
				}
			}
		}
	}
	return names
}

// writeRejects writes the rejected rows beside the ledger; a dry run writes nothing.
func (im *importer) writeRejects(t *table) error {
	if len(im.reasons) == 0 || im.opts.DryRun {
		return nil
	}
	data, err := t.rejects(im.reasons)
	if err != nil {
		return err
	}
	if im.sum.Rejects, err = writeBeside(im.opts.Path, data); err != nil {
		return fmt.Errorf("write the rejected rows: %w", err)
	}
	return nil
}

// writeBeside writes LEDGER.rejects.csv, or LEDGER.rejects-2.csv and so on where a file of that name holds something else: somebody may be mending it.
func writeBeside(ledger string, data []byte) (string, error) {
	for n := 1; ; n++ {
		path := ledger + ".rejects.csv"
		if n > 1 {
			path = fmt.Sprintf("%s.rejects-%d.csv", ledger, n)
		}
		f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
		if errors.Is(err, fs.ErrExist) {
			there, err := os.ReadFile(path)
			if err != nil || bytes.Equal(there, data) {
				return path, err
			}
			continue
		}
		if err != nil {
			return "", err
		}
		_, err = f.Write(data)
		return path, errors.Join(err, f.Close())
	}
}
