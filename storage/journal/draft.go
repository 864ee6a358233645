package journal

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"math/rand/v2"
	"time"

	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/types/known/timestamppb"

	pb "platarium/proto/platarium/v1"
	"platarium/storage"
)

// draft is a commit being made from a batch of submissions.
type draft struct {
	head         *pb.Commit // transactions are added when it is applied
	transactions []*pb.Transaction
	encoded      [][]byte // the same, rendered
	changes      int
	bytes        int // of encoded and sweeps
	data         []byte
	digest       storage.Digest
	members      []*pending // share the draft's fate; a refusal stands only together with the predecessors that led to it
	rest         []*pending // have to wait for another commit
}

func (d *draft) empty() bool {
	return len(d.transactions) == 0 && len(d.head.GetSweep()) == 0 && d.head.GetCheckpoint() == nil
}

// sweepEntry is what one announced hash takes in a commit, in bytes: 64 digits, quotes and comma, perhaps a space.
const sweepEntry = 68

// draft plans a batch and fills a commit with it. On an error members are those that it concerns.
func (l *Log) draft(ctx context.Context, batch []*pending) (*draft, error) {
	pos, now := l.Position(), l.now()
	d := &draft{head: &pb.Commit{Seq: pos.Seq + 1, Time: timestamppb.New(now), Schema: l.opts.Schema}}
	if pos.Seq > 0 {
		d.head.Prev = pos.Head.String()
	}
	var reqs []*Request
	for _, p := range batch {
		if p.mark == nil {
			p.req = Request{Payload: p.req.Payload}
			reqs = append(reqs, &p.req)
		}
	}
	if len(reqs) > 0 {
		l.machine.Plan(ctx, now, reqs)
	}
	for i, p := range batch {
		v := l.place(d, p)
		if v == endsBefore {
			d.rest = append(d.rest, batch[i:]...)
		}
		if v == endsAfter {
			d.rest = append(d.rest, batch[i+1:]...)
		}
		if v != goesOn {
			break
		}
	}
	if d.empty() {
		return d, nil
	}
	var err error
	if d.head.Token, err = randomHex(l.opts.Rand, 16); err != nil {
		return d, err
	}
	if d.data, err = encodeCommit(d.head, d.encoded); err != nil {
		return d, err
	}
	if len(d.data) > storage.MaxCreate {
		return d, fmt.Errorf("%w: %d bytes", ErrTooLarge, len(d.data))
	}
	d.digest = sha256.Sum256(d.data)
	return d, nil
}

// verdict says what placing a submission means for those after it, which were planned to come after it.
type verdict int

const (
	goesOn     verdict = iota // they may follow
	endsBefore                // it and they have to be planned again
	endsAfter                 // it has been answered; they have to be planned again
)

// place puts one planned submission into the draft, or answers it, or has it wait.
func (l *Log) place(d *draft, p *pending) verdict {
	switch {
	case p.mark != nil && d.head.Checkpoint != nil:
		d.rest = append(d.rest, p)
		return goesOn
	case p.mark != nil:
		d.head.Checkpoint = p.mark
		d.members = append(d.members, p)
		return goesOn
	case p.req.Err != nil || p.req.Done != nil:
		d.members = append(d.members, p)
		return goesOn
	case p.req.undecided() && !d.empty():
		d.rest = append(d.rest, p)
		return goesOn
	case p.req.undecided():
		p.reply(Receipt{}, errors.New("journal: the machine left a request undecided that waits for nothing"))
		return goesOn
	}
	return l.fill(d, p)
}

// fill adds a submission's changes to the draft if it has room. One that can't be stored at all is refused.
func (l *Log) fill(d *draft, p *pending) verdict {
	size, changes := sweepEntry*len(p.req.Sweep), len(p.req.Transaction.GetChanges())
	var encoded []byte
	if p.req.Transaction != nil {
		var err error
		if encoded, err = protojson.Marshal(p.req.Transaction); err != nil {
			p.reply(Receipt{}, fmt.Errorf("encode transaction: %w", err))
			return endsAfter
		}
		size += len(encoded)
	}
	if size > storage.MaxCreate-headRoom {
		p.reply(Receipt{}, fmt.Errorf("%w: its %d changes take %d bytes, the limit is %d", ErrTooLarge, changes, size, storage.MaxCreate-headRoom))
		return endsAfter
	}
	if !d.empty() && (d.changes+changes > l.opts.MaxChanges || d.bytes+size > l.opts.MaxBytes) {
		return endsBefore
	}
	if p.req.Transaction != nil {
		d.transactions = append(d.transactions, p.req.Transaction)
		d.encoded = append(d.encoded, encoded)
	}
	d.head.Sweep = append(d.head.Sweep, p.req.Sweep...)
	d.changes += changes
	d.bytes += size
	d.members = append(d.members, p)
	return goesOn
}

// headRoom is what a commit takes beside its transactions and sweeps, in bytes, amply.
const headRoom = 16 << 10

// stored is the draft as the commit that it has become.
func (d *draft) stored() *Stored {
	d.head.Transactions = d.transactions
	return &Stored{Commit: d.head, Digest: d.digest, Size: len(d.data)}
}

// answer tells the members what has become of them.
func (d *draft) answer() {
	for _, p := range d.members {
		switch {
		case p.req.Err != nil:
			p.reply(Receipt{}, p.req.Err)
		case p.req.Done != nil:
			done := *p.req.Done
			done.Replayed = true
			p.reply(done, nil)
		default:
			p.reply(Receipt{Seq: d.head.GetSeq(), Time: d.head.GetTime().AsTime(), Transaction: p.req.Transaction}, nil)
		}
	}
}

// storeTries is how often a commit is offered while the store gives no clear answer.
const storeTries = 6

// store creates the draft's object and finds out what has become of it: it stands if winner and error are nil; another commit has its place if winner is not
// nil. An error wraps ErrUnknownOutcome unless nothing was stored. Offering the same bytes again is safe: the number is taken once, by whichever arrives.
func (l *Log) store(ctx context.Context, d *draft) (winner *Stored, err error) {
	seq := d.head.GetSeq()
	for try := 0; ; try++ {
		created, there, read := l.offer(ctx, d)
		if created == nil {
			return nil, nil
		}
		switch {
		case read == nil && sha256.Sum256(there) == d.digest: // the token makes the bytes unlike any other's
			return nil, nil
		case read == nil:
			winner, err := decodeCommit(seq, there, l.opts.Schema)
			if err != nil {
				l.setFault(err)
			}
			return winner, err
		case errors.Is(read, storage.ErrNotExist) && !doubtful(created):
			return nil, fmt.Errorf("store commit %d: %w", seq, created)
		}
		if try == storeTries-1 || l.pause(ctx, 10*l.opts.Jitter, try) != nil {
			return nil, fmt.Errorf("%w: store commit %d: %w", ErrUnknownOutcome, seq, errors.Join(created, read))
		}
	}
}

// offerTime is how long one offer may take, in all.
const offerTime = time.Minute

// offer tries to create the draft's object, and if that fails reads what is there. The end of ctx doesn't interrupt it, lest an outcome be in doubt for no reason.
func (l *Log) offer(ctx context.Context, d *draft) (created error, there []byte, read error) {
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), offerTime)
	defer cancel()
	key := commitKey(d.head.GetSeq())
	if created = l.bucket.Create(ctx, key, d.data); created != nil {
		there, read = readObject(ctx, l.bucket, key, storage.MaxCreate)
	}
	return created, there, read
}

// doubtful says whether a failed Create may have stored its object all the same, or may still do so.
func doubtful(err error) bool {
	return errors.Is(err, storage.ErrDoubtful) || errors.Is(err, storage.ErrExist) ||
		errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded)
}

// pause waits a random part of a span that begins at first and doubles with each try, up to 32 times, so that rivals part ways.
func (l *Log) pause(ctx context.Context, first time.Duration, try int) error {
	timer := time.NewTimer(rand.N(first<<min(try, 5) + 1))
	defer timer.Stop()
	select {
	case <-timer.C:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}
