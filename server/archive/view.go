package archive

import (
	"bytes"
	"slices"
	"strings"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	pb "platarium/proto/platarium/v1"
)

// View is what a change sees while it is validated: the records after every earlier commit and after the changes before it in the same commit.
// Changes are made through it, and undone together if the request fails. It is used from one goroutine.
type View struct {
	state   state
	archive *Archive
	now     time.Time // the commit's time
	changes []*pb.Change
	undo    []undo
}

// undo is what one put found.
type undo struct {
	change *pb.Change        // the record; deleted where there was none
	tomb   []byte            // its tombstone
	marks  map[string][]byte // of the originals that the change names
}

// record returns the record of that name as type T, or false.
func record[T Record](v *View, name string) (T, bool, error) {
	var none T
	r, err := v.state.get(name)
	if err != nil || r == nil {
		return none, false, err
	}
	t, ok := r.(T)
	return t, ok, nil
}

// put makes a change in the view and keeps it for the commit.
func (v *View) put(c *pb.Change) error {
	before, err := v.state.change(c.GetName())
	if err != nil {
		return err
	}
	if before == nil {
		before = &pb.Change{Name: c.GetName(), Deleted: true}
	}
	u := undo{change: before, tomb: bytes.Clone(v.state.bucket(tombBucket).Get([]byte(c.GetName()))), marks: map[string][]byte{}}
	for _, sum := range originalsOf(recordOf(c)) {
		u.marks[sum] = bytes.Clone(v.state.bucket(originalBucket).Get([]byte(sum)))
	}
	if err := v.state.apply(c, 0); err != nil {
		return err
	}
	v.undo = append(v.undo, u)
	v.changes = append(v.changes, c)
	return nil
}

// rollback undoes what put did since mark changes were made, to the last byte: requests after this one must not see any of it.
func (v *View) rollback(mark int) error {
	for len(v.undo) > mark {
		last := len(v.undo) - 1
		u := v.undo[last]
		if err := v.state.apply(u.change, 0); err != nil {
			return err
		}
		if err := v.state.restore(tombBucket, []byte(u.change.GetName()), u.tomb); err != nil {
			return err
		}
		for sum, mark := range u.marks {
			if err := v.state.restore(originalBucket, []byte(sum), mark); err != nil {
				return err
			}
		}
		v.undo, v.changes = v.undo[:last], v.changes[:last]
	}
	return nil
}

// create stamps and stores a new record under name.
func (v *View) create(r Record, name string) error {
	old, err := v.state.get(name)
	if err != nil {
		return err
	}
	if old != nil {
		return wrapName(ErrExists, name)
	}
	revision := int64(1)
	if t, err := v.tombstone(name); err != nil {
		return err
	} else if t != nil {
		revision = t.GetRevision() + 1 // a name used again goes on counting, so that an old etag never fits
	}
	stamp(r, name, revision, nil, v.now)
	return v.put(changeOf(r))
}

// replace stamps and stores the next revision of a record.
func (v *View) replace(r, old Record) error {
	stamp(r, old.GetName(), old.GetRevision()+1, old.GetCreateTime(), v.now)
	return v.put(changeOf(r))
}

func (v *View) remove(name string) error {
	return v.put(&pb.Change{Name: name, Deleted: true})
}

func (v *View) tombstone(name string) (*pb.Tombstone, error) {
	b := v.state.bucket(tombBucket).Get([]byte(name))
	if b == nil {
		return nil, nil
	}
	t := new(pb.Tombstone)
	return t, proto.Unmarshal(b, t)
}

// unused refuses with InUseError if any record outside the ignored ones names target.
func (v *View) unused(target string, ignore ...string) error {
	const shown = 5
	use := &InUseError{Name: target}
	v.state.referrers(target, func(source string) bool {
		switch {
		case slices.Contains(ignore, source):
		case len(use.By) < shown:
			use.By = append(use.By, source)
		default:
			use.More++
		}
		return use.More < 1000
	})
	if len(use.By) == 0 {
		return nil
	}
	return use
}

// mustExist adds a violation if a reference has the wrong form or names nothing.
func (v *View) mustExist(c *checks, field, name, collection string, required bool) error {
	if !c.name(field, name, collection, required) {
		return nil
	}
	if collection == Taxa {
		if _, ok := v.archive.baseTaxon(strings.TrimPrefix(name, Taxa+"/")); ok {
			return nil
		}
	}
	r, err := v.state.get(name)
	if err != nil {
		return err
	}
	if r == nil {
		c.add(field, "found %q, which isn't in the archive", name)
	}
	return nil
}

// today is the studio's calendar day at the commit's time.
func (v *View) today() time.Time { return v.archive.dayOf(v.now) }

func (v *View) timestamp() *timestamppb.Timestamp { return timestamppb.New(v.now) }
