package taxaimport

import (
	"context"
	"fmt"
	"time"

	"platarium/client"
	"platarium/indexer/taxon"
	"platarium/indexer/taxon/checklist"
	pb "platarium/proto/platarium/v1"
)

// item is one taxon of the list on its way into the archive.
type item struct {
	taxon.Taxon
	origin checklist.Origin
	above  *item // its parent in the list, or its accepted taxon; nil at a root

	state      Outcome // empty until it is decided
	target     string  // taxa/{id} that it is or becomes
	was        *pb.Taxon
	write      *pb.Taxon // what is to be stored; nil for nothing
	depth      int       // of the writes that must go before
	adds       []string
	remarks    []string
	fault      *Fault
	candidates []Candidate
}

func (it *item) where() string { return fmt.Sprintf("row %d of %s", it.origin.Row, it.origin.File) }

// leaveOut ends an item without a write.
func (it *item) leaveOut(o Outcome, f Fault) {
	it.state, it.fault, it.write = o, &f, nil
}

// out says whether an item was left out.
func (it *item) out() bool { return it.state == Doubtful || it.state == Rejected }

// importer is one import of a checklist.
type importer struct {
	opts    Options
	c       *client.Client
	list    *checklist.Checklist
	items   []*item
	byID    map[string]*item
	genera  map[string]*item           // accepted genera of the list by name; nil where it has several
	own     map[string]*pb.Taxon       // the studio's entries, by taxa/{id}
	names   map[string][]*pb.NameMatch // what names mean, by name
	lines   map[string][]*pb.Taxon     // lineages asked for, by taxa/{id}
	claimed map[string]*item           // which taxon of the list an entry of the archive was taken for
	since   int64                      // the archive's last commit when the import began
	begun   time.Time
	summary Summary
}

// Import brings a checklist into an archive. The summary is there whenever the list could be read, with the error or without: taxa that were left out are no
// error, a server that can't be reached or a cancelled ctx is one. After an error the same import may be repeated.
func Import(ctx context.Context, c *client.Client, opts Options) (*Summary, error) {
	im := &importer{
		opts: opts, c: c, byID: map[string]*item{}, genera: map[string]*item{}, own: map[string]*pb.Taxon{}, names: map[string][]*pb.NameMatch{}, lines: map[string][]*pb.Taxon{},
		claimed: map[string]*item{}, begun: time.Now(),
	}
	if im.opts.List == "" {
		im.opts.List = listName(opts.Path)
	}
	if im.opts.Homonyms == "" {
		im.opts.Homonyms = Leave
	}
	im.progress("reading", 0, 0)
	list, err := readList(opts.Path)
	if err != nil {
		return nil, err
	}
	im.take(list)
	for _, stage := range []func(context.Context) error{im.look, im.decideAll, im.store} {
		if err = stage(ctx); err != nil {
			break
		}
	}
	im.summary.Elapsed = time.Since(im.begun)
	return &im.summary, err
}

// take sets up the items in an order in which what stands above comes first, and reports the rows that made none.
func (im *importer) take(list *checklist.Checklist) {
	im.list = list
	im.summary = Summary{Format: string(list.Format), List: im.opts.List, DryRun: im.opts.DryRun}
	for _, p := range list.Problems {
		r := TaxonResult{File: p.File, Row: p.Row}
		f := &Fault{Column: p.Column, Found: p.Found, Wanted: p.Wanted}
		if p.Skipped {
			r.Outcome, r.Fault = Rejected, f
			im.summary.Rows++
			im.summary.Rejected++
		} else {
			r.Remarks = []string{f.String() + "; the value is left out"}
		}
		im.report(r)
	}
	if list.MoreProblems > 0 {
		im.report(TaxonResult{Remarks: []string{fmt.Sprintf("%d more rows with faults aren't shown", list.MoreProblems)}})
	}
	for i, t := range list.Taxa {
		it := &item{Taxon: withRank(t), origin: list.Origins[i]}
		im.byID[t.ID] = it
		if it.Rank == taxon.Genus && it.Status == taxon.Accepted {
			if _, double := im.genera[it.Name]; double {
				it = nil
			}
			im.genera[t.Name] = it
		}
	}
	for _, t := range list.Taxa {
		im.place(im.byID[t.ID])
	}
	for _, it := range im.items {
		if it.Status == taxon.Synonym { // people look for everyday names at the accepted one
			it.above.Vernaculars = append(it.above.Vernaculars, it.Vernaculars...)
			it.Vernaculars = nil
		}
	}
	im.summary.Rows += len(im.items)
	im.summary.NotReached = len(im.items)
}

// place puts an item into the order, after what stands above it. The list has no circle, or it would have been refused.
func (im *importer) place(it *item) {
	if it.target != "" {
		return
	}
	it.target = "taxa/" + ownID(im.opts.List, it.ID)
	up := it.ParentID
	if it.Status == taxon.Synonym {
		up = it.AcceptedID
	}
	above := im.byID[up]
	if above == nil {
		above = im.genera[genusOf(it)] // the list leaves out what the name says
	}
	if above != nil {
		im.place(above)
		if it.above = above; above.Status == taxon.Synonym {
			it.above = above.above // what stands under a synonym stands under its accepted taxon
		}
	}
	im.items = append(im.items, it)
}

func (im *importer) report(r TaxonResult) {
	if im.opts.Report != nil {
		im.opts.Report(r)
	}
}

// settle counts and reports an item that is done.
func (im *importer) settle(it *item) {
	o := it.state
	if im.opts.DryRun {
		o = o.planned()
	}
	im.summary.add(o)
	r := TaxonResult{
		File: it.origin.File, Row: it.origin.Row, ID: it.ID, Name: it.Name, Rank: it.Rank.String(), Outcome: o,
		Adds: it.adds, Fault: it.fault, Candidates: it.candidates, Remarks: it.remarks,
	}
	if !it.out() {
		r.Taxon = it.target
	}
	im.report(r)
}

func (im *importer) progress(stage string, done, all int) {
	if im.opts.Progress != nil {
		im.opts.Progress(Progress{Stage: stage, Done: done, All: all, Elapsed: time.Since(im.begun)})
	}
}
