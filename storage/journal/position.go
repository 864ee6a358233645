package journal

import (
	"encoding/hex"
	"fmt"
	"strconv"
	"strings"
	"time"

	"platarium/storage"
)

// Position is a place in the journal: after commit Seq. The zero Position is the place before the first.
type Position struct {
	Seq  int64
	Head storage.Digest // sha256 of that commit's bytes
	Time time.Time      // that commit's time, UTC
}

func (c *Stored) position() Position {
	return Position{Seq: c.Commit.GetSeq(), Head: c.Digest, Time: c.Commit.GetTime().AsTime()}
}

// String gives the position as one line, to be published or kept elsewhere: number, sha256 in hex and time, parted by spaces.
func (p Position) String() string {
	return fmt.Sprintf("%d %v %s", p.Seq, p.Head, p.Time.UTC().Format(time.RFC3339Nano))
}

// ParsePosition reads what String gives; space around it is allowed.
func ParsePosition(text string) (Position, error) {
	fields := strings.Fields(text)
	if len(fields) != 3 {
		return Position{}, fmt.Errorf("position of %d words, want 3: number, sha256 and time", len(fields))
	}
	seq, err := strconv.ParseInt(fields[0], 10, 64)
	if err != nil || seq < 0 {
		return Position{}, fmt.Errorf("position: number %q, want digits", fields[0])
	}
	raw, err := hex.DecodeString(fields[1])
	if err != nil || len(raw) != len(storage.Digest{}) {
		return Position{}, fmt.Errorf("position: sha256 %q, want %d hex digits", fields[1], 2*len(storage.Digest{}))
	}
	at, err := time.Parse(time.RFC3339Nano, fields[2])
	if err != nil {
		return Position{}, fmt.Errorf("position: %w", err)
	}
	return Position{Seq: seq, Head: storage.Digest(raw), Time: at.UTC()}, nil
}
