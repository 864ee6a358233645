package indexer

import (
	"context"
	"iter"

	"platarium/indexer/taxon"
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
	// Taxa is the classification with the studio's own taxa laid over it. Its ids
	// are those of taxa/{id} without the collection.
	Taxa() *taxon.Classification
	// PicturesOf lists the pictures that a change of a taxon (with all below it
	// and its synonyms) or of a specimen touches.
	PicturesOf(name string) []string
	// Applied is the last commit that the methods above reflect.
	Applied() int64
}
