package archive

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	bolt "go.etcd.io/bbolt"

	pb "platarium/proto/platarium/v1"
	"platarium/storage/journal"
)

// ErrAhead: a commit was asked for that isn't there yet. The caller asks for an earlier one, or for the last.
var ErrAhead = errors.New("there is no such commit yet")

// Past is grants, uses, parties and one picture with its taxon as they stood after a commit. What hasn't changed since is read from one snapshot of the local store, what has from
// the journal, so that commits which come in meanwhile don't show. It isn't for concurrent use, and must be closed.
type Past struct {
	archive *Archive
	tx      *bolt.Tx
	seq     int64
	at      journal.Position
	changed map[string]Record    // what has changed since, as it stood; nil for what wasn't there
	own     map[string]bool      // names to be known, beside whole collections
	commits map[int64]*pb.Commit // read from the journal
}

// dealt are the collections that a Past has whole.
var dealt = []string{Grants, Uses, Parties}

// At gives the records as they stood after a commit, 0 for the last, and among pictures those named. The error is ErrAhead for a commit that isn't there yet.
func (a *Archive) At(ctx context.Context, seq int64, pictures ...string) (_ *Past, err error) {
	p := &Past{archive: a, seq: seq, changed: map[string]Record{}, own: map[string]bool{}, commits: map[int64]*pb.Commit{}}
	defer func() {
		if err != nil {
			p.Close()
		}
	}()
	if last := a.stored().Seq; seq > last {
		if _, err := a.log.Sync(ctx); err != nil { // another server may have made it
			return nil, err
		}
		if last = a.stored().Seq; seq > last {
			return nil, fmt.Errorf("%w: found commit %d, the last is %d", ErrAhead, seq, last)
		}
	}
	for _, n := range pictures {
		p.own[n] = true
	}
	for {
		// The snapshot is let go while the journal is read: it would keep the store from growing. What changes meanwhile is found by the next round.
		if p.tx, err = a.db.Begin(false); err != nil {
			return nil, fmt.Errorf("read the local store: %w", err)
		}
		missing, err := p.settle(pictures)
		if err != nil {
			return nil, err
		}
		if len(missing) == 0 {
			break
		}
		p.Close()
		if err := p.fetch(ctx, missing); err != nil {
			return nil, err
		}
	}
	if p.at.Seq == p.seq {
		return p, nil
	}
	c, err := a.log.Read(ctx, p.seq)
	if err != nil {
		return nil, fmt.Errorf("read commit %d: %w", p.seq, err)
	}
	p.at = journal.Position{Seq: p.seq, Head: c.Digest, Time: c.Commit.GetTime().AsTime()}
	return p, nil
}

// Close lets the snapshot go.
func (p *Past) Close() {
	if p.tx != nil {
		_ = p.tx.Rollback() // fails only if it is over already
		p.tx = nil
	}
}

// Position is the commit after which the records stood so.
func (p *Past) Position() journal.Position { return p.at }

// Day is the studio's calendar day of the commit, as midnight UTC.
func (p *Past) Day() time.Time { return p.archive.dayOf(p.at.Time) }

// settle finds out, by the snapshot, which records have changed since the commit, and tells from which commits they have to be read.
func (p *Past) settle(pictures []string) (missing map[string]int64, err error) {
	p.at = state{p.tx}.position()
	if p.seq == 0 {
		p.seq = p.at.Seq
	}
	if p.seq == p.at.Seq {
		return nil, nil
	}
	missing = map[string]int64{}
	for _, collection := range dealt {
		p.changesIn(collection+"/", missing)
	}
	for name := range p.own {
		p.changesIn(name+"\x00", missing)
	}
	if len(missing) > 0 {
		return missing, nil
	}
	for _, n := range pictures {
		pic, err := p.GetPicture(n)
		if err != nil {
			continue // it wasn't there; whoever asks for it is told so
		}
		if err := p.settleTaxon(pic.GetIdentification().GetTaxon(), missing); err != nil || len(missing) > 0 {
			return missing, err
		}
	}
	return nil, nil
}

// settleTaxon does for a taxon and what it is a synonym of as settle does for whole collections: taxa change in thousands when a checklist comes in, so only those that count are looked at.
func (p *Past) settleTaxon(name string, missing map[string]int64) error {
	for name != "" && !p.own[name] {
		p.own[name] = true
		if p.changesIn(name+"\x00", missing); len(missing) > 0 {
			delete(p.own, name) // looked at again once it is known
			return nil
		}
		t, ok, err := p.taxon(name)
		if err != nil || !ok || t.GetStatus() != pb.TaxonStatus_TAXON_STATUS_SYNONYM {
			return err
		}
		name = t.GetAccepted()
	}
	return nil
}

// changesIn walks the commits of the records whose names begin so, and adds what it doesn't know yet of those changed since.
func (p *Past) changesIn(prefix string, missing map[string]int64) {
	c := p.tx.Bucket(historyBucket).Cursor()
	var name string
	var before int64 // the last commit of the name up to the one asked for
	for k, _ := c.Seek([]byte(prefix)); bytes.HasPrefix(k, []byte(prefix)); k, _ = c.Next() {
		n, seq := string(k[:len(k)-9]), int64(binary.BigEndian.Uint64(k[len(k)-8:]))
		if n != name {
			name, before = n, 0
		}
		if seq <= p.seq {
			before = seq
			continue
		}
		if _, known := p.changed[name]; known {
			continue
		}
		if before == 0 {
			p.changed[name] = nil // made since
		} else {
			missing[name] = before
		}
	}
}

// fetch reads records from the journal, each from the last commit that changed it.
func (p *Past) fetch(ctx context.Context, missing map[string]int64) error {
	for name, seq := range missing {
		if p.commits[seq] == nil {
			c, err := p.archive.log.Read(ctx, seq)
			if err != nil {
				return fmt.Errorf("read commit %d: %w", seq, err)
			}
			p.commits[seq] = c.Commit
		}
		rev, err := changeIn(p.commits[seq], name)
		if err != nil {
			return err
		}
		p.changed[name] = recordOf(rev.GetChange())
	}
	return nil
}

// past reads a record as it stood.
func past[T Record](p *Past, name string) (T, error) {
	var none T
	r, changed := p.changed[name]
	if !changed {
		var err error
		if r, err = (state{p.tx}).get(name); err != nil {
			return none, err
		}
	}
	t, ok := r.(T)
	if !ok {
		return none, wrapName(ErrNotFound, name)
	}
	return t, nil
}

// GetPicture returns one of the pictures that At was asked for, or ErrNotFound.
func (p *Past) GetPicture(name string) (*pb.Picture, error) {
	if !p.own[name] {
		return nil, wrapName(ErrNotFound, name)
	}
	return past[*pb.Picture](p, name)
}

// GetGrant returns a grant, or ErrNotFound.
func (p *Past) GetGrant(name string) (*pb.Grant, error) { return past[*pb.Grant](p, name) }

// GetUse returns a use, or ErrNotFound.
func (p *Past) GetUse(name string) (*pb.Use, error) { return past[*pb.Use](p, name) }

// PartyName is what a party was called; its resource name if it wasn't known.
func (p *Past) PartyName(name string) string {
	party, err := past[*pb.Party](p, name)
	if err != nil {
		return name
	}
	return party.GetDisplayName()
}

// Referrers lists the records of one of the collections grants and uses that named target, in order.
func (p *Past) Referrers(target, collection string) ([]string, error) {
	prefix := collection + "/"
	var names []string
	state{p.tx}.referrers(target, func(source string) bool {
		if _, changed := p.changed[source]; strings.HasPrefix(source, prefix) && !changed {
			names = append(names, source)
		}
		return true
	})
	for name, r := range p.changed {
		if r != nil && strings.HasPrefix(name, prefix) && slices.Contains(refsOf(r), target) {
			names = append(names, name)
		}
	}
	slices.Sort(names)
	return names, nil
}

// AcceptedName is the scientific name that was in use for an identification of one of the pictures that At was asked for; as written where the taxon wasn't known.
func (p *Past) AcceptedName(id *pb.Identification) (string, error) {
	t, ok, err := p.taxon(id.GetTaxon())
	if err != nil {
		return "", err
	}
	if !ok {
		return id.GetScientificName(), nil
	}
	for seen := map[string]bool{}; t.GetStatus() == pb.TaxonStatus_TAXON_STATUS_SYNONYM && !seen[t.GetName()]; {
		seen[t.GetName()] = true
		next, ok, err := p.taxon(t.GetAccepted())
		if err != nil {
			return "", err
		}
		if !ok {
			break // a synonym whose taxon is missing stands for itself
		}
		t = next
	}
	return t.GetScientificName(), nil
}

// taxon is the studio's record of a taxon, else that of the base.
func (p *Past) taxon(name string) (*pb.Taxon, bool, error) {
	t, err := past[*pb.Taxon](p, name)
	if err == nil {
		return t, true, nil
	}
	base, ok := p.archive.baseTaxon(strings.TrimPrefix(name, Taxa+"/"))
	if !ok {
		return nil, false, ignoreNotFound(err)
	}
	return TaxonRecord(base), true, ignoreNotFound(err)
}
