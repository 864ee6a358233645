package archive

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"golang.org/x/text/language"
	"google.golang.org/protobuf/proto"

	"platarium/indexer/taxon"
	pb "platarium/proto/platarium/v1"
)

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
	build := func(v *View) error {
		if err := v.validTaxon(next, name); err != nil {
			return err
		}
		return v.create(proto.Clone(next).(*pb.Taxon), name)
	}
	if err := prepareTaxon(next); err != nil {
		build = refusal(err)
	}
	return newMutation("CreateTaxon", by, []proto.Message{t, &pb.GetTaxonRequest{Name: id}}, build)
}

// UpdateTaxon changes the masked fields of a taxon. One of the base is first taken over as the studio's own.
func (a *Archive) UpdateTaxon(ctx context.Context, by Caller, t *pb.Taxon, mask []string) (*pb.Taxon, error) {
	given := only(t, mask)
	build := func(v *View) error { return v.updateTaxon(given, mask) }
	if err := prepareTaxon(given); err != nil {
		build = refusal(err)
	}
	return first[*pb.Taxon](a.submit(ctx, "UpdateTaxon", by, []proto.Message{t, maskMessage(mask)}, build))
}

func (v *View) updateTaxon(given *pb.Taxon, mask []string) error {
	name := given.GetName()
	valid := func(v *View, next, old *pb.Taxon) error {
		keepName(next, old)
		return v.validTaxon(next, name)
	}
	own, err := v.state.get(name)
	if err != nil {
		return err
	}
	if own != nil {
		return update(v, given, mask, taxonOwned, valid)
	}
	base, ok := v.archive.baseTaxon(strings.TrimPrefix(name, Taxa+"/"))
	if !ok {
		return wrapName(ErrNotFound, name)
	}
	old := TaxonRecord(base)
	if given.GetEtag() != "" && given.GetEtag() != "0" {
		return fmt.Errorf("%w: %s is at etag 0, not %s", ErrStale, name, given.GetEtag())
	}
	next, err := overlay(old, given, mask, taxonOwned)
	if err != nil {
		return err
	}
	if err := valid(v, next, old); err != nil {
		return err
	}
	return v.create(next, name)
}

// taxonOwned are the fields of a taxon that only the server sets.
var taxonOwned = map[string]bool{"former_names": true}

// keepName keeps the earlier name of a renamed taxon, so that both find it.
func keepName(next, old *pb.Taxon) {
	was, now := old.GetScientificName(), next.GetScientificName()
	if was == now {
		return
	}
	next.FormerNames = slices.DeleteFunc(slices.Clone(next.GetFormerNames()), func(n string) bool { return n == now || n == was })
	next.FormerNames = append(next.FormerNames, was)
}

// DeleteTaxon removes the studio's record of a taxon. It is refused while records use a taxon that the base doesn't have.
func (a *Archive) DeleteTaxon(ctx context.Context, by Caller, name, etag string) error {
	_, err := a.submit(ctx, "DeleteTaxon", by, []proto.Message{&pb.DeleteTaxonRequest{Name: name, Etag: etag}}, func(v *View) error {
		return deletion(v, name, etag, func(v *View, _ *pb.Taxon) error {
			base, ok := a.baseTaxon(strings.TrimPrefix(name, Taxa+"/"))
			if !ok {
				return v.unused(name)
			}
			// What the base has comes back, and may close a circle with the studio's other taxa.
			ring, err := v.ring(TaxonRecord(base), name)
			if err == nil && ring != nil {
				err = &InvalidError{[]Violation{{"name", "brings back the taxon of the base, which closes a circle: " + strings.Join(ring, " under ")}}}
			}
			return err
		})
	})
	return err
}

func prepareTaxon(t *pb.Taxon) error {
	var c checks
	if n := len(t.GetDiagnoses()); n > maxList {
		c.add("diagnoses", "has %d entries; want at most %d", n, maxList)
		return c.err()
	}
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
	c.known("status", int32(t.GetStatus()), pb.TaxonStatus_name)
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
	c.diagnoses(t.GetDiagnoses())
	c.vernaculars(t.GetVernaculars())
	if ring, err := v.ring(t, name); err != nil {
		return err
	} else if ring != nil {
		c.add("parent", "closes a circle: %s", strings.Join(ring, " under "))
	}
	return c.err()
}

func (c *checks) diagnoses(list []*pb.Diagnosis) {
	for i, d := range list {
		field := indexed("diagnoses", i)
		if strings.TrimSpace(d.GetCitation()) == "" {
			c.add(field+".citation", "is missing; want the publication that states it")
		}
		c.text(field+".citation", d.GetCitation(), maxText)
		c.text(field+".provenance", d.GetProvenance(), maxText)
		if n := len(d.GetProportions()); n > maxList {
			c.add(field+".proportions", "has %d entries; want at most %d", n, maxList)
			continue
		}
		for k, p := range d.GetProportions() {
			c.proportion(field+indexed(".proportions", k), p)
		}
	}
}

// proportion verifies one length over another.
func (c *checks) proportion(field string, p *pb.Proportion) {
	if strings.TrimSpace(p.GetLength()) == "" {
		c.add(field+".length", "is empty; want a length, such as head length")
	}
	if strings.TrimSpace(p.GetOver()) == "" {
		c.add(field+".over", "is empty; want what it is divided by, such as standard length")
	}
	c.text(field+".length", p.GetLength(), maxWord)
	c.text(field+".over", p.GetOver(), maxWord)
	if !(p.GetMin() > 0) || math.IsInf(p.GetMin(), 0) {
		c.add(field+".min", "found %v; want a ratio above 0", p.GetMin())
	}
	if !(p.GetMax() >= p.GetMin()) || math.IsInf(p.GetMax(), 0) {
		c.add(field+".max", "found %v; want a ratio of at least min, %v", p.GetMax(), p.GetMin())
	}
}

func (c *checks) vernaculars(list []*pb.Vernacular) {
	if len(list) > maxStructures {
		c.add("vernaculars", "has %d entries; want at most %d", len(list), maxStructures)
		return
	}
	for i, n := range list {
		field := indexed("vernaculars", i)
		if strings.TrimSpace(n.GetVernacular()) == "" {
			c.add(field+".vernacular", "is empty")
		}
		c.text(field+".vernacular", n.GetVernacular(), maxWord)
		if tag := n.GetLanguage(); tag != "" {
			if _, err := language.Parse(tag); err != nil {
				c.add(field+".language", "found %q; want a language tag (BCP 47) such as en or pt-BR, or nothing", tag)
			}
		}
	}
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
