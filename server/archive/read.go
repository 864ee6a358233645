package archive

import (
	"bytes"
	"context"
	"encoding/binary"
	"fmt"
	"maps"
	"slices"

	bolt "go.etcd.io/bbolt"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"

	pb "platarium/proto/platarium/v1"
)

// get reads one record from the local store.
func get[T Record](a *Archive, name string) (T, error) {
	var found T
	err := a.db.View(func(tx *bolt.Tx) error {
		r, err := state{tx}.get(name)
		if err != nil {
			return err
		}
		t, ok := r.(T)
		if !ok {
			return wrapName(ErrNotFound, name)
		}
		found = t
		return nil
	})
	return found, err
}

// GetPicture returns a picture, or ErrNotFound.
func (a *Archive) GetPicture(name string) (*pb.Picture, error) { return get[*pb.Picture](a, name) }

// GetSpecimen returns a specimen, or ErrNotFound.
func (a *Archive) GetSpecimen(name string) (*pb.Specimen, error) { return get[*pb.Specimen](a, name) }

// GetBrief returns a brief, or ErrNotFound.
func (a *Archive) GetBrief(name string) (*pb.Brief, error) { return get[*pb.Brief](a, name) }

// GetGrant returns a grant, or ErrNotFound.
func (a *Archive) GetGrant(name string) (*pb.Grant, error) { return get[*pb.Grant](a, name) }

// GetUse returns a use, or ErrNotFound.
func (a *Archive) GetUse(name string) (*pb.Use, error) { return get[*pb.Use](a, name) }

// GetParty returns a party with its contact in the clear, or ErrNotFound.
func (a *Archive) GetParty(ctx context.Context, name string) (*pb.Party, error) {
	p, err := get[*pb.Party](a, name)
	return a.opened(ctx, p, err)
}

// PartyName is what a party is called; its resource name if it isn't known.
func (a *Archive) PartyName(name string) string {
	p, err := get[*pb.Party](a, name)
	if err != nil {
		return name
	}
	return p.GetDisplayName()
}

// list returns up to limit records of a collection whose names come after a name, for which keep is true, and whether there may be more.
func list[T Record](a *Archive, collection, after string, limit int, keep func(T) bool) (found []T, more bool, err error) {
	prefix := []byte(collection + "/")
	start := prefix
	if after != "" {
		start = append([]byte(after), 0)
	}
	err = a.db.View(func(tx *bolt.Tx) error {
		c := tx.Bucket(recordBucket).Cursor()
		for k, v := c.Seek(start); bytes.HasPrefix(k, prefix); k, v = c.Next() {
			change := new(pb.Change)
			if err := proto.Unmarshal(v, change); err != nil {
				return fmt.Errorf("read %s from the local store: %w", k, err)
			}
			t, ok := recordOf(change).(T)
			if !ok || keep != nil && !keep(t) {
				continue
			}
			if len(found) == limit {
				more = true
				return nil
			}
			found = append(found, t)
		}
		return nil
	})
	return found, more, err
}

// ListPictures returns up to limit pictures by name after a name, those that keep takes (nil for all), and whether there are more.
func (a *Archive) ListPictures(after string, limit int, keep func(*pb.Picture) bool) ([]*pb.Picture, bool, error) {
	return list(a, Pictures, after, limit, keep)
}

// ListSpecimens returns up to limit specimens by name after a name, and whether there are more.
func (a *Archive) ListSpecimens(after string, limit int) ([]*pb.Specimen, bool, error) {
	return list[*pb.Specimen](a, Specimens, after, limit, nil)
}

// ListBriefs returns up to limit briefs by name after a name, and whether there are more.
func (a *Archive) ListBriefs(after string, limit int) ([]*pb.Brief, bool, error) {
	return list[*pb.Brief](a, Briefs, after, limit, nil)
}

// ListOwnTaxa returns up to limit of the studio's own taxa by name after a name, and whether there are more.
func (a *Archive) ListOwnTaxa(after string, limit int) ([]*pb.Taxon, bool, error) {
	return list[*pb.Taxon](a, Taxa, after, limit, nil)
}

// ListParties returns up to limit parties without their contacts, and whether there are more.
func (a *Archive) ListParties(after string, limit int) ([]*pb.Party, bool, error) {
	found, more, err := list[*pb.Party](a, Parties, after, limit, nil)
	for _, p := range found {
		p.SealedContact = nil
	}
	return found, more, err
}

// ListKeys returns up to limit keys without their hashes, and whether there are more.
func (a *Archive) ListKeys(after string, limit int) ([]*pb.Key, bool, error) {
	found, more, err := list[*pb.Key](a, Keys, after, limit, nil)
	for _, k := range found {
		k.SecretSha256 = ""
	}
	return found, more, err
}

// ListGrants returns up to limit grants after a name that keep takes (nil for all), and whether there are more.
func (a *Archive) ListGrants(after string, limit int, keep func(*pb.Grant) bool) ([]*pb.Grant, bool, error) {
	return list(a, Grants, after, limit, keep)
}

// ListUses returns up to limit uses after a name that keep takes (nil for all), and whether there are more.
func (a *Archive) ListUses(after string, limit int, keep func(*pb.Use) bool) ([]*pb.Use, bool, error) {
	return list(a, Uses, after, limit, keep)
}

// wasDeleted says whether a record of that name was deleted and hasn't been made anew.
func (a *Archive) wasDeleted(name string) (yes bool) {
	_ = a.db.View(func(tx *bolt.Tx) error { // on a closed store nothing is known
		yes = tx.Bucket(tombBucket).Get([]byte(name)) != nil
		return nil
	})
	return yes
}

// Referrers returns the names of records of one collection that name target, in order.
func (a *Archive) Referrers(target, collection string) ([]string, error) {
	var names []string
	prefix := collection + "/"
	err := a.db.View(func(tx *bolt.Tx) error {
		state{tx}.referrers(target, func(source string) bool {
			if len(source) > len(prefix) && source[:len(prefix)] == prefix {
				names = append(names, source)
			}
			return true
		})
		return nil
	})
	return names, err
}

// Count returns the number of live records of a collection.
func (a *Archive) Count(collection string) (n int64, err error) {
	err = a.db.View(func(tx *bolt.Tx) error {
		n = state{tx}.count(collection)
		return nil
	})
	return n, err
}

// Collections lists the collections of records.
func Collections() []string { return slices.Clone(collections[:]) }

// Revisions returns up to limit changes of a record, newest first, from before a sequence (0 for the newest), and whether there are more.
func (a *Archive) Revisions(ctx context.Context, name string, before int64, limit int) ([]*pb.Revision, bool, error) {
	seqs, err := a.historyOf(name)
	if err != nil {
		return nil, false, err
	}
	if len(seqs) == 0 {
		return nil, false, wrapName(ErrNotFound, name)
	}
	var out []*pb.Revision
	for i := len(seqs) - 1; i >= 0; i-- {
		if before != 0 && seqs[i] >= before {
			continue
		}
		if len(out) == limit {
			return out, true, nil
		}
		rev, err := a.revision(ctx, name, seqs[i])
		if err != nil {
			return nil, false, err
		}
		var earlier Record
		if i > 0 {
			last, err := a.revision(ctx, name, seqs[i-1])
			if err != nil {
				return nil, false, err
			}
			earlier = recordOf(last.GetChange())
		}
		rev.ChangedFields = changedFields(recordOf(rev.GetChange()), earlier)
		out = append(out, rev)
	}
	return out, false, nil
}

func (a *Archive) historyOf(name string) (seqs []int64, err error) {
	prefix := []byte(name + "\x00")
	err = a.db.View(func(tx *bolt.Tx) error {
		c := tx.Bucket(historyBucket).Cursor()
		for k, _ := c.Seek(prefix); bytes.HasPrefix(k, prefix) && len(k) == len(prefix)+8; k, _ = c.Next() {
			seqs = append(seqs, int64(binary.BigEndian.Uint64(k[len(prefix):])))
		}
		return nil
	})
	return seqs, err
}

// revision reads one change back from the journal. Two changes of one record in one commit count as one: the last.
func (a *Archive) revision(ctx context.Context, name string, seq int64) (*pb.Revision, error) {
	c, err := a.log.Read(ctx, seq)
	if err != nil {
		return nil, fmt.Errorf("read commit %d: %w", seq, err)
	}
	return changeIn(c.Commit, name)
}

func changeIn(c *pb.Commit, name string) (rev *pb.Revision, _ error) {
	for _, t := range c.GetTransactions() {
		for _, change := range t.GetChanges() {
			if change.GetName() == name {
				rev = &pb.Revision{Sequence: c.GetSeq(), Time: c.GetTime(), Actor: t.GetActor(), Change: change}
			}
		}
	}
	if rev == nil {
		return nil, fmt.Errorf("commit %d holds no change of %s", c.GetSeq(), name)
	}
	return rev, nil
}

// changedFields names the fields that differ, but for those that every write sets.
func changedFields(now, before Record) []string {
	values := func(r Record) map[string]protoreflect.Value {
		m := map[string]protoreflect.Value{}
		if r != nil {
			r.ProtoReflect().Range(func(f protoreflect.FieldDescriptor, v protoreflect.Value) bool {
				if n := string(f.Name()); !serverOwned[n] {
					m[f.JSONName()] = v
				}
				return true
			})
		}
		return m
	}
	a, b := values(now), values(before)
	changed := map[string]bool{}
	for n, v := range a {
		if w, ok := b[n]; !ok || !v.Equal(w) {
			changed[n] = true
		}
	}
	for n := range b {
		if _, ok := a[n]; !ok {
			changed[n] = true
		}
	}
	return slices.Sorted(maps.Keys(changed))
}
