package indexer

import (
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"go.etcd.io/bbolt"
	bolterrors "go.etcd.io/bbolt/errors"
)

// schema is the version of documents, terms and rows. Any change of what they
// hold or of how text becomes terms raises it, and indexes are built again.
const schema = 1

// stateFile says which generation counts. It is a bbolt file because that is
// also the lock that keeps a second process out.
const stateFile = "state.db"

var stateBucket = []byte("index")

// pointer is the content of the state file.
type pointer struct {
	Schema     int    `json:"schema"`
	Archive    string `json:"archive"`
	Generation string `json:"generation"` // folder
	Sequence   int64  `json:"sequence"`   // commit at which it was pointed to; less is damage
}

type state struct {
	db *bbolt.DB
}

// openState opens the state file, a damaged one anew. Errors: ErrLocked.
func openState(dir string) (*state, error) {
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return nil, fmt.Errorf("make index folder: %w", err)
	}
	path := filepath.Join(dir, stateFile)
	db, err := bbolt.Open(path, 0o600, &bbolt.Options{Timeout: time.Second})
	if err != nil && !errors.Is(err, bolterrors.ErrTimeout) {
		if err := os.Remove(path); err != nil {
			return nil, fmt.Errorf("remove damaged index state: %w", err)
		}
		db, err = bbolt.Open(path, 0o600, &bbolt.Options{Timeout: time.Second})
	}
	switch {
	case errors.Is(err, bolterrors.ErrTimeout):
		return nil, fmt.Errorf("%s: %w", dir, ErrLocked)
	case err != nil:
		return nil, fmt.Errorf("open index state: %w", err)
	}
	return &state{db: db}, nil
}

// read gives the pointer, zero if there is none or it can't be read.
func (s *state) read() pointer {
	var p pointer
	// A failed read is an absent pointer: the index is built again.
	_ = s.db.View(func(tx *bbolt.Tx) error {
		if b := tx.Bucket(stateBucket); b != nil {
			if json.Unmarshal(b.Get(stateBucket), &p) != nil {
				p = pointer{}
			}
		}
		return nil
	})
	return p
}

func (s *state) write(p pointer) error {
	text, err := json.Marshal(p)
	if err != nil {
		return fmt.Errorf("write index state: %w", err)
	}
	err = s.db.Update(func(tx *bbolt.Tx) error {
		b, err := tx.CreateBucketIfNotExists(stateBucket)
		if err != nil {
			return err
		}
		return b.Put(stateBucket, text)
	})
	if err != nil {
		return fmt.Errorf("write index state: %w", err)
	}
	return nil
}

func (s *state) close() error { return s.db.Close() }
