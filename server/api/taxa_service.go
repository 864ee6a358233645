package api

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"platarium/indexer/meristic"
	"platarium/indexer/taxon"
	pb "platarium/proto/platarium/v1"
	"platarium/server/archive"
	"platarium/server/commission"
)

type taxaService struct {
	pb.UnimplementedTaxaServiceServer
	*Server
}

func (s taxaService) GetTaxon(ctx context.Context, req *pb.GetTaxonRequest) (*pb.Taxon, error) {
	if err := wantName("name", req.GetName(), archive.Taxa); err != nil {
		return nil, err
	}
	t, err := s.archive.GetTaxon(req.GetName())
	if err != nil {
		return nil, err
	}
	return shownTaxon(caller(ctx), t), nil
}

func (s taxaService) ListTaxa(ctx context.Context, req *pb.ListTaxaRequest) (*pb.ListTaxaResponse, error) {
	p := caller(ctx)
	page, err := pageOf(req, p)
	if err != nil {
		return nil, err
	}
	if err := wantOptional("parent", req.GetParent(), archive.Taxa); err != nil {
		return nil, err
	}
	var found []*pb.Taxon
	var more bool
	if req.GetParent() == "" {
		found, more, err = s.archive.ListOwnTaxa(page.after, page.size)
	} else {
		found, more, err = s.archive.ListChildren(req.GetParent(), page.after, page.size)
	}
	if err != nil {
		return nil, err
	}
	res := &pb.ListTaxaResponse{}
	for _, t := range found {
		res.Taxa = append(res.Taxa, shownTaxon(p, t))
		res.NextPageToken = page.next(t.GetName(), more)
	}
	return res, nil
}

func (s taxaService) CreateTaxon(ctx context.Context, req *pb.CreateTaxonRequest) (*pb.Taxon, error) {
	if err := wantRecord("taxon", req.GetTaxon() == nil); err != nil {
		return nil, err
	}
	return s.archive.CreateTaxon(ctx, by(ctx, req.GetRequestId()), req.GetTaxon(), req.GetTaxonId())
}

func (s taxaService) BatchCreateTaxa(ctx context.Context, req *pb.BatchCreateTaxaRequest) (*pb.BatchCreateTaxaResponse, error) {
	if n := len(req.GetRequests()); n > mostInBatch {
		return nil, field("requests", "has %d entries; want at most %d", n, mostInBatch)
	}
	list := make([]archive.Creation[*pb.Taxon], len(req.GetRequests()))
	for i, r := range req.GetRequests() {
		if err := wantRecord(fmt.Sprintf("requests[%d].taxon", i), r.GetTaxon() == nil); err != nil {
			return nil, err
		}
		list[i] = archive.Creation[*pb.Taxon]{Record: r.GetTaxon(), ID: r.GetTaxonId(), RequestID: r.GetRequestId()}
	}
	outcomes, seq := s.archive.BatchCreateTaxa(ctx, caller(ctx).key, list)
	res := &pb.BatchCreateTaxaResponse{Sequence: seq}
	for _, o := range outcomes {
		if o.Err != nil {
			res.Outcomes = append(res.Outcomes, &pb.TaxonOutcome{Outcome: &pb.TaxonOutcome_Error{Error: problemOf(o.Err)}})
			continue
		}
		res.Outcomes = append(res.Outcomes, &pb.TaxonOutcome{Outcome: &pb.TaxonOutcome_Taxon{Taxon: o.Record}})
	}
	return res, nil
}

func (s taxaService) UpdateTaxon(ctx context.Context, req *pb.UpdateTaxonRequest) (*pb.Taxon, error) {
	if err := wantName("taxon.name", req.GetTaxon().GetName(), archive.Taxa); err != nil {
		return nil, err
	}
	return s.archive.UpdateTaxon(ctx, by(ctx, req.GetRequestId()), req.GetTaxon(), req.GetUpdateMask().GetPaths())
}

func (s taxaService) DeleteTaxon(ctx context.Context, req *pb.DeleteTaxonRequest) (*pb.DeleteTaxonResponse, error) {
	if err := wantName("name", req.GetName(), archive.Taxa); err != nil {
		return nil, err
	}
	return &pb.DeleteTaxonResponse{}, s.archive.DeleteTaxon(ctx, by(ctx, req.GetRequestId()), req.GetName(), req.GetEtag())
}

// mostNames is the largest number of names or formulae read at once.
const mostNames = 1000

func (s taxaService) MatchNames(ctx context.Context, req *pb.MatchNamesRequest) (*pb.MatchNamesResponse, error) {
	if n := len(req.GetNames()); n > mostNames {
		return nil, field("names", "has %d entries; want at most %d", n, mostNames)
	}
	limit := int(req.GetLimit())
	if limit < 0 || limit > 50 {
		return nil, field("limit", "found %d; want 1 to 50, or 0 for 5", limit)
	}
	if limit == 0 {
		limit = 5
	}
	res := &pb.MatchNamesResponse{}
	for _, name := range req.GetNames() {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		m, err := s.match(caller(ctx), name, limit)
		if err != nil {
			return nil, err
		}
		res.Matches = append(res.Matches, m)
	}
	return res, nil
}

func (s taxaService) match(p principal, name string, limit int) (*pb.NameMatches, error) {
	out := &pb.NameMatches{Query: name}
	taxa := s.archive.Taxa()
	if parsed, err := taxon.Parse(name); err != nil {
		out.Warnings = append(out.Warnings, err.Error())
	} else {
		for _, w := range parsed.Warnings {
			out.Warnings = append(out.Warnings, w.String())
		}
	}
	for _, c := range taxa.Match(name, limit) {
		t, err := s.archive.GetTaxon(archive.Taxa + "/" + c.MatchedID)
		if errors.Is(err, archive.ErrNotFound) {
			continue // removed meanwhile
		}
		if err != nil {
			return nil, err
		}
		out.Candidates = append(out.Candidates, &pb.NameMatch{
			Taxon: shownTaxon(p, t), Accepted: archive.Taxa + "/" + c.ID, AcceptedName: c.Name, Score: c.Score, Reason: c.Reason, Exact: archive.Spelled(c),
		})
	}
	return out, nil
}

func (s taxaService) GetLineage(ctx context.Context, req *pb.GetLineageRequest) (*pb.GetLineageResponse, error) {
	if err := wantName("name", req.GetName(), archive.Taxa); err != nil {
		return nil, err
	}
	ids := s.archive.Taxa().Lineage(strings.TrimPrefix(req.GetName(), archive.Taxa+"/"))
	if len(ids) == 0 {
		return nil, notFound(req.GetName())
	}
	res := &pb.GetLineageResponse{}
	for _, id := range ids {
		t, err := s.archive.GetTaxon(archive.Taxa + "/" + id)
		if err != nil {
			return nil, err
		}
		res.Taxa = append(res.Taxa, shownTaxon(caller(ctx), t))
	}
	return res, nil
}

func (s taxaService) ParseCounts(_ context.Context, req *pb.ParseCountsRequest) (*pb.ParseCountsResponse, error) {
	if n := len(req.GetFormulae()); n > mostNames {
		return nil, field("formulae", "has %d entries; want at most %d", n, mostNames)
	}
	var opts meristic.Options
	if code := req.GetCharacter(); code != "" {
		c, ok := meristic.CharacterByCode(code)
		if !ok {
			return nil, field("character", "found %q; want a character code such as D1, A, P, GR or LL", code)
		}
		opts.Character = c
	}
	res := &pb.ParseCountsResponse{}
	for _, f := range req.GetFormulae() {
		res.Readings = append(res.Readings, reading(f, opts))
	}
	return res, nil
}

// reading puts what was made of one formula into words.
func reading(formula string, opts meristic.Options) *pb.CountsReading {
	out := &pb.CountsReading{Formula: formula}
	r, err := meristic.Parse(formula, opts)
	if err != nil {
		out.Error = strings.TrimPrefix(err.Error(), "meristic: ")
		var fault *meristic.Error
		if errors.As(err, &fault) {
			out.ErrorColumn = int32(fault.Faults[0].Column)
		}
		return out
	}
	sum := &pb.CountsSummary{Canonical: meristic.Print(r.Statements)}
	for i := range r.Statements {
		sum.Statements = append(sum.Statements, statementWords(&r.Statements[i]))
	}
	for _, n := range r.Assumptions {
		sum.Assumptions = append(sum.Assumptions, n.String())
	}
	for _, n := range r.Warnings {
		sum.Warnings = append(sum.Warnings, n.String())
	}
	for _, a := range r.Alternatives {
		sum.Alternatives = append(sum.Alternatives, fmt.Sprintf("%s (column %d: %s)", meristic.Print(a.Statements), a.Column, a.Text))
	}
	out.Counts = sum
	return out
}

func (s taxaService) CheckCounts(_ context.Context, req *pb.CheckCountsRequest) (*pb.CheckCountsResponse, error) {
	if err := wantName("taxon", req.GetTaxon(), archive.Taxa); err != nil {
		return nil, err
	}
	t, err := s.archive.GetTaxon(req.GetTaxon())
	if err != nil {
		return nil, err
	}
	found, err := meristic.Parse(req.GetFormula(), meristic.Options{})
	if err != nil {
		return nil, field("formula", "found %q: %s", req.GetFormula(), strings.TrimPrefix(err.Error(), "meristic: "))
	}
	return &pb.CheckCountsResponse{Verdicts: commission.CountVerdicts(t, found.Statements)}, nil
}

// statementWords says in words what was counted, such as "first dorsal fin: 10 to 11 spines".
func statementWords(st *meristic.Statement) string {
	var parts []string
	for _, c := range st.Counts {
		n := fmt.Sprintf("%g", c.Min)
		if c.Max != c.Min {
			n = fmt.Sprintf("%g to %g", c.Min, c.Max)
		}
		parts = append(parts, n+" "+c.Element.Phrase(c.Max))
	}
	return st.Character.Phrase() + ": " + strings.Join(parts, ", ")
}
