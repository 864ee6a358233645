package journal

import (
	"errors"
	"fmt"

	"platarium/storage"
)

// FindingKind says what is wrong at one place of a bucket.
type FindingKind int

// Kinds of findings.
const (
	// FormatBad: format.json is missing or isn't an archive's.
	FormatBad FindingKind = iota + 1
	// Gap: commits are missing before one that is there.
	Gap
	// Unreadable: a commit's bytes are no commit, or one of another number.
	Unreadable
	// BrokenLink: a commit doesn't name the sha256 of the one before; either of the two was altered.
	BrokenLink
	// Altered: a commit's bytes aren't those that a published head names.
	Altered
	// Truncated: the journal ends before a commit that a published head or a checkpoint names.
	Truncated
	// OutOfOrder: a commit is dated before its predecessor, or states a lower schema level.
	OutOfOrder
	// CheckpointBad: a checkpoint disagrees with its manifest, the journal's record of it, or the journal.
	CheckpointBad
	// Stray: an object that doesn't belong where it is; it does no harm.
	Stray
)

// String gives the kind in words.
func (k FindingKind) String() string {
	names := [...]string{
		FormatBad: "bad format", Gap: "gap", Unreadable: "unreadable commit", BrokenLink: "broken link", Altered: "altered commit",
		Truncated: "truncated journal", OutOfOrder: "out of order", CheckpointBad: "bad checkpoint", Stray: "stray object",
	}
	if k < 1 || int(k) >= len(names) {
		return fmt.Sprintf("finding kind %d", int(k))
	}
	return names[k]
}

// Finding is one thing that Verify found wrong. It is an error that wraps ErrBroken, save for stray objects.
type Finding struct {
	Kind   FindingKind
	Seq    int64  // the commit concerned, or the first of several; 0 for none
	Key    string // the object concerned; empty when it is missing
	Detail string // what was found and what is wanted
}

// Error gives the finding in one line.
func (f Finding) Error() string {
	switch {
	case f.Key != "":
		return fmt.Sprintf("%v: %s: %s", f.Kind, f.Key, f.Detail)
	case f.Seq > 0:
		return fmt.Sprintf("%v: commit %d: %s", f.Kind, f.Seq, f.Detail)
	}
	return fmt.Sprintf("%v: %s", f.Kind, f.Detail)
}

// Unwrap gives ErrBroken for whatever is damage.
func (f Finding) Unwrap() error {
	if f.Kind == Stray {
		return nil
	}
	return ErrBroken
}

// Summary tells what Verify went through and all that it found.
type Summary struct {
	ArchiveID    string
	Head         Position // the last commit that is there
	Commits      int64
	Transactions int64
	Changes      int64
	Bytes        int64 // of commits
	Checkpoints  int   // complete ones
	Unrecorded   int   // complete ones that no commit has recorded, as after a crash of their writer
	Unfinished   int   // without a manifest
	Findings     []Finding
}

// Err joins the findings that are damage, or is nil.
func (s *Summary) Err() error {
	var all []error
	for _, f := range s.Findings {
		if f.Kind != Stray {
			all = append(all, f)
		}
	}
	return errors.Join(all...)
}

func (s *Summary) found(kind FindingKind, seq int64, key, detail string, args ...any) {
	s.Findings = append(s.Findings, Finding{Kind: kind, Seq: seq, Key: key, Detail: fmt.Sprintf(detail, args...)})
}

// damage says whether err tells of bytes that are bad rather than of a store that can't be reached.
func damage(err error) bool {
	return errors.Is(err, ErrBroken) || errors.Is(err, ErrCheckpoint) || errors.Is(err, storage.ErrChecksum) || errors.Is(err, storage.ErrNotExist)
}
