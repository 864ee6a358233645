package indexer

import (
	"fmt"

	pb "platarium/proto/platarium/v1"
)

// Query is a question with what only the server knows about the caller and the day.
type Query struct {
	// Request is the question as it came; Search checks every field of it.
	Request *pb.SearchPicturesRequest
	// Standing gives each picture's rights standing today. Nil leaves it blank.
	Standing *Standing
	// Outsider shuts out notes, job, keywords and specimen from words,
	// conditions, facets and highlights: set for publishers.
	Outsider bool
}

// Standing is the rights standing of every picture on one day, in the words of
// the rights facet. It never changes once made, so that the index may keep what
// it derives from it: make a new one when a grant or the day changes, and pass
// the same one until then.
type Standing struct {
	words  map[string]string
	absent string
}

// NewStanding takes over words, which maps picture names to their standing;
// absent is the standing of the pictures it doesn't hold.
func NewStanding(words map[string]string, absent string) *Standing {
	return &Standing{words: words, absent: absent}
}

// Of returns the standing of a picture.
func (s *Standing) Of(picture string) string {
	if s == nil {
		return ""
	}
	if w, ok := s.words[picture]; ok {
		return w
	}
	return s.absent
}

// Answer is a page of hits.
type Answer struct {
	// Hits in order.
	Hits []Hit
	// Total is how many pictures fit in all.
	Total int64
	// Facets asked for, in the order asked.
	Facets []*pb.Facet
	// NextPageToken asks for the next page; empty at the end.
	NextPageToken string
	// Sequence is the commit up to which the index answered.
	Sequence int64
	// Remarks say how the question was understood.
	Remarks []string
}

// Hit is one picture found.
type Hit struct {
	// Name of the picture.
	Name string
	// Score compares within one answer only.
	Score float64
	// Reasons, most weighty first.
	Reasons []*pb.Reason
	// Highlights are fragments with the words found between U+0002 and U+0003.
	Highlights []*pb.Highlight
	// Rights standing, in words.
	Rights string
	// AcceptedName is the scientific name in use.
	AcceptedName string
}

// FieldError says which field of a request is wrong, what was found in it and
// what is wanted. The caller answers INVALID_ARGUMENT with a field violation.
type FieldError struct {
	Field string
	Found string
	Want  string
}

// Error says it in one line.
func (e *FieldError) Error() string {
	return fmt.Sprintf("%s: found %s, want %s", e.Field, e.Found, e.Want)
}
