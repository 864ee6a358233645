package archive

import (
	"compress/gzip"
	"encoding/json"
	"io"
	"strings"
	"testing"
)

// commitFile is what somebody without this program makes of a commit: field names as in JSON, nothing else known.
type commitFile struct {
	Prev         string
	Transactions []struct {
		Actor   string
		Changes []struct {
			Name    string
			Picture struct {
				Title    string
				Original struct{ Sha256 string }
			}
		}
	}
}

func plainCommit(t testing.TB, text string) commitFile {
	t.Helper()
	var c commitFile
	if err := json.Unmarshal([]byte(text), &c); err != nil {
		t.Fatal(err)
	}
	return c
}

func unzip(t testing.TB, text string) string {
	t.Helper()
	z, err := gzip.NewReader(strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	b, err := io.ReadAll(z)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}
