// Package archive keeps the records of a studio: it validates changes, commits them to the journal, and applies every commit, its own and those of
// other servers, to a local record store and to the index.
//
// Invariants: a write is acknowledged after its commit is stored in the bucket and applied here, so that its author sees it at once; each change is
// validated after all changes before it, in the journal's order, whichever server makes them; the local store (bbolt) can be deleted
// at any time and is filled again from the bucket.
//
// Left out: who may call what (server/api), previews (server/preview), and the meaning of grants (server/rights).
package archive

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"runtime/debug"
	"sync/atomic"
	"time"

	bolt "go.etcd.io/bbolt"
	berrors "go.etcd.io/bbolt/errors"

	"platarium/indexer"
	"platarium/indexer/taxon"
	pb "platarium/proto/platarium/v1"
	"platarium/storage"
	"platarium/storage/journal"
	"platarium/storage/original"
)

// Schema is the level of the record schema that this program writes. A journal with a higher one is read only. It is raised whenever records gain
// fields or kinds, so that a program that doesn't know them never writes a record back without them. Levels: 1 the first; 2 consents, lenders, rival claims,
// deliveries and briefs.
const Schema = 2

// Config says where an archive is and what it uses. Bucket and Cache are required.
type Config struct {
	Bucket   storage.Bucket
	Cache    string           // folder of the local record store and index; holds nothing that isn't in the bucket
	Clock    func() time.Time // time.Now by default
	Location *time.Location   // the studio's calendar, by which "today" is reckoned; UTC by default
	NewID    func() string    // NewID by default
	Logger   *slog.Logger     // silent by default
	// Committed, if set, is told of every commit that is applied after Open has returned; it must return quickly. It may be told of a commit again.
	Committed func(*pb.Commit)
	// CheckpointMin is the weight of the journal's tail below which no checkpoint is made by itself, bytes; see journal.Options.
	CheckpointMin int64
}

func (c *Config) defaults() error {
	if c.Bucket == nil || c.Cache == "" {
		return errors.New("archive: a bucket and a cache folder are required")
	}
	if c.Clock == nil {
		c.Clock = time.Now
	}
	if c.Location == nil {
		c.Location = time.UTC
	}
	if c.NewID == nil {
		c.NewID = NewID
	}
	if c.Logger == nil {
		c.Logger = slog.New(slog.DiscardHandler)
	}
	return nil
}

// Archive is an open archive. Its methods may be called concurrently.
type Archive struct {
	conf      Config
	db        *bolt.DB
	log       *journal.Log
	index     *indexer.Index
	originals *original.Store
	headers   headerCache
	seals     sealer

	taxa   atomic.Pointer[taxon.Classification] // the base under the studio's own taxa
	drawn  atomic.Pointer[drawn]                // what PicturesOf found out for the last commit
	ledger ledger
}

// Open opens the archive in a bucket, or begins one if the bucket is empty; it returns when the local state has caught up.
func Open(ctx context.Context, conf Config) (_ *Archive, err error) {
	if err := conf.defaults(); err != nil {
		return nil, err
	}
	a := &Archive{conf: conf, originals: original.New(conf.Bucket), seals: sealer{bucket: conf.Bucket}}
	defer func() {
		if err != nil {
			err = errors.Join(err, a.Close())
		}
	}()
	if err := a.openState(); err != nil {
		return nil, err
	}
	opts := journal.Options{Clock: conf.Clock, Schema: Schema, Logger: conf.Logger, CheckpointMin: conf.CheckpointMin}
	m := &machine{archive: a, db: a.db}
	begun := a.stored().Seq > 0
	a.log, err = journal.Open(ctx, conf.Bucket, m, opts)
	if errors.Is(err, journal.ErrForeign) {
		conf.Logger.Warn("cache belongs to another archive and is filled again", "cache", conf.Cache, "error", err)
		if err := m.reset(); err != nil {
			return nil, err
		}
		begun = false
		a.log, err = journal.Open(ctx, conf.Bucket, m, opts)
	}
	if err != nil {
		return nil, err
	}
	folder := filepath.Join(conf.Cache, "index")
	if !begun { // an index without the records that it was made from may be of another past of the same archive
		if err := os.RemoveAll(folder); err != nil {
			return nil, fmt.Errorf("remove the old index: %w", err)
		}
	}
	a.index, err = indexer.Open(ctx, folder, a, indexer.Options{Logger: conf.Logger})
	if err != nil {
		return nil, fmt.Errorf("open the index: %w", err)
	}
	return a, a.catchUp(ctx)
}

// openState opens the record store and reads what is kept in memory. A store laid out by another version of the program is emptied, one that can't be read
// is thrown away.
func (a *Archive) openState() error {
	if err := os.MkdirAll(a.conf.Cache, 0o700); err != nil {
		return fmt.Errorf("make the cache folder: %w", err)
	}
	path := filepath.Join(a.conf.Cache, "records.db")
	opening := path + ".opening"
	err := diedOpening(opening)
	if err == nil {
		if err := os.WriteFile(opening, nil, 0o600); err != nil {
			return fmt.Errorf("mark the record store as being opened: %w", err)
		}
		err = a.tryState(path)
	}
	if err != nil && !errors.Is(err, berrors.ErrTimeout) {
		a.conf.Logger.Warn("local record store is unreadable and is filled again", "path", path, "error", err)
		err = a.anew(path)
	}
	if rerr := os.Remove(opening); rerr != nil && !errors.Is(rerr, os.ErrNotExist) {
		err = errors.Join(err, fmt.Errorf("unmark the record store: %w", rerr))
	}
	return err
}

// startingTime is how long another start over the same cache may take until it has locked the store.
const startingTime = 10 * time.Second

// diedOpening says whether the program ended while it opened the store: some damage makes the database end the program, where nothing can be caught.
func diedOpening(mark string) error {
	info, err := os.Stat(mark)
	if err != nil || time.Since(info.ModTime()) < startingTime {
		return nil //nolint:nilerr // without a mark there is nothing to say
	}
	return errors.New("the program ended while it opened the store the last time")
}

// anew begins the store over.
func (a *Archive) anew(path string) error {
	if a.db != nil {
		if err := a.db.Close(); err != nil {
			return fmt.Errorf("close the unreadable record store: %w", err)
		}
	}
	if err := os.Remove(path); err != nil && !errors.Is(err, os.ErrNotExist) {
		return fmt.Errorf("remove the unreadable record store: %w", err)
	}
	return a.tryState(path)
}

// tryState opens the store once. Damage may show as a panic or a fault of memory.
func (a *Archive) tryState(path string) (err error) {
	defer debug.SetPanicOnFault(debug.SetPanicOnFault(true))
	defer func() {
		if r := recover(); r != nil {
			err = fmt.Errorf("record store is damaged: %v", r)
		}
	}()
	a.db, err = bolt.Open(path, 0o600, &bolt.Options{Timeout: 2 * time.Second, NoFreelistSync: true, FreelistType: bolt.FreelistMapType})
	if errors.Is(err, berrors.ErrTimeout) {
		return fmt.Errorf("cache folder %s is used by another server; give this one a folder of its own: %w", a.conf.Cache, err)
	}
	if err != nil {
		return err
	}
	err = a.db.Update(func(tx *bolt.Tx) error {
		if meta := tx.Bucket(metaBucket); meta != nil && bytes.Equal(meta.Get([]byte("version")), versionMark()) {
			return nil
		}
		return resetBuckets(tx)
	})
	if err != nil {
		return err
	}
	return a.reload()
}

// catchUp brings an index that is behind the records up to them.
func (a *Archive) catchUp(ctx context.Context) error {
	const few = 2000 // commits; past that a rebuild is faster
	seq := a.log.Position().Seq
	from := a.index.Sequence()
	if from == seq {
		return nil
	}
	if from > seq || seq-from > few {
		return a.index.Rebuild(ctx, nil)
	}
	for n := from + 1; n <= seq; n++ {
		c, err := a.log.Read(ctx, n)
		if err != nil {
			return fmt.Errorf("bring the index up to commit %d: %w", n, err)
		}
		if err := a.index.Apply(ctx, n, changedNames(c.Commit)); err != nil {
			return fmt.Errorf("bring the index up to commit %d: %w", n, err)
		}
	}
	return nil
}

func changedNames(c *pb.Commit) []string {
	var names []string
	for _, t := range c.GetTransactions() {
		for _, change := range t.GetChanges() {
			names = append(names, change.GetName())
		}
	}
	return names
}

// ArchiveID is the random id of the archive.
func (a *Archive) ArchiveID() string { return a.log.ArchiveID() }

// applied brings what is kept in memory, and the index, up to a commit that the record store holds.
func (a *Archive) applied(ctx context.Context, c *journal.Stored) error {
	if err := a.overlayChanges(c.Commit); err != nil {
		return err
	}
	if err := a.enterGrants(c.Commit); err != nil {
		return err
	}
	if a.index == nil { // Open replays the tail; catchUp follows
		return nil
	}
	if err := a.index.Apply(ctx, c.Commit.GetSeq(), changedNames(c.Commit)); err != nil {
		return fmt.Errorf("index commit %d: %w", c.Commit.GetSeq(), err)
	}
	if a.conf.Committed != nil {
		a.conf.Committed(c.Commit)
	}
	return nil
}

// Follow applies what other servers commit, until ctx ends.
func (a *Archive) Follow(ctx context.Context, every time.Duration) error {
	return a.log.Follow(ctx, every)
}

// Journal returns the journal under the archive.
func (a *Archive) Journal() *journal.Log { return a.log }

// Index returns the index over the archive.
func (a *Archive) Index() *indexer.Index { return a.index }

// Originals returns the store of files as received.
func (a *Archive) Originals() *original.Store { return a.originals }

// Bucket returns the bucket that the archive is in.
func (a *Archive) Bucket() storage.Bucket { return a.conf.Bucket }

// Close waits for commits under way and closes the local state.
func (a *Archive) Close() error {
	var errs []error
	if a.log != nil {
		errs = append(errs, a.log.Close())
	}
	if a.index != nil {
		errs = append(errs, a.index.Close())
	}
	if a.db != nil {
		errs = append(errs, a.db.Close())
	}
	return errors.Join(errs...)
}

// dayOf is the studio's calendar day of an instant, as midnight UTC.
func (a *Archive) dayOf(t time.Time) time.Time {
	y, m, d := t.In(a.conf.Location).Date()
	return time.Date(y, m, d, 0, 0, 0, 0, time.UTC)
}

// Today is the studio's calendar day.
func (a *Archive) Today() time.Time { return a.dayOf(a.conf.Clock()) }

func ignoreNotFound(err error) error {
	if errors.Is(err, ErrNotFound) {
		return nil
	}
	return err
}

func wrapName(err error, name string) error { return fmt.Errorf("%w: %s", err, name) }
