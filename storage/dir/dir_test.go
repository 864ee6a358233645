package dir_test

import (
	"testing"

	"platarium/storage"
	"platarium/storage/buckettest"
	"platarium/storage/dir"
)

func TestConformance(t *testing.T) {
	buckettest.Run(t, func(t *testing.T) storage.Bucket {
		b, err := dir.Open(t.TempDir())
		if err != nil {
			t.Fatal(err)
		}
		return b
	})
}
