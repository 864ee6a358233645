// Package media is the vocabulary of the media in which a picture can be used: a
// short dotted list of this project's own, in the trade's words (common practice,
// no source). A medium covers what lies beneath it: "print.book" covers
// "print.book.hardback".
//
// "*" in a grant means every medium known when the grant was signed: each entry
// says since when it is known, and Later lists what a grant of an earlier day
// doesn't reach. The day of an entry never changes once released; the first
// edition of the vocabulary is known from the beginning.
//
// Left out: codes of product lists of other houses; an entry may carry one as Code.
package media

import (
	"fmt"
	"slices"
	"strings"
)

// Version names the edition of the vocabulary.
const Version = "media 1"

// Entry is one medium.
type Entry struct {
	Path  string
	Label string
	Since string // day (YYYY-MM-DD) from which it is known; "" from the beginning
	Code  string // code of an outside list, with its scheme, or ""
}

// Entries are the vocabulary, by path.
func Entries() []Entry { return slices.Clone(entries[:]) }

// Find looks a path up.
func Find(path string) (Entry, bool) {
	i, ok := slices.BinarySearchFunc(entries[:], path, func(e Entry, p string) int { return strings.Compare(e.Path, p) })
	if !ok {
		return Entry{}, false
	}
	return entries[i], true
}

// Later lists the media that became known after a day (YYYY-MM-DD): those that "*" of that day leaves out.
func Later(day string) []string { return later(entries[:], day) }

func later(entries []Entry, day string) []string {
	var out []string
	for _, e := range entries {
		if e.Since > day {
			out = append(out, e.Path)
		}
	}
	return out
}

// PathError is a medium that isn't in the vocabulary. Callers show Found and Wanted beside the field.
type PathError struct {
	Found  string
	Wanted string
}

func (e *PathError) Error() string { return fmt.Sprintf("medium %q: wanted %s", e.Found, e.Wanted) }

// Check reports a *PathError if the vocabulary doesn't hold the path.
func Check(path string) error {
	if _, ok := Find(path); ok || path == "*" {
		return nil
	}
	return &PathError{Found: path, Wanted: suggest(path)}
}

// habits are words that people write for a medium.
var habits = map[string]string{
	"book": "print.book", "books": "print.book", "ebook": "digital.ebook", "e-book": "digital.ebook",
	"web": "digital.web", "website": "digital.web", "internet": "digital.web", "online": "digital.web",
	"magazine": "print.magazine", "journal": "print.journal or digital.journal", "poster": "print.poster",
	"merchandise": "product", "merch": "product", "tv": "broadcast.television", "film": "broadcast.film",
	"museum": "exhibition", "all": "*", "all media": "*", "hardcover": "print.book.hardback", "softcover": "print.book.paperback",
}

func suggest(path string) string {
	p := strings.ToLower(strings.TrimSpace(path))
	if w, ok := habits[p]; ok {
		return w
	}
	best, least := "", 4 // more than three wrong letters is another word
	for _, e := range entries {
		tail := e.Path[strings.LastIndexByte(e.Path, '.')+1:]
		for _, cand := range []string{e.Path, tail} {
			if d := distance(p, cand, least); d < least && d*3 <= len(cand) {
				best, least = e.Path, d
			}
		}
	}
	if best != "" {
		return best
	}
	for up := p; ; {
		i := strings.LastIndexByte(up, '.')
		if i < 0 {
			break
		}
		up = up[:i]
		if _, ok := Find(up); ok {
			return "one of " + strings.Join(children(up), ", ")
		}
	}
	return "a medium of the vocabulary, such as " + strings.Join(children(""), ", ")
}

func children(path string) []string {
	var out []string
	for _, e := range entries {
		rest, ok := strings.CutPrefix(e.Path, path+".")
		if path == "" {
			rest, ok = e.Path, true
		}
		if ok && !strings.Contains(rest, ".") {
			out = append(out, e.Path)
		}
	}
	if len(out) == 0 {
		return []string{path}
	}
	return out
}

// distance is the Levenshtein distance of two short words; words whose lengths
// alone differ by limit or more count as limit apart.
func distance(a, b string, limit int) int {
	if len(a) > 64 || len(a)-len(b) >= limit || len(b)-len(a) >= limit {
		return limit
	}
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		diag := row[0]
		row[0] = i + 1
		for j := range len(b) {
			cost := diag
			if a[i] != b[j] {
				cost = 1 + min(diag, row[j], row[j+1])
			}
			diag, row[j+1] = row[j+1], cost
		}
	}
	return row[len(b)]
}
