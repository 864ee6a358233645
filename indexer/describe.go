package indexer

import (
	"strings"

	"platarium/indexer/rank"
	"platarium/indexer/taxon"
	pb "platarium/proto/platarium/v1"
)

// Describe says of a picture what rank weighs, as the index has it: the specimen, which
// may be nil, speaks where the picture doesn't state counts.
func Describe(p *pb.Picture, specimen *pb.Specimen, taxa *taxon.Classification) rank.Picture {
	return rank.Picture{
		Lineage: LineageOf(taxa, p.GetIdentification().GetTaxon()), Counts: counts(p.GetCounts(), specimen.GetCounts()), Structures: structures(p.GetStructures()),
		View: rank.View(p.GetView()), Stage: rank.Stage(p.GetStage()), Kind: rank.Kind(p.GetKind()),
		LongEdge: int(max(p.GetOriginal().GetWidth(), p.GetOriginal().GetHeight())),
	}
}

// LineageOf lists the taxa from the root down to the accepted one of taxa/{id}; none if it isn't known.
func LineageOf(taxa *taxon.Classification, name string) []rank.Taxon {
	return lineage(taxa, strings.TrimPrefix(name, taxaPrefix))
}
