package main

import (
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io/fs"
	"net"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	"platarium/client"
	"platarium/client/manifest"
	"platarium/server/web"
)

// bringer brings in what is dropped on a page by the same import as the command line, over a connection of its own with the visitor's key.
type bringer struct {
	dial func(context.Context) (net.Conn, error)
}

func newBringer(dial func(context.Context) (net.Conn, error)) web.Importer { return bringer{dial} }

func (b bringer) client(key string) (*client.Client, error) {
	return client.Dial(client.Config{Address: "passthrough:///inside", Key: key, Dialer: b.dial})
}

// Prepare finds the tables of a folder. Without a manifest one is drafted beside the folder.
func (b bringer) Prepare(ctx context.Context, job web.ImportJob) (web.ImportTables, error) {
	tables, err := findTables(job.Folder)
	if err != nil || tables.Manifest != "" {
		return tables, err
	}
	c, err := b.client(job.Key)
	if err != nil {
		return tables, err
	}
	d, err := manifest.Draft(ctx, c, manifest.DraftOptions{Folder: job.Folder, Year: time.Now().Year()})
	if err = errors.Join(err, c.Close()); err != nil {
		return tables, err
	}
	if d.Rows == 0 {
		return tables, status.Error(codes.InvalidArgument, "found no pictures and no manifest; want scans (TIFF, PNG, JPEG), or a table that names them")
	}
	for _, l := range d.LeftOut {
		tables.LeftOut = append(tables.LeftOut, l.File+" "+l.Why)
	}
	tables.Manifest, tables.Drafted = filepath.Join(job.Beside, "manifest.csv"), true
	f, err := os.OpenFile(tables.Manifest, os.O_WRONLY|os.O_CREATE|os.O_TRUNC, 0o600)
	if err != nil {
		return tables, err
	}
	return tables, errors.Join(d.Write(f), f.Close())
}

// Import imports, or looks what an import would do.
func (b bringer) Import(ctx context.Context, job web.ImportJob, tables web.ImportTables, dry bool, watch web.ImportWatch) (web.ImportSummary, error) {
	c, err := b.client(job.Key)
	if err != nil {
		return web.ImportSummary{}, err
	}
	opts := manifest.Options{
		Path: tables.Manifest, Specimens: tables.Specimens, Files: filepath.Dir(tables.Manifest), DryRun: dry,
		Rejects: filepath.Join(job.Beside, "rejects.csv"),
		Report: func(r manifest.RowResult) {
			watch.Row(web.ImportRow{
				Table: r.Table, Row: r.Row, File: r.File, Outcome: string(r.Outcome), Name: r.Name, Reason: r.Reason, Rejected: r.Outcome == manifest.Rejected, Remarks: r.Remarks,
			})
		},
		Progress: func(p manifest.Progress) {
			watch.Progress(web.ImportProgress{Stage: p.Stage, Rows: p.Rows, AllRows: p.AllRows, Sent: p.Sent, Fraction: p.Fraction(), Elapsed: p.Elapsed, Left: p.Left()})
		},
	}
	if tables.Drafted {
		opts.Files = job.Folder
	}
	sum, err := manifest.Import(ctx, c, opts)
	err = errors.Join(err, c.Close())
	if errors.Is(err, manifest.ErrUnusable) {
		err = status.Error(codes.InvalidArgument, strings.ReplaceAll(err.Error(), job.Folder+string(filepath.Separator), ""))
	}
	if sum == nil {
		return web.ImportSummary{}, err
	}
	out := web.ImportSummary{Words: sum.String(), Rejected: sum.Rejected()}
	for _, p := range []string{sum.RejectsFile, sum.SpecimenRejects} {
		if p != "" {
			out.Rejects = append(out.Rejects, p)
		}
	}
	return out, err
}

// findTables tells the manifest and the table of specimens by their headers, wherever they lie in the folder; both may be missing.
func findTables(folder string) (web.ImportTables, error) {
	var tables web.ImportTables
	var manifests, animals []string
	err := filepath.WalkDir(folder, func(p string, e fs.DirEntry, err error) error {
		if err != nil || !e.Type().IsRegular() || !slices.Contains([]string{".csv", ".tsv", ".tab"}, strings.ToLower(filepath.Ext(p))) {
			return err
		}
		head, err := headOf(p)
		switch {
		case err != nil:
			return err
		case slices.Contains(head, "file") || slices.Contains(head, "title") && slices.Contains(head, "kind"):
			manifests = append(manifests, p)
		case slices.Contains(head, "catalog_number"):
			animals = append(animals, p)
		}
		return nil
	})
	if err != nil {
		return tables, err
	}
	for _, found := range []struct {
		what string
		list []string
		at   *string
	}{{"manifests", manifests, &tables.Manifest}, {"tables of specimens", animals, &tables.Specimens}} {
		switch len(found.list) {
		case 0:
		case 1:
			*found.at = found.list[0]
		default:
			return tables, status.Error(codes.InvalidArgument, fmt.Sprintf("found %d %s (%s); want one at a time", len(found.list), found.what, strings.Join(baseNames(found.list), ", ")))
		}
	}
	return tables, nil
}

func baseNames(paths []string) []string {
	out := make([]string, len(paths))
	for i, p := range paths {
		out[i] = filepath.Base(p)
	}
	return out
}

// headOf reads the names of a table's columns; none for what is no table.
func headOf(path string) (names []string, err error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	const longest = 64 << 10
	line := make([]byte, longest)
	n, _ := f.Read(line) // an empty file has no columns
	text, _, _ := strings.Cut(strings.TrimPrefix(string(line[:n]), "\ufeff"), "\n")
	r := csv.NewReader(strings.NewReader(text))
	r.LazyQuotes = true
	switch {
	case strings.Contains(text, "\t"):
		r.Comma = '\t'
	case strings.Count(text, ";") > strings.Count(text, ","):
		r.Comma = ';'
	}
	cells, _ := r.Read() // what can't be read is no table of ours
	for _, c := range cells {
		names = append(names, strings.ToLower(strings.NewReplacer(" ", "_", "-", "_").Replace(strings.TrimSpace(c))))
	}
	return names, nil
}
