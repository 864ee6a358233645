package indexer

import "platarium/indexer/taxon"

// synonyms are the taxa whose accepted taxon is this one.
func synonyms(taxa *taxon.Classification, id string) []taxon.Taxon {
	if c, ok := any(taxa).(interface{ Synonyms(id string) []taxon.Taxon }); ok {
		return c.Synonyms(id)
	}
	return nil
}
