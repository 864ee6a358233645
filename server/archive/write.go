package archive

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"regexp"
	"time"

	"google.golang.org/protobuf/proto"

	pb "platarium/proto/platarium/v1"
	"platarium/storage/journal"
)

// Caller is who asks for a change, and under which request id.
type Caller struct {
	Actor     string // a key's id, or "system"
	RequestID string // empty for a random one
}

var requestIDs = regexp.MustCompile(`^[!-~]{1,64}$`)

// result is what a write did.
type result struct {
	seq     int64
	changes []*pb.Change
}

// submit commits what build makes. A request id that was answered before gives the first answer again; request is what must be equal for that.
func (a *Archive) submit(ctx context.Context, method string, by Caller, request []proto.Message, build func(*View) error) (result, error) {
	mut, err := newMutation(method, by, request, build)
	if err != nil {
		return result{}, err
	}
	receipt, err := a.log.Submit(ctx, mut)
	if err != nil {
		return result{}, err
	}
	return resultOf(ctx, mut.requestID, receipt, a.log.Read)
}

func newMutation(method string, by Caller, request []proto.Message, build func(*View) error) (*mutation, error) {
	if by.RequestID == "" {
		by.RequestID = NewID()
	}
	if !requestIDs.MatchString(by.RequestID) {
		return nil, &InvalidError{[]Violation{{"request_id", fmt.Sprintf("found %q; want 1 to 64 printable characters without spaces", by.RequestID)}}}
	}
	h := sha256.New()
	for _, m := range request {
		b, err := proto.MarshalOptions{Deterministic: true}.Marshal(m)
		if err != nil {
			return nil, err
		}
		h.Write(fmt.Appendf(nil, "%d:", len(b)))
		h.Write(b)
	}
	return &mutation{requestID: by.RequestID, method: method, actor: by.Actor, fingerprint: hex.EncodeToString(h.Sum(nil)), build: build}, nil
}

// resultOf gives the changes of a receipt, read back from the journal if the request was answered earlier.
func resultOf(ctx context.Context, requestID string, receipt journal.Receipt, read func(context.Context, int64) (*journal.Stored, error)) (result, error) {
	if receipt.Transaction != nil {
		return result{receipt.Seq, receipt.Transaction.GetChanges()}, nil
	}
	c, err := read(ctx, receipt.Seq)
	if err != nil {
		return result{}, fmt.Errorf("read the answer to request %s: %w", requestID, err)
	}
	for _, t := range c.Commit.GetTransactions() {
		if t.GetRequestId() == requestID {
			return result{receipt.Seq, t.GetChanges()}, nil
		}
	}
	return result{}, fmt.Errorf("commit %d holds no request %s", receipt.Seq, requestID)
}

// first returns the first record of a result as T.
func first[T Record](r result, err error) (T, error) {
	var none T
	if err != nil {
		return none, err
	}
	if len(r.changes) == 0 {
		return none, errors.New("commit holds no change")
	}
	t, ok := recordOf(r.changes[0]).(T)
	if !ok {
		return none, fmt.Errorf("commit holds a %T", recordOf(r.changes[0]))
	}
	return t, nil
}

// refusal refuses a change when its turn comes instead of at once: a request that was answered before is then known as such, and is answered as the
// first time even if what it rests on is gone by now.
func refusal(err error) func(*View) error { return func(*View) error { return err } }

// newName makes the resource name of a record to be created.
func (a *Archive) newName(collection, id string) (string, error) {
	if id == "" {
		id = a.conf.NewID()
	}
	if !idPattern(collection).MatchString(id) {
		return "", &InvalidError{[]Violation{{"id", fmt.Sprintf("found %q; want 4 to 63 lower-case letters, digits and hyphens, beginning and ending with a letter or digit", id)}}}
	}
	return collection + "/" + id, nil
}

// dry runs build as if it were to be committed, and undoes it.
func (a *Archive) dry(build func(*View) error) error {
	tx, err := a.db.Begin(true)
	if err != nil {
		return fmt.Errorf("begin a trial: %w", err)
	}
	defer func() { _ = tx.Rollback() }()
	return build(&View{state: state{tx}, archive: a, now: a.conf.Clock()})
}

// update is the common course of a masked change: read, check the etag, lay the new values over, validate, store.
func update[T Record](v *View, given T, mask []string, owned map[string]bool, validate func(*View, T, T) error) error {
	old, ok, err := record[T](v, given.GetName())
	if err != nil {
		return err
	}
	if !ok {
		return wrapName(ErrNotFound, given.GetName())
	}
	if e := given.GetEtag(); e != "" && e != old.GetEtag() {
		return fmt.Errorf("%w: %s is at etag %s, not %s", ErrStale, given.GetName(), old.GetEtag(), e)
	}
	next, err := overlay(old, given, mask, owned)
	if err != nil {
		return err
	}
	if err := validate(v, next, old); err != nil {
		return err
	}
	return v.replace(next, old)
}

// deletion is the common course of a deletion.
func deletion[T Record](v *View, name, etag string, allowed func(*View, T) error) error {
	old, ok, err := record[T](v, name)
	if err != nil {
		return err
	}
	if !ok {
		return wrapName(ErrNotFound, name)
	}
	if etag != "" && etag != old.GetEtag() {
		return fmt.Errorf("%w: %s is at etag %s, not %s", ErrStale, name, old.GetEtag(), etag)
	}
	if err := allowed(v, old); err != nil {
		return err
	}
	return v.remove(name)
}

// now is the clock's instant, for what is prepared before a commit has its time.
func (a *Archive) now() time.Time { return a.conf.Clock() }
