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
			targets = a.drawnUnder(s, id)
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

// drawn holds the taxa that pictures name, by every taxon that these are or stand under, as of one commit. A commit that changes a thousand taxa asks a thousand
// times; looking through all taxa each time would make an import of a checklist quadratic.
type drawn struct {
	seq   int64
	under map[string][]string // id to resource names
}

// drawnUnder lists the taxa that pictures name and that mean a taxon or something below it.
func (a *Archive) drawnUnder(s state, id string) []string {
	seq := s.position().Seq
	d := a.drawn.Load()
	if d == nil || d.seq != seq {
		d = s.drawn(a.Taxa(), seq)
		a.drawn.Store(d)
	}
	return d.under[id]
}

func (s state) drawn(taxa *taxon.Classification, seq int64) *drawn {
	d := &drawn{seq: seq, under: map[string][]string{}}
	prefix := []byte(Taxa + "/")
	c := s.bucket(refBucket).Cursor()
	for k, _ := c.Seek(prefix); bytes.HasPrefix(k, prefix); {
		target, _, _ := bytes.Cut(k, []byte{0})
		target = slices.Clone(target)
		pictures := append(target[:len(target):len(target)], "\x00"+Pictures+"/"...)
		if k, _ = c.Seek(pictures); bytes.HasPrefix(k, pictures) {
			named := string(target[len(prefix):])
			line := taxa.Lineage(named)
			if !slices.Contains(line, named) { // a synonym stands in no lineage
				line = append(line, named)
			}
			for _, id := range line {
				d.under[id] = append(d.under[id], string(target))
			}
		}
		k, _ = c.Seek(append(target[:len(target):len(target)], 1)) // the next target
	}
	return d
}

// Applied is the last commit in the local record store.
func (a *Archive) Applied() int64 { return a.stored().Seq }
