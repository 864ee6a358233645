package indexer

import (
	"context"
	"iter"

	pb "platarium/proto/platarium/v1"
)

// Source gives what a picture's document is made of. All methods are safe for
// concurrent use. What they return may be newer than the commit being applied,
// never older.
type Source interface {
	// ArchiveID names the archive; an index of another archive is built again.
	ArchiveID() string
	// Pictures gives every live picture at one position of the journal.
	Pictures(ctx context.Context) (seq int64, pictures iter.Seq2[*pb.Picture, error])
	// Picture returns a live picture. The caller doesn't change it.
	Picture(name string) (*pb.Picture, bool)
	// Specimen returns a live specimen. The caller doesn't change it.
	Specimen(name string) (*pb.Specimen, bool)
	// Taxa is the classification with the studio's own taxa laid over it.
	Taxa() Taxa
	// PicturesOf lists the pictures that a change of a taxon (with all below it
	// and its synonyms) or of a specimen touches.
	PicturesOf(name string) []string
	// Applied is the last commit that the methods above reflect.
	Applied() int64
}

// Taxa is what the index asks of the classification.
type Taxa interface {
	// Lineage gives the taxa from the root down to the one that id means, a
	// synonym's accepted taxon standing for it; empty if id is unknown.
	Lineage(id string) []TaxonStep
	// Names gives what else the accepted taxon is called.
	Names(id string) TaxonNames
	// Find gives the taxon that a written name means, with a remark if it was
	// not spelled exactly so; empty if none is near.
	Find(name string) (id, remark string)
}

// TaxonStep is one taxon of a lineage.
type TaxonStep struct {
	ID, Name, Authorship, Rank string
}

// TaxonNames are the other names of an accepted taxon.
type TaxonNames struct {
	// Synonyms with authorship, and the ids of their entries.
	Synonyms, SynonymIDs []string
	// Vernaculars in any language.
	Vernaculars []string
}
