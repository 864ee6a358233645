package archive

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"google.golang.org/protobuf/proto"

	"platarium/indexer/meristic"
	"platarium/indexer/taxon"
	"platarium/indexer/taxon/backbone"
	pb "platarium/proto/platarium/v1"
)

// reload reads anew what is kept in memory.
func (a *Archive) reload() error {
	if err := a.reloadLedger(); err != nil {
		return err
	}
	return a.reloadTaxa()
}

// reloadTaxa lays the studio's own taxa anew over the base.
func (a *Archive) reloadTaxa() error {
	base, err := backbone.Load()
	if err != nil {
		return fmt.Errorf("load the base of the classification: %w", err)
	}
	taxa := taxon.NewClassification(base)
	own, _, err := list[*pb.Taxon](a, Taxa, "", 1<<40, nil)
	if err != nil {
		return err
	}
	for _, t := range own {
		if err := taxa.Put(taxonOf(t)); err != nil {
			return fmt.Errorf("lay %s over the base: %w", t.GetName(), err)
		}
	}
	a.taxa.Store(taxa)
	return nil
}

// Taxa is the base with the studio's own taxa laid over it, as of the last commit applied.
func (a *Archive) Taxa() *taxon.Classification { return a.taxa.Load() }

// overlayChanges brings the classification up to a commit.
func (a *Archive) overlayChanges(c *pb.Commit) error {
	for _, t := range c.GetTransactions() {
		for _, change := range t.GetChanges() {
			id, ok := strings.CutPrefix(change.GetName(), Taxa+"/")
			if !ok {
				continue
			}
			if change.GetDeleted() {
				a.Taxa().Remove(id)
				continue
			}
			if err := a.Taxa().Put(taxonOf(change.GetTaxon())); err != nil {
				return fmt.Errorf("lay %s over the base: %w", change.GetName(), err)
			}
		}
	}
	return nil
}

func taxonOf(t *pb.Taxon) taxon.Taxon {
	rank, _ := taxon.ParseRank(t.GetRank())
	out := taxon.Taxon{
		ID: strings.TrimPrefix(t.GetName(), Taxa+"/"), ParentID: strings.TrimPrefix(t.GetParent(), Taxa+"/"), Rank: rank,
		Name: t.GetScientificName(), Authorship: t.GetAuthorship(), AcceptedID: strings.TrimPrefix(t.GetAccepted(), Taxa+"/"), Source: t.GetSource(), Synonyms: t.GetFormerNames(),
	}
	if t.GetStatus() == pb.TaxonStatus_TAXON_STATUS_SYNONYM {
		out.Status = taxon.Synonym
	}
	for _, v := range t.GetVernaculars() {
		out.Vernaculars = append(out.Vernaculars, taxon.Vernacular{Lang: v.GetLanguage(), Name: v.GetVernacular()})
	}
	return out
}

// TaxonRecord is a taxon of the classification as a record: revision 0 for one of the base that the studio never changed.
func TaxonRecord(t taxon.Taxon) *pb.Taxon {
	out := &pb.Taxon{Name: Taxa + "/" + t.ID, ScientificName: t.Name, Authorship: t.Authorship, Rank: t.Rank.String(), Source: t.Source, Status: pb.TaxonStatus_TAXON_STATUS_ACCEPTED}
	if t.ParentID != "" {
		out.Parent = Taxa + "/" + t.ParentID
	}
	if t.Status == taxon.Synonym {
		out.Status = pb.TaxonStatus_TAXON_STATUS_SYNONYM
		out.Accepted = Taxa + "/" + t.AcceptedID
	}
	for _, v := range t.Vernaculars {
		out.Vernaculars = append(out.Vernaculars, &pb.Vernacular{Vernacular: v.Name, Language: v.Lang})
	}
	return out
}

func (a *Archive) baseTaxon(id string) (taxon.Taxon, bool) {
	return a.Taxa().Base().Taxon(id)
}

// GetTaxon returns the studio's record of a taxon, else that of the base, else ErrNotFound.
func (a *Archive) GetTaxon(name string) (*pb.Taxon, error) {
	t, err := get[*pb.Taxon](a, name)
	if !errors.Is(err, ErrNotFound) {
		return t, err
	}
	base, ok := a.baseTaxon(strings.TrimPrefix(name, Taxa+"/"))
	if !ok {
		return nil, wrapName(ErrNotFound, name)
	}
	return TaxonRecord(base), nil
}

// CreateTaxon adds a taxon of the studio's own. Under the id of a base taxon it is laid over that one.
func (a *Archive) CreateTaxon(ctx context.Context, by Caller, t *pb.Taxon, id string) (*pb.Taxon, error) {
	mut, err := a.taxonCreation(by, t, id)
	if err != nil {
		return nil, err
	}
	o := a.submitEach(ctx, []*mutation{mut})[0]
	return first[*pb.Taxon](o.result, o.err)
}

// BatchCreateTaxa adds many, each alone, in order. The sequence is that of the last commit.
func (a *Archive) BatchCreateTaxa(ctx context.Context, actor string, list []Creation[*pb.Taxon]) ([]Outcome[*pb.Taxon], int64) {
	out := make([]Outcome[*pb.Taxon], len(list))
	muts := make([]*mutation, len(list))
	for i, c := range list {
		muts[i], out[i].Err = a.taxonCreation(Caller{Actor: actor, RequestID: c.RequestID}, c.Record, c.ID)
	}
	var seq int64
	for i, o := range a.submitEach(ctx, muts) {
		if muts[i] == nil {
			continue
		}
		out[i].Record, out[i].Err = first[*pb.Taxon](o.result, o.err)
		seq = max(seq, o.seq)
	}
	return out, seq
}

func (a *Archive) taxonCreation(by Caller, t *pb.Taxon, id string) (*mutation, error) {
	name, err := a.newName(Taxa, id)
	if err != nil {
		return nil, err
	}
	next := proto.Clone(t).(*pb.Taxon)
	clearOwned(next, taxonOwned)
	if err := prepareTaxon(next); err != nil {
		return nil, err
	}
	return newMutation("CreateTaxon", by, []proto.Message{t, &pb.GetTaxonRequest{Name: id}}, func(v *View) error {
		if err := v.validTaxon(next, name); err != nil {
			return err
		}
		return v.create(proto.Clone(next).(*pb.Taxon), name)
	})
}

// UpdateTaxon changes the masked fields of a taxon. One of the base is first taken over as the studio's own.
func (a *Archive) UpdateTaxon(ctx context.Context, by Caller, t *pb.Taxon, mask []string) (*pb.Taxon, error) {
	given := proto.Clone(t).(*pb.Taxon)
	if err := prepareTaxon(given); err != nil {
		return nil, err
	}
	return first[*pb.Taxon](a.submit(ctx, "UpdateTaxon", by, []proto.Message{t, maskMessage(mask)}, func(v *View) error {
		own, err := v.state.get(given.GetName())
		if err != nil {
			return err
		}
		if own != nil {
			return update(v, given, mask, taxonOwned, func(v *View, next, old *pb.Taxon) error {
				keepName(next, old)
				return v.validTaxon(next, next.GetName())
			})
		}
		base, ok := a.baseTaxon(strings.TrimPrefix(given.GetName(), Taxa+"/"))
		if !ok {
			return wrapName(ErrNotFound, given.GetName())
		}
		if given.GetEtag() != "" && given.GetEtag() != "0" {
			return fmt.Errorf("%w: %s is at etag 0, not %s", ErrStale, given.GetName(), given.GetEtag())
		}
		next, err := overlay(TaxonRecord(base), given, mask, taxonOwned)
		if err != nil {
			return err
		}
		keepName(next, TaxonRecord(base))
		if err := v.validTaxon(next, given.GetName()); err != nil {
			return err
		}
		return v.create(next, given.GetName())
	}))
}

// taxonOwned are the fields of a taxon that only the server sets.
var taxonOwned = map[string]bool{"former_names": true}

// keepName keeps the earlier name of a renamed taxon, so that both find it.
func keepName(next, old *pb.Taxon) {
	was := old.GetScientificName()
	if was != next.GetScientificName() && !slices.Contains(next.GetFormerNames(), was) {
		next.FormerNames = append(next.FormerNames, was)
	}
}

// DeleteTaxon removes the studio's record of a taxon. It is refused while records use a taxon that the base doesn't have.
func (a *Archive) DeleteTaxon(ctx context.Context, by Caller, name, etag string) error {
	_, err := a.submit(ctx, "DeleteTaxon", by, []proto.Message{&pb.DeleteTaxonRequest{Name: name, Etag: etag}}, func(v *View) error {
		return deletion(v, name, etag, func(v *View, _ *pb.Taxon) error {
			if _, ok := a.baseTaxon(strings.TrimPrefix(name, Taxa+"/")); ok {
				return nil
			}
			return v.unused(name)
		})
	})
	return err
}

func prepareTaxon(t *pb.Taxon) error {
	var c checks
	for i, d := range t.GetDiagnoses() {
		readCounts(&c, indexed("diagnoses", i)+".counts", d.Counts)
	}
	return c.err()
}

func (v *View) validTaxon(t *pb.Taxon, name string) error {
	var c checks
	if strings.TrimSpace(t.GetScientificName()) == "" {
		c.add("scientific_name", "is missing")
	}
	c.text("scientific_name", t.GetScientificName(), maxWord)
	c.text("authorship", t.GetAuthorship(), maxWord)
	c.text("notes", t.GetNotes(), maxText)
	c.text("source", t.GetSource(), maxText)
	c.text("protection", t.GetProtection(), maxText)
	if _, ok := taxon.ParseRank(t.GetRank()); !ok {
		c.add("rank", "found %q; want a rank in lower case, such as species, genus or family", t.GetRank())
	}
	synonym := t.GetStatus() == pb.TaxonStatus_TAXON_STATUS_SYNONYM
	if err := v.mustExist(&c, "parent", t.GetParent(), Taxa, false); err != nil {
		return err
	}
	if err := v.mustExist(&c, "accepted", t.GetAccepted(), Taxa, synonym); err != nil {
		return err
	}
	for i, d := range t.GetDiagnoses() {
		if strings.TrimSpace(d.GetCitation()) == "" {
			c.add(indexed("diagnoses", i)+".citation", "is missing; want the publication that states it")
		}
	}
	for i, n := range t.GetVernaculars() {
		if strings.TrimSpace(n.GetVernacular()) == "" {
			c.add(indexed("vernaculars", i)+".vernacular", "is empty")
		}
	}
	if ring, err := v.ring(t, name); err != nil {
		return err
	} else if ring != nil {
		c.add("parent", "closes a circle: %s", strings.Join(ring, " under "))
	}
	return c.err()
}

// ring follows parents and accepted taxa upwards as they stand in the view, and returns the way if it comes back to name.
func (v *View) ring(t *pb.Taxon, name string) ([]string, error) {
	up := func(t *pb.Taxon) string {
		if t.GetStatus() == pb.TaxonStatus_TAXON_STATUS_SYNONYM {
			return t.GetAccepted()
		}
		return t.GetParent()
	}
	path, seen := []string{name}, map[string]bool{}
	for next := up(t); next != "" && !seen[next]; {
		path = append(path, next)
		if next == name {
			return path, nil
		}
		seen[next] = true
		own, ok, err := record[*pb.Taxon](v, next)
		if err != nil {
			return nil, err
		}
		if !ok {
			base, _ := v.archive.baseTaxon(strings.TrimPrefix(next, Taxa+"/"))
			own = TaxonRecord(base)
		}
		next = up(own)
	}
	return nil, nil
}

// resolveIdentification finds the taxon of a name given without one. A name is taken only as it is spelled; near ones are offered.
func (a *Archive) resolveIdentification(c *checks, field string, id *pb.Identification) {
	if id == nil || id.GetTaxon() != "" || strings.TrimSpace(id.GetScientificName()) == "" {
		return
	}
	found := a.Taxa().Match(id.GetScientificName(), 3)
	if exactOnly(found) {
		id.Taxon = Taxa + "/" + found[0].MatchedID
		return
	}
	var near []string
	for _, cand := range found {
		near = append(near, fmt.Sprintf("%s (%s)", cand.Name, cand.Reason))
	}
	if len(near) == 0 {
		c.add(field+".scientific_name", "found %q, which the classification doesn't have; want a name it has, or add the taxon first", id.GetScientificName())
		return
	}
	c.add(field+".scientific_name", "found %q, which the classification doesn't have; near it: %s", id.GetScientificName(), strings.Join(near, ", "))
}

// exactOnly says whether a name means one taxon as it is spelled: by its scientific name, now or earlier, or a synonym. Homonyms are left to a person.
func exactOnly(found []taxon.Candidate) bool {
	if len(found) == 0 || !Spelled(found[0]) {
		return false
	}
	return len(found) == 1 || !Spelled(found[1]) || found[1].Score < found[0].Score
}

// Spelled says whether a name was found as it is spelled, among the scientific names.
func Spelled(c taxon.Candidate) bool {
	return c.Kind == taxon.ByName || c.Kind == taxon.ByEarlierName || c.Kind == taxon.BySynonym
}

// readCounts fills the reading of counts as written; what can't be meant is a violation that names the column.
func readCounts(c *checks, field string, counts *pb.Counts) {
	if counts == nil {
		return
	}
	counts.Parsed, counts.Warnings, counts.Canonical = nil, nil, ""
	if strings.TrimSpace(counts.GetFormula()) == "" {
		return
	}
	r, err := meristic.Parse(counts.GetFormula(), meristic.Options{})
	if err != nil {
		c.add(field+".formula", "found %q: %s", counts.GetFormula(), strings.TrimPrefix(err.Error(), "meristic: "))
		return
	}
	counts.Canonical = meristic.Print(r.Statements)
	for _, s := range r.Statements {
		for _, n := range s.Counts {
			count := &pb.Count{Character: s.Character.String(), Element: n.Element.String(), Min: n.Min, Max: n.Max}
			if mode := n.Mode(); len(mode) == 1 {
				count.Mode = mode[0]
			}
			counts.Parsed = append(counts.Parsed, count)
		}
	}
	for _, n := range r.Warnings {
		counts.Warnings = append(counts.Warnings, n.String())
	}
	for _, alt := range r.Alternatives {
		counts.Warnings = append(counts.Warnings, fmt.Sprintf("column %d: %s", alt.Column, alt.Text))
	}
}

// AcceptedName is the scientific name in use for an identification; as written where the taxon isn't known.
func (a *Archive) AcceptedName(id *pb.Identification) string {
	if t, ok := a.Taxa().Accepted(strings.TrimPrefix(id.GetTaxon(), Taxa+"/")); ok {
		return t.Name
	}
	return id.GetScientificName()
}

// ListChildren returns up to limit of the taxa directly below one, base and own, by name after a name, and whether there are more.
func (a *Archive) ListChildren(parent, after string, limit int) ([]*pb.Taxon, bool, error) {
	var found []*pb.Taxon
	for _, t := range a.Taxa().Children(strings.TrimPrefix(parent, Taxa+"/")) {
		name := Taxa + "/" + t.ID
		if name <= after {
			continue
		}
		if len(found) == limit {
			return found, true, nil
		}
		own, err := a.GetTaxon(name)
		if err != nil {
			return nil, false, err
		}
		found = append(found, own)
	}
	return found, false, nil
}
