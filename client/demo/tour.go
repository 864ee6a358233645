package demo

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"platarium/client"
	"platarium/client/cli"
	"platarium/client/manifest"
	pb "platarium/proto/platarium/v1"
)

// Tour goes through the archive's main uses with the invented studio's matter, and tells what it does.
type Tour struct {
	Client *client.Client
	Dir    string // where the scans are drawn, under scans/
	Out    io.Writer
	Now    func() time.Time

	names     map[string]string // work to picture
	specimens map[string]string // catalog number to specimen
}

func (t *Tour) say(format string, args ...any) { _, _ = fmt.Fprintf(t.Out, format+"\n", args...) }

func (t *Tour) heading(text string) { t.say("\n== %s", text) }

// Run draws and imports the scans, enters the licences, and shows a commission's search and a publisher's question.
func (t *Tour) Run(ctx context.Context) error {
	for _, step := range []func(context.Context) error{t.importScans, t.enterLicences, t.enterBriefs, t.search, t.plan, t.history} {
		if err := step(ctx); err != nil {
			return err
		}
	}
	return nil
}

func (t *Tour) scans() string { return filepath.Join(t.Dir, "scans") }

// importScans draws the scans unless an earlier run has done so, and imports them.
func (t *Tour) importScans(ctx context.Context) error {
	t.heading("Bulk import: the scans of " + Studio().Name + ", an invented studio")
	start := t.Now()
	done := filepath.Join(t.scans(), ManifestName) // written last
	if _, err := os.Stat(done); errors.Is(err, os.ErrNotExist) {
		if err := os.MkdirAll(t.scans(), 0o755); err != nil {
			return err
		}
		scans, err := WriteScans(ctx, t.scans(), ScanOptions{})
		if err != nil {
			return fmt.Errorf("draw the scans: %w", err)
		}
		t.say("drew %d plates, studies and references into %s (%.1f s)", len(scans), t.scans(), t.Now().Sub(start).Seconds())
	}
	start = t.Now()
	t.names, t.specimens = map[string]string{}, map[string]string{}
	sum, err := manifest.Import(ctx, t.Client, manifest.Options{
		Path: done, Specimens: filepath.Join(t.scans(), SpecimensName), Jobs: 4,
		Report: func(r manifest.RowResult) {
			switch {
			case r.Name == "":
			case r.Table == ManifestName:
				t.names[r.Key] = r.Name
			case r.Table == SpecimensName:
				t.specimens[r.Key] = r.Name
			}
			if r.Outcome == manifest.Rejected {
				t.say("%s, row %d: rejected: %s", r.Table, r.Row, r.Reason)
			}
		},
	})
	if err != nil {
		return fmt.Errorf("import: %w", err)
	}
	t.say("specimens: %s", tally(sum.Specimens))
	t.say("pictures:  %s", tally(sum.Pictures))
	t.say("files:     %d sent (%.1f MB), %d were there (%.1f s in all)", sum.FilesSent, float64(sum.BytesSent)/1e6, sum.FilesKnown, t.Now().Sub(start).Seconds())
	missing := 0
	for _, w := range AllWorks() {
		if t.names[w.Key] == "" {
			missing++
		}
	}
	if sum.Rejected() > 0 || missing > 0 {
		return fmt.Errorf("%w: %d rows were rejected and %d works are missing; if another version of the demo drew them, begin anew with --fresh", ErrStudio, sum.Rejected(), missing)
	}
	return nil
}

func tally(n manifest.Tally) string {
	return fmt.Sprintf("%d rows: %d created, %d unchanged, %d updated, %d rejected", n.Rows, n.Created, n.Unchanged, n.Updated, n.Rejected)
}

func (t *Tour) enterLicences(ctx context.Context) error {
	if err := errors.Join(FillDiagnoses(ctx, t.Client), FillClients(ctx, t.Client)); err != nil {
		return err
	}
	t.heading("Grants: never sell the same right twice")
	refused, err := FillLicences(ctx, t.Client, t.names)
	if err != nil {
		return err
	}
	t.say("entered %d clients, %d grants and %d publications", len(Clients()), len(Grants()), len(Uses()))
	for _, r := range refused {
		t.say("refused, as it should be: %s (%s)\n  the archive says: %s", r.Grant.Key, r.Grant.Why, r.Answer)
	}
	return nil
}

// enterBriefs records the commissions, and delivers the one that is done.
func (t *Tour) enterBriefs(ctx context.Context) error {
	t.heading("Briefs: what commissions ask for, and what was done for them")
	if err := FillBriefs(ctx, t.Client, t.names, t.specimens); err != nil {
		return err
	}
	done := 0
	for _, b := range Briefs() {
		if b.Plate != "" {
			done++
		}
	}
	t.say("entered %d briefs, %d of them delivered", len(Briefs()), done)
	return nil
}

// search asks what can serve one of the open commissions.
func (t *Tour) search(ctx context.Context) error {
	b := Briefs()[1] // its species has published counts and well-drawn relatives
	var counts string
	for _, s := range AllSpecies() {
		if s.Name == b.Species {
			counts = s.Formula()
		}
	}
	t.heading(fmt.Sprintf("A commission: %s, %s, for %q", b.Species, strings.Join(b.Views, " and "), b.Title))
	t.say("which earlier drawings of relatives can serve for its %s?\n", strings.Join(b.Structures, ", "))
	res, err := t.Client.Search.SearchPictures(ctx, &pb.SearchPicturesRequest{
		Wanted: &pb.Wanted{Near: b.Species, Counts: counts, Structures: b.Structures, View: pb.View_VIEW_LEFT_LATERAL}, Facets: []string{"family"}, PageSize: 5,
	})
	if err != nil {
		return fmt.Errorf("search: %w", err)
	}
	if len(res.GetHits()) == 0 {
		return fmt.Errorf("%w: the search found nothing", ErrStudio)
	}
	res.Facets = nil
	cli.PrintHits(t.Out, res, 0)
	return nil
}

// history answers a publisher's question about a plate.
func (t *Tour) history(ctx context.Context) error {
	t.heading("A publisher asks: where has this plate been licensed?")
	h, err := t.Client.Licensing.GetHistory(ctx, &pb.GetHistoryRequest{Picture: t.names["P-001"]})
	if err != nil {
		return fmt.Errorf("history: %w", err)
	}
	if len(h.GetEntries()) == 0 {
		return fmt.Errorf("%w: the history is empty", ErrStudio)
	}
	cli.PrintHistory(t.Out, h)
	return nil
}

// Next tells what to try with a program's name, the key's file, and the server's address unless it is the usual one.
func (t *Tour) Next(program, keyFile, server string) {
	t.heading("What to try next, from another terminal")
	t.say("  export PLATARIUM_KEY_FILE=%s", keyFile)
	if server != "" {
		t.say("  export PLATARIUM_SERVER=%s", server)
	}
	for _, line := range []string{
		`search grouper dorsal`,
		`search --near "Serranus subligarius" --structure opercle --view "left lateral" --facet rights`,
		`history ` + t.names["P-008"] + ` --format csv`,
		`available --work ` + t.names["P-026"] + ` --media print.book --territory DE --language de --from 2027-01-01 --to 2028-12-31`,
		`brief list --open`,
		`plan briefs/b-04 --pdf perch-plan.pdf`,
		`check ` + t.names["S-060"],
		`counts check --taxon "Perca fluviatilis" "D XV, I,14; A II,9"`,
		`fetch ` + t.names["P-001"] + ` --variant preview-1600`,
		`verify`,
	} {
		t.say("  %s %s", program, line)
	}
}
