// Package commission makes plans of records: for each structure of a brief the
// earlier pictures that can serve, with scale, counts, damage and rights, what is
// missing, and what a picture shows against what is published of its animal.
//
// Invariants:
//   - A plan is a view of the archive at one commit: nothing of it is stored.
//   - What isn't known is said and never guessed: a length, a scale or a right.
//   - Rights are told in words for the studio's own people; package rights decides.
//
// It leaves out: what a plan is decided by (package plan), lengths (package scale),
// keeping briefs (package archive), and turning a plan into sheets.
package commission

import (
	"context"
	"time"

	"platarium/indexer"
	"platarium/indexer/rank"
	"platarium/indexer/taxon"
	pb "platarium/proto/platarium/v1"
	"platarium/server/plan"
	"platarium/server/rights"
	"platarium/server/scale"
)

// Records is what of the archive a plan is made of.
type Records interface {
	GetBrief(name string) (*pb.Brief, error)
	PrepareBrief(b *pb.Brief) (*pb.Brief, error)
	GetPicture(name string) (*pb.Picture, error)
	GetSpecimen(name string) (*pb.Specimen, error)
	GetTaxon(name string) (*pb.Taxon, error)
	PartyName(name string) string
	Taxa() *taxon.Classification
	Facts(works []string) (rights.Facts, error)
	WithBook(f func(*rights.Book, rights.Day) error) error
	StandingText(picture string, outsider bool) (string, error)
	Today() time.Time
}

// Searcher finds pictures.
type Searcher interface {
	Search(ctx context.Context, q indexer.Query) (*indexer.Answer, error)
}

// Planner makes plans. It is immutable and safe for concurrent use.
type Planner struct {
	records    Records
	index      Searcher
	weights    plan.Weights
	ranking    rank.Weights
	tolerances scale.Tolerances
}

// New makes a planner with the weights that the studio starts with.
func New(records Records, index Searcher) *Planner {
	return &Planner{records: records, index: index, weights: plan.Default(), ranking: rank.Default(), tolerances: scale.DefaultTolerances()}
}

const (
	taxaPrefix    = "taxa/"
	partiesPrefix = "parties/"
)

// Limits of a plan.
const (
	defaultCandidates = 5  // of a structure if not asked
	pool              = 8  // candidates of a structure among which the plan chooses, at least
	asked             = 40 // pictures asked of the index for a structure
	longestFormula    = 500
)
