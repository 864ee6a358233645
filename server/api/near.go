package api

import (
	"slices"
	"strings"
	"sync"

	pb "platarium/proto/platarium/v1"
	"platarium/server/rights"
	"platarium/storage"
	"platarium/storage/imaging"
)

// nearDistance is how many of the 64 bits of two perceptual hashes may differ between pictures that look alike; common practice, no source.
const nearDistance = 10

// nearCopy is the ground where nothing stands in the way of a picture itself, but a near copy of it is under exclusivity.
const nearCopy rights.Code = "NEAR_COPY"

// licensedLooks are the originals of the pictures that grants name, kept until the journal goes on.
type licensedLooks struct {
	mu   sync.Mutex
	seq  int64
	list []licensedLook
}

type licensedLook struct {
	picture string
	sum     storage.Digest
}

// licensed lists the originals of the pictures that grants name.
func (s *Server) licensed() ([]licensedLook, error) {
	s.looks.mu.Lock()
	defer s.looks.mu.Unlock()
	seq := s.archive.Journal().Position().Seq
	if s.looks.list != nil && s.looks.seq == seq {
		return s.looks.list, nil
	}
	var names []string
	err := s.archive.WithBook(func(b *rights.Book, _ rights.Day) error {
		for work := range b.Works() {
			names = append(names, work)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	list := []licensedLook{}
	for _, name := range names {
		if sum, ok := s.originalOf(name); ok {
			list = append(list, licensedLook{name, sum})
		}
	}
	s.looks.seq, s.looks.list = seq, list
	return list, nil
}

// originalOf is the original of a picture that is there and has one.
func (s *Server) originalOf(name string) (storage.Digest, bool) {
	pic, err := s.archive.GetPicture(name)
	if err != nil {
		return storage.Digest{}, false
	}
	sum, err := storage.ParseDigest(pic.GetOriginal().GetSha256())
	return sum, err == nil
}

// alike finds the licensed pictures that look like those asked about.
func (s *Server) alike(works []string) ([]rights.Resemblance, error) {
	var out []rights.Resemblance
	for _, w := range works {
		name, _, _ := strings.Cut(strings.TrimPrefix(w, "-"), "#")
		sum, ok := s.originalOf(name)
		if !ok {
			continue
		}
		hash, ok := s.previews.Look(sum)
		if !ok {
			continue
		}
		list, err := s.licensed()
		if err != nil {
			return nil, err
		}
		for _, other := range list {
			look, known := s.previews.Look(other.sum)
			if known && other.picture != name && imaging.Distance(hash, look) <= nearDistance {
				out = append(out, rights.Resemblance{Work: name, Other: other.picture})
			}
		}
	}
	return out, nil
}

// facts gathers what stands beside the grants of some works, the likeness of pictures included.
func (s *Server) facts(works []string) (rights.Facts, error) {
	facts, err := s.archive.Facts(works)
	if err != nil {
		return facts, err
	}
	alike, err := s.alike(works)
	for _, r := range alike {
		if !slices.Contains(facts.Near, r) {
			facts.Near = append(facts.Near, r)
		}
	}
	return facts, err
}

// minded turns a plain yes into a question where a near copy is under exclusivity.
func minded(a rights.Answer) rights.Answer {
	if a.Verdict != rights.Yes || len(a.Warnings) == 0 {
		return a
	}
	a.Verdict, a.Code = rights.Check, nearCopy
	for _, w := range a.Warnings {
		if !slices.Contains(a.By, w.ID) {
			a.By = append(a.By, w.ID)
		}
	}
	return a
}

// binding says whether a grant is one that promises something to somebody.
func binding(g *pb.Grant) bool {
	return g.GetStatus() == pb.GrantStatus_GRANT_STATUS_EXECUTED && g.GetKind() != pb.GrantKind_GRANT_KIND_HOLDBACK && g.GetKind() != pb.GrantKind_GRANT_KIND_OPTION
}
