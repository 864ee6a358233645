package taxaimport

import (
	"context"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"golang.org/x/sync/errgroup"
	"google.golang.org/protobuf/proto"

	"platarium/client"
	"platarium/indexer/meristic"
	"platarium/indexer/taxon"
	pb "platarium/proto/platarium/v1"
)

// DiagnosisOptions say which table to import and how.
type DiagnosisOptions struct {
	Path     string
	DryRun   bool                  // compare and store nothing
	Report   func(DiagnosisResult) // told of every row once, one call at a time
	Progress func(Progress)        // told now and then, one call at a time
}

// DiagnosisResult is what became of one row.
type DiagnosisResult struct {
	File       string      `json:"file"`
	Row        int         `json:"row"` // from 1, the heading included
	Species    string      `json:"species,omitempty"`
	Outcome    Outcome     `json:"outcome"`
	Taxon      string      `json:"taxon,omitempty"`
	Formula    string      `json:"formula,omitempty"`
	Citation   string      `json:"citation,omitempty"`
	Fault      *Fault      `json:"fault,omitempty"`
	Candidates []Candidate `json:"candidates,omitempty"`
	Remarks    []string    `json:"remarks,omitempty"`
}

// diagnosis is a row on its way.
type diagnosis struct {
	*diagRow
	DiagnosisResult
	stated *pb.Diagnosis
	match  *pb.NameMatch
}

func (d *diagnosis) reject(f Fault) { d.Outcome, d.Fault = Rejected, &f }

// gathered is a taxon with the rows that speak of it.
type gathered struct {
	record *pb.Taxon
	rows   []*diagnosis
	dirty  bool
}

// diagnoser is one import of diagnoses.
type diagnoser struct {
	opts    DiagnosisOptions
	c       *client.Client
	rows    []*diagnosis
	taxa    map[string]*gathered
	since   int64
	begun   time.Time
	summary Summary
}

// ImportDiagnoses adds published counts to taxa. A taxon never gets two diagnoses of one publication: the same counts are left alone, others take their place.
// The summary is there whenever the table could be read. After an error the same import may be repeated.
func ImportDiagnoses(ctx context.Context, c *client.Client, opts DiagnosisOptions) (*Summary, error) {
	rows, err := readDiagnoses(opts.Path)
	if err != nil {
		return nil, err
	}
	d := &diagnoser{opts: opts, c: c, taxa: map[string]*gathered{}, begun: time.Now()}
	file := filepath.Base(opts.Path)
	for _, r := range rows {
		row := &diagnosis{diagRow: r, DiagnosisResult: DiagnosisResult{File: file, Row: r.line, Species: r.cell(colSpecies), Citation: r.cell(colSource)}}
		if r.fault != nil {
			row.reject(*r.fault)
		}
		d.rows = append(d.rows, row)
	}
	d.summary = Summary{DryRun: opts.DryRun, Tally: Tally{Rows: len(rows), NotReached: len(rows)}}
	for _, stage := range []func(context.Context) error{d.find, d.fetch, d.read, d.store} {
		if err = stage(ctx); err != nil {
			break
		}
	}
	d.summary.Elapsed = time.Since(d.begun)
	return &d.summary, err
}

// open lists the rows that weren't rejected.
func (d *diagnoser) open() []*diagnosis {
	return slices.DeleteFunc(slices.Clone(d.rows), func(r *diagnosis) bool { return r.Outcome == Rejected })
}

// find asks which taxa the names mean. Only a name as it is spelled, of one taxon, is taken.
func (d *diagnoser) find(ctx context.Context) error {
	status, err := d.c.Admin.GetStatus(ctx, &pb.GetStatusRequest{})
	if err != nil {
		return fmt.Errorf("ask the server how it is: %w", err)
	}
	d.since = status.GetSequence()
	rows := d.open()
	for at, batch := range slices.Collect(slices.Chunk(rows, namesAtOnce)) {
		names := make([]string, len(batch))
		for i, r := range batch {
			names[i] = r.Species
		}
		found, err := match(ctx, d.c.Taxa, names, 3)
		if err != nil {
			return err
		}
		for i, m := range found {
			batch[i].judge(m.GetCandidates())
		}
		d.progress("names", min((at+1)*namesAtOnce, len(rows)), len(rows))
	}
	return nil
}

func (d *diagnosis) judge(found []*pb.NameMatch) {
	exact := len(found) > 0 && found[0].GetExact() && settled(d.Species)
	single := len(found) < 2 || !found[1].GetExact() || found[1].GetScore() < found[0].GetScore()
	if exact && single {
		d.match, d.Taxon = found[0], found[0].GetAccepted()
		if t := found[0].GetTaxon(); t.GetName() != d.Taxon {
			d.Remarks = append(d.Remarks, fmt.Sprintf("%s is %s", t.GetScientificName(), found[0].GetReason()))
		}
		return
	}
	for _, c := range found {
		d.Candidates = append(d.Candidates, Candidate{Name: c.GetAcceptedName(), Taxon: c.GetAccepted(), Reason: c.GetReason()})
	}
	wanted := "a name as the archive spells it; add the species first if it isn't there"
	if exact {
		wanted = "a name that means one taxon"
	}
	d.reject(Fault{Column: colSpecies, Found: d.Species, Wanted: wanted})
}

// fetch gets the records of the taxa, each once.
func (d *diagnoser) fetch(ctx context.Context) error {
	for _, r := range d.open() {
		if d.taxa[r.Taxon] == nil {
			d.taxa[r.Taxon] = &gathered{}
		}
		d.taxa[r.Taxon].rows = append(d.taxa[r.Taxon].rows, r)
	}
	return d.each(ctx, func(ctx context.Context, name string, g *gathered) error {
		var err error
		if g.record, err = d.c.Taxa.GetTaxon(ctx, &pb.GetTaxonRequest{Name: name}); err != nil {
			return fmt.Errorf("get %s: %w", name, err)
		}
		return d.family(ctx, name, g)
	})
}

// family fills in the family of rows that name none.
func (d *diagnoser) family(ctx context.Context, name string, g *gathered) error {
	if !slices.ContainsFunc(g.rows, func(r *diagnosis) bool { return r.cell("family") == "" }) {
		return nil
	}
	line, err := d.c.Taxa.GetLineage(ctx, &pb.GetLineageRequest{Name: name})
	if err != nil {
		return fmt.Errorf("ask for the lineage of %s: %w", name, err)
	}
	for _, t := range line.GetTaxa() {
		for _, r := range g.rows {
			if t.GetRank() == taxon.Family.String() && r.cell("family") == "" {
				r.cells["family"] = t.GetScientificName()
			}
		}
	}
	return nil
}

// each calls f with every taxon, some at once.
func (d *diagnoser) each(ctx context.Context, f func(context.Context, string, *gathered) error) error {
	eg, ctx := errgroup.WithContext(ctx)
	eg.SetLimit(changesAtOnce)
	for name, g := range d.taxa {
		eg.Go(func() error { return f(ctx, name, g) })
	}
	return eg.Wait()
}

// read builds the formulae and lays them over what the taxa have, in the order of the table.
func (d *diagnoser) read(context.Context) error {
	for _, r := range d.open() {
		c := formulaOf(r.cell, meristic.SoftRayedFamily(r.cell("family")))
		switch r.Remarks = append(r.Remarks, c.remarks...); {
		case c.fault != nil:
			r.reject(*c.fault)
			continue
		case len(c.statements) == 0:
			r.reject(Fault{Reason: "the row has no count"})
			continue
		}
		r.Formula = c.formula()
		r.stated = &pb.Diagnosis{Counts: &pb.Counts{Formula: r.Formula}, Citation: r.Citation, Provenance: provenance(r, c.notes)}
		d.taxa[r.Taxon].lay(r)
	}
	return nil
}

// provenance tells where a statement comes from, under which licence, and what was said beside the counts: conventions of counting, usual values, doubts.
func provenance(r *diagnosis, notes []string) string {
	parts := []string{r.cell("provenance")}
	for _, p := range [][2]string{{"read in", r.cell("where_read")}, {"licence", r.cell("licence")}, {"notes", strings.Join(notes, "; ")}} {
		if p[1] != "" {
			parts = append(parts, p[0]+": "+p[1])
		}
	}
	if parts[0] == "" {
		parts = parts[1:]
	}
	return strings.Join(parts, ". ")
}

// lay puts a row's diagnosis beside those that the taxon has, or in the place of the one of the same publication.
func (g *gathered) lay(r *diagnosis) {
	at := slices.IndexFunc(g.record.GetDiagnoses(), func(p *pb.Diagnosis) bool { return sameCitation(p.GetCitation(), r.Citation) })
	if at < 0 {
		g.record.Diagnoses = append(g.record.Diagnoses, r.stated)
		r.Outcome, g.dirty = Added, true
		return
	}
	there := g.record.Diagnoses[at]
	same := there.GetCounts().GetFormula() == r.Formula && there.GetProvenance() == r.stated.GetProvenance()
	for _, earlier := range g.rows {
		if earlier.stated == there && !same {
			r.reject(Fault{Column: colSource, Found: r.Citation, Wanted: fmt.Sprintf("one row for each species and publication; row %d has other counts from it", earlier.line)})
			return
		}
	}
	if r.Outcome = Unchanged; same {
		return
	}
	r.stated.Proportions = there.GetProportions()
	g.record.Diagnoses[at] = r.stated
	r.Outcome, g.dirty = Changed, true
}

func sameCitation(a, b string) bool { return taxon.Fold(a) == taxon.Fold(b) }

// store writes the taxa that changed and reports all rows in their order.
func (d *diagnoser) store(ctx context.Context) error {
	var err error
	if !d.opts.DryRun {
		err = d.each(ctx, func(ctx context.Context, name string, g *gathered) error {
			if !g.dirty {
				return nil
			}
			next := proto.Clone(g.record).(*pb.Taxon)
			if next.GetRevision() == 0 {
				next.Etag = "0" // still that of the base
			}
			err := update(ctx, d.c.Taxa, next, []string{"diagnoses"}, d.since)
			f, ok := refusal(err)
			for _, r := range g.rows {
				switch {
				case err == nil || r.Outcome == Rejected:
				case ok:
					r.reject(f)
				default:
					r.Outcome = "" // not known
				}
			}
			if err != nil && !ok {
				return fmt.Errorf("store the diagnoses of %s: %w", name, err)
			}
			return nil
		})
	}
	for i, r := range d.rows {
		if err == nil || r.Outcome == Rejected {
			d.settle(r)
		}
		d.progress("storing", i+1, len(d.rows))
	}
	return err
}

func (d *diagnoser) settle(r *diagnosis) {
	if d.opts.DryRun {
		r.Outcome = r.Outcome.planned()
	}
	d.summary.add(r.Outcome)
	if d.opts.Report != nil {
		d.opts.Report(r.DiagnosisResult)
	}
}

func (d *diagnoser) progress(stage string, done, all int) {
	if d.opts.Progress != nil {
		d.opts.Progress(Progress{Stage: stage, Done: done, All: all, Elapsed: time.Since(d.begun)})
	}
}
