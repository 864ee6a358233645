package archive

import (
	bolt "go.etcd.io/bbolt"

	"platarium/storage/journal"
)

// AppliedPosition tells which commit the local records are at. Two equal answers mean that no record changed in between.
func (a *Archive) AppliedPosition() (at journal.Position, err error) {
	err = a.db.View(func(tx *bolt.Tx) error {
		at = state{tx}.position()
		return nil
	})
	return at, err
}
