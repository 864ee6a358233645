package archive

import (
	"time"

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

// DayOf is the studio's calendar day at a time, as midnight UTC.
func (a *Archive) DayOf(t time.Time) time.Time { return a.dayOf(t) }
