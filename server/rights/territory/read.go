package territory

import (
	"fmt"
	"strings"

	"platarium/server/rights/pathset"
)

// CodeError is a territory that the tables don't hold. Callers show Found and
// Wanted beside the field that held it.
type CodeError struct {
	Found  string
	Wanted string // what to write instead, or why the code is gone
}

func (e *CodeError) Error() string {
	return fmt.Sprintf("territory %q: wanted %s", e.Found, e.Wanted)
}

// Read expands written territories into a set: codes to include, and codes with
// a leading "-" to remove; removal always wins. day (YYYY-MM-DD) is the day at
// which EU and EEA are read when they carry no date of their own: the day of
// signature. The error is a *CodeError.
func Read(written []string, day string) (Set, error) {
	var in, out Set
	for _, w := range written {
		code, removed := strings.CutPrefix(w, "-")
		s, err := one(code, day)
		if err != nil {
			return Set{}, err
		}
		if removed {
			out = out.Or(s)
		} else {
			in = in.Or(s)
		}
	}
	return in.Minus(out), nil
}

func one(code, day string) (Set, error) {
	var s Set
	if i, ok := find(code); ok {
		s.whole.set(i)
		return s, nil
	}
	if g, ok := findGroup(code); ok {
		s.whole = g.members
		return s, nil
	}
	name, at, dated := strings.Cut(code, "@")
	if !dated {
		at = day
	}
	if len(at) == len("2006-01-02") {
		if b, ok := membersAt(name, at); ok && b != (bits{}) {
			s.whole = b
			return s, nil
		}
	}
	if cc, sub, ok := strings.Cut(code, "-"); ok {
		if i, known := find(cc); known {
			if found, ok := findSub(i, sub); ok {
				s.put(i, pathset.Stored.Of([]string{found.path}, nil))
				return s, nil
			}
		}
	}
	return s, &CodeError{Found: code, Wanted: suggest(code)}
}
