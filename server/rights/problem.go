package rights

import (
	"errors"
	"fmt"
	"strings"

	"platarium/server/rights/media"
	"platarium/server/rights/territory"
)

// FieldError is one thing wrong with what was written. Callers show it beside the field.
type FieldError struct {
	Field  string // such as "territory[2]"
	Found  string
	Wanted string
}

func (e *FieldError) Error() string {
	return fmt.Sprintf("%s: found %q, wanted %s", e.Field, e.Found, e.Wanted)
}

// FieldErrors are all the things wrong with one record, in the order of its fields.
type FieldErrors []FieldError

func (e FieldErrors) Error() string {
	texts := make([]string, len(e))
	for i := range e {
		texts[i] = e[i].Error()
	}
	return strings.Join(texts, "; ")
}

// inField names the field of an error of a reader below.
func inField(field string, err error) *FieldError {
	var t *territory.CodeError
	var m *media.PathError
	var f *FieldError
	switch {
	case errors.As(err, &t):
		return &FieldError{Field: field, Found: t.Found, Wanted: t.Wanted}
	case errors.As(err, &m):
		return &FieldError{Field: field, Found: m.Found, Wanted: m.Wanted}
	case errors.As(err, &f):
		return &FieldError{Field: field, Found: f.Found, Wanted: f.Wanted}
	default:
		return &FieldError{Field: field, Wanted: err.Error()}
	}
}
