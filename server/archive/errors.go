package archive

import (
	"errors"
	"fmt"
	"strings"
)

// Sentinel errors, to be tested with errors.Is.
var (
	// ErrNotFound: there is no such record. The caller checks the name.
	ErrNotFound = errors.New("no such record")
	// ErrExists: the wanted id is taken. The caller picks another or updates what is there.
	ErrExists = errors.New("record exists already")
	// ErrStale: the record was changed since the caller read it. The caller reads it again and repeats the change.
	ErrStale = errors.New("record was changed meanwhile")
	// ErrRequestReused: the request id was used before for a different request. The caller takes a new id.
	ErrRequestReused = errors.New("request id was used for a different request")
	// ErrNoOriginal: a record names an original that the archive lacks. The caller uploads it first (again, if it was swept).
	ErrNoOriginal = errors.New("original is not in the archive")
	// ErrForgotten: the contact was destroyed for good. Nothing can be done.
	ErrForgotten = errors.New("contact was forgotten for good")
	// ErrDelivered: the brief is finished. The caller makes a new one.
	ErrDelivered = errors.New("brief was delivered")
)

// Violation is one field at fault: what was found and what is wanted.
type Violation struct {
	Field       string // path in the record, such as structures[2].region.width
	Description string
}

// InvalidError says which fields of a record are at fault. The caller mends them.
type InvalidError struct {
	Violations []Violation
}

func (e *InvalidError) Error() string {
	parts := make([]string, len(e.Violations))
	for i, v := range e.Violations {
		parts[i] = v.Field + ": " + v.Description
	}
	return strings.Join(parts, "; ")
}

// InUseError says that a record can't be deleted because others name it.
type InUseError struct {
	Name string
	By   []string // at most a few of them, by name
	More int      // how many more
}

func (e *InUseError) Error() string {
	msg := fmt.Sprintf("%s can't be deleted: %s", e.Name, strings.Join(e.By, ", "))
	if e.More > 0 {
		msg += fmt.Sprintf(" and %d more", e.More)
	}
	if len(e.By)+e.More == 1 {
		return msg + " names it"
	}
	return msg + " name it"
}

// CollisionError says that a grant would promise what another has promised already.
type CollisionError struct {
	With []Collision
}

// Collision is one grant in the way.
type Collision struct {
	Grant   string // grants/{id}
	Witness string // in words: what both cover
}

func (e *CollisionError) Error() string {
	parts := make([]string, len(e.With))
	for i, c := range e.With {
		parts[i] = c.Grant + " (" + c.Witness + ")"
	}
	return "collides with " + strings.Join(parts, "; ")
}

// checks gathers violations.
type checks struct {
	found []Violation
}

func (c *checks) add(field, format string, args ...any) {
	c.found = append(c.found, Violation{Field: field, Description: fmt.Sprintf(format, args...)})
}

func (c *checks) err() error {
	if len(c.found) == 0 {
		return nil
	}
	return &InvalidError{Violations: c.found}
}
