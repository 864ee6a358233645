package web

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"time"
)

// Bounds of what is dropped at once, and of how long it is kept when nobody does anything with it.
const (
	mostFiles   = 20_000
	mostBytes   = 64 << 30
	mostRows    = 500 // rows shown; the rest is counted
	importIdles = 6 * time.Hour
)

// errBusy: this visitor brings something in already. It is finished or given up first.
var errBusy = errors.New("something is being brought in already: finish it or give it up first")

// imports are what visitors bring in: one thing a session. The folder holds what they dropped until it is done or given up.
type imports struct {
	importer Importer
	folder   string
	now      func() time.Time

	mu  sync.Mutex
	all map[string]*bringing // by the session's token, which stays in the process
}

// newImports sweeps what an earlier run left behind.
func newImports(importer Importer, folder string, now func() time.Time) (*imports, error) {
	if importer == nil {
		return nil, nil
	}
	if folder == "" {
		return nil, errors.New("bringing in needs a folder for what is dropped")
	}
	if err := errors.Join(os.RemoveAll(folder), os.MkdirAll(folder, 0o700)); err != nil {
		return nil, fmt.Errorf("prepare the folder for what is brought in: %w", err)
	}
	return &imports{importer: importer, folder: folder, now: now, all: map[string]*bringing{}}, nil
}

// bringing is one thing that is brought in: dropped, looked through, imported.
type bringing struct {
	id     string
	job    ImportJob
	root   string
	cancel context.CancelFunc
	ended  chan struct{} // closed when nothing is under way

	mu       sync.Mutex
	state    string // receiving, looking, looked, running, done, failed
	files    int
	bytes    int64
	tables   ImportTables
	rows     []ImportRow
	more     int // rows beyond those kept
	progress ImportProgress
	summary  ImportSummary
	wrong    string
	used     time.Time
}

// of finds what a visitor brings in; nil if nothing is.
func (im *imports) of(session string) *bringing {
	im.mu.Lock()
	defer im.mu.Unlock()
	return im.all[session]
}

// begin makes room for what a visitor drops, and sweeps what nobody has touched for long.
func (im *imports) begin(session, key string) (*bringing, error) {
	im.mu.Lock()
	defer im.mu.Unlock()
	for whose, b := range im.all {
		if b.idle() && im.now().Sub(b.lastUsed()) > importIdles {
			_ = os.RemoveAll(b.root) // what can't be removed now is at the next start
			delete(im.all, whose)
		}
	}
	if im.all[session] != nil {
		return nil, errBusy
	}
	root, err := os.MkdirTemp(im.folder, "drop-")
	if err != nil {
		return nil, err
	}
	b := &bringing{
		id: filepath.Base(root), root: root, state: "receiving", used: im.now(), cancel: func() {},
		job: ImportJob{Key: key, Folder: filepath.Join(root, "files"), Beside: root},
	}
	if err := os.Mkdir(b.job.Folder, 0o700); err != nil {
		return nil, errors.Join(err, os.RemoveAll(root))
	}
	im.all[session] = b
	return b, nil
}

// giveUp stops what is under way, waits for it, and takes the folder away.
func (im *imports) giveUp(session string) error {
	im.mu.Lock()
	b := im.all[session]
	delete(im.all, session)
	im.mu.Unlock()
	if b == nil {
		return nil
	}
	b.mu.Lock()
	cancel, ended := b.cancel, b.ended
	b.mu.Unlock()
	cancel()
	if ended != nil {
		<-ended
	}
	return os.RemoveAll(b.root)
}

// close gives up everything.
func (im *imports) close() error {
	im.mu.Lock()
	sessions := make([]string, 0, len(im.all))
	for s := range im.all {
		sessions = append(sessions, s)
	}
	im.mu.Unlock()
	var err error
	for _, s := range sessions {
		err = errors.Join(err, im.giveUp(s))
	}
	return err
}

func (b *bringing) idle() bool {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.state != "receiving" && b.state != "looking" && b.state != "running"
}

func (b *bringing) lastUsed() time.Time {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.used
}

// start does one stage behind the page; state is what it is called while it runs, then what it ends in.
func (b *bringing) start(state, then string, now time.Time, do func(context.Context) error) bool {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.state == "looking" || b.state == "running" {
		return false
	}
	ctx, cancel := context.WithCancel(context.Background()) // it goes on when the visitor closes the page
	ended := make(chan struct{})
	b.state, b.cancel, b.ended, b.used = state, cancel, ended, now
	b.rows, b.more, b.wrong, b.summary, b.progress = nil, 0, "", ImportSummary{}, ImportProgress{}
	go func() {
		defer close(ended)
		defer cancel()
		err := do(ctx)
		b.mu.Lock()
		defer b.mu.Unlock()
		if b.state = then; err != nil {
			b.state, b.wrong = "failed", complain(err).Text
		}
	}()
	return true
}

// watch keeps what an import tells.
func (b *bringing) watch() ImportWatch {
	return ImportWatch{
		Row: func(r ImportRow) {
			b.mu.Lock()
			defer b.mu.Unlock()
			if len(b.rows) < mostRows {
				b.rows = append(b.rows, r)
			} else {
				b.more++
			}
		},
		Progress: func(p ImportProgress) {
			b.mu.Lock()
			defer b.mu.Unlock()
			b.progress = p
		},
	}
}

// look finds or drafts the tables, and says what an import would do.
func (im *imports) look(b *bringing) bool {
	return b.start("looking", "looked", im.now(), func(ctx context.Context) error {
		b.mu.Lock()
		tables := b.tables
		b.mu.Unlock()
		if tables.Manifest == "" {
			var err error
			if tables, err = im.importer.Prepare(ctx, b.job); err != nil {
				return err
			}
			b.mu.Lock()
			b.tables = tables
			b.mu.Unlock()
		}
		sum, err := im.importer.Import(ctx, b.job, tables, true, b.watch())
		b.mu.Lock()
		b.summary = sum
		b.mu.Unlock()
		return err
	})
}

// run brings everything in.
func (im *imports) run(b *bringing) bool {
	b.mu.Lock()
	tables := b.tables
	b.mu.Unlock()
	if tables.Manifest == "" {
		return false
	}
	return b.start("running", "done", im.now(), func(ctx context.Context) error {
		sum, err := im.importer.Import(ctx, b.job, tables, false, b.watch())
		b.mu.Lock()
		b.summary = sum
		b.mu.Unlock()
		return err
	})
}
