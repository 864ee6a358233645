package archive

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"

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

// loadBase gives the base of the classification, which never changes while the program runs and takes a while to unpack.
var loadBase = sync.OnceValues(backbone.Load)

// reloadTaxa lays the studio's own taxa anew over the base.
func (a *Archive) reloadTaxa() error {
	base, err := loadBase()
	if err != nil {
		return fmt.Errorf("load the base of the classification: %w", err)
	}
	taxa := taxon.NewClassification(base)
	own, _, err := list[*pb.Taxon](a, Taxa, "", 1<<40, nil)
	if err != nil {
		return err
	}
	// In order of name one may close a circle with what the base has for another that comes later. Each round lays at least those whose higher taxa are laid.
	for len(own) > 0 {
		var circular error
		left := slices.DeleteFunc(slices.Clone(own), func(t *pb.Taxon) bool {
			err := taxa.Put(taxonOf(t))
			if err != nil {
				circular = fmt.Errorf("lay %s over the base: %w", t.GetName(), err)
			}
			return err == nil
		})
		if len(left) == len(own) {
			return circular
		}
		own = left
	}
	a.taxa.Store(taxa)
	a.drawn.Store(nil)
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
			if change.GetTaxon() == nil {
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
