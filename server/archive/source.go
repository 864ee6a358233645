package archive

import (
	"bytes"
	"context"
	"iter"
	"slices"
	"strings"

	bolt "go.etcd.io/bbolt"
	"google.golang.org/protobuf/proto"

	"platarium/indexer"
	"platarium/indexer/taxon"
	pb "platarium/proto/platarium/v1"
)

// The methods in this file make an Archive the indexer's Source.
var _ indexer.Source = (*Archive)(nil)

// Pictures gives every live picture at one position of the journal.
func (a *Archive) Pictures(ctx context.Context) (int64, iter.Seq2[*pb.Picture, error]) {
	tx, err := a.db.Begin(false)
	if err != nil {
		return 0, func(yield func(*pb.Picture, error) bool) { yield(nil, err) }
	}
	return state{tx}.position().Seq, func(yield func(*pb.Picture, error) bool) {
		defer func() { _ = tx.Rollback() }()
		prefix := Pictures + "/"
		c := tx.Bucket(recordBucket).Cursor()
		for k, v := c.Seek([]byte(prefix)); strings.HasPrefix(string(k), prefix); k, v = c.Next() {
			change := new(pb.Change)
			err := ctx.Err()
			if err == nil {
				err = proto.Unmarshal(v, change)
			}
			if err != nil {
				yield(nil, err)
				return
			}
			if !yield(change.GetPicture(), nil) {
				return
			}
		}
	}
}

// Picture returns a live picture.
func (a *Archive) Picture(name string) (*pb.Picture, bool) {
	p, err := a.GetPicture(name)
	return p, err == nil
}

// Specimen returns a live specimen.
func (a *Archive) Specimen(name string) (*pb.Specimen, bool) {
	s, err := a.GetSpecimen(name)
	return s, err == nil
}

// PicturesOf lists the pictures whose documents a change of a taxon or specimen touches: those of a specimen; those of a taxon, of what lies below it, and of
// the synonyms of these.
func (a *Archive) PicturesOf(name string) []string {
	var found []string
	// A read transaction on an open store doesn't fail; on a closed one nothing is touched any more.
	_ = a.db.View(func(tx *bolt.Tx) error {
		s := state{tx}
		targets := []string{name}
		if id, ok := strings.CutPrefix(name, Taxa+"/"); ok {
			targets = s.identifiedUnder(a.Taxa(), id)
		}
		for _, target := range targets {
			s.referrers(target, func(source string) bool {
				if strings.HasPrefix(source, Pictures+"/") {
					found = append(found, source)
				}
				return true
			})
		}
		return nil
	})
	return unique(found)
}

// identifiedUnder lists the taxa that records name and that mean a taxon or something below it.
func (s state) identifiedUnder(taxa *taxon.Classification, id string) []string {
	var out []string
	prefix := []byte(Taxa + "/")
	c := s.bucket(refBucket).Cursor()
	for k, _ := c.Seek(prefix); bytes.HasPrefix(k, prefix); {
		target, _, _ := bytes.Cut(k, []byte{0})
		named := string(target[len(prefix):])
		if named == id || slices.Contains(taxa.Lineage(named), id) {
			out = append(out, string(target))
		}
		k, _ = c.Seek(append(target[:len(target):len(target)], 1)) // the next target
	}
	return out
}

// Applied is the last commit in the local record store.
func (a *Archive) Applied() int64 { return a.stored().Seq }
