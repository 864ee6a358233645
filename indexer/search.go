package indexer

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"sync"

	"platarium/indexer/rank"
	pb "platarium/proto/platarium/v1"
)

// Search answers a question. It waits for the commit that the request or its
// page token needs. Errors: *FieldError for a wrong request, ErrClosed, those of
// ctx, and what bleve met.
func (x *Index) Search(ctx context.Context, q Query) (*Answer, error) {
	if err := x.Wait(ctx, q.Request.GetMinSequence()); err != nil {
		return nil, err
	}
	taxa := x.src.Taxa()
	asked, err := check(q, taxa)
	if err != nil {
		return nil, err
	}
	if asked.after != nil { // another server's index may be ahead of this one
		if err := x.Wait(ctx, asked.after.Sequence); err != nil {
			return nil, err
		}
	}
	a, words, err := x.answer(ctx, q, asked)
	if err != nil {
		return nil, err
	}
	// Outside the lock, since it reads the source.
	x.explain(a, asked, words, q.Outsider)
	return a, nil
}

// answer finds and orders the hits.
func (x *Index) answer(ctx context.Context, q Query, asked *question) (*Answer, found, error) {
	x.mu.RLock()
	defer x.mu.RUnlock()
	var words found
	if x.closed {
		return nil, words, ErrClosed
	}
	g := x.gen
	if len(asked.terms) > 0 {
		var err error
		if words, err = x.lookUp(ctx, g, asked, q.Outsider); err != nil {
			return nil, words, err
		}
	}
	scorer := rank.New(x.weights, asked.wanted)
	s := &scan{
		cols: g.cols, conditions: g.cols.conditions(asked.filter, q.Standing), asked: asked,
		weights: g.cols.weights(scorer, asked.wanted),
	}
	room, _ := matchLists.Get().(*[]match)
	s.matches = (*room)[:0]
	defer func() {
		*room = s.matches
		matchLists.Put(room)
	}()
	if err := s.run(ctx, words.hits); err != nil {
		return nil, words, err
	}
	a := &Answer{Total: int64(len(s.matches)), Sequence: g.seq, Remarks: append(asked.remarks, words.remarks...)}
	for _, name := range asked.facets {
		a.Facets = append(a.Facets, g.cols.facet(name, s.matches, q.Standing))
	}
	x.page(a, s, q, scorer)
	return a, words, nil
}

// lookUp finds the pictures that have the words.
func (x *Index) lookUp(ctx context.Context, g *generation, asked *question, outsider bool) (found, error) {
	snap, done, err := g.view()
	if err != nil {
		return found{}, err
	}
	defer done()
	m, err := newMatcher(g, snap, outsider)
	if err != nil {
		return found{}, err
	}
	defer m.release()
	words, err := m.match(ctx, asked.terms)
	if err == nil && len(words.ords) == 0 {
		x.meant(g.cols, asked, &words)
	}
	return words, err
}

// minMeant is the least score of a name that words nobody used are taken for. A
// name with a letter or two wrong has more, one that shares its genus has less.
const minMeant = 0.7

// meant takes words that no picture has for a name, as the classification
// understands it, and says so.
func (x *Index) meant(c *columns, asked *question, words *found) {
	texts := make([]string, len(asked.terms))
	for i, t := range asked.terms {
		texts[i] = t.text
	}
	name := strings.Join(texts, " ")
	best := x.src.Taxa().Match(name, 1)
	if len(best) == 0 || best[0].Score < minMeant {
		return
	}
	w := defaultWordWeights()
	under := where(c.lineage, func(l []rank.Taxon) bool {
		return slices.ContainsFunc(l, func(t rank.Taxon) bool { return t.ID == taxaPrefix+best[0].ID })
	})
	for ord, live := range c.live {
		if live && under(uint32(ord)) {
			words.ords = append(words.ords, uint32(ord))
			words.worth = append(words.worth, float32(w.Text*w.Alike))
		}
	}
	if len(words.ords) > 0 {
		words.remarks = append(words.remarks, fmt.Sprintf("nothing has “%s”; it was read as %s: %s", name, best[0].Name, best[0].Reason))
	}
}

// weights are what a picture's score is made of besides its words.
func (c *columns) weights(s *rank.Scorer, w rank.Wanted) []weight {
	if w.Empty() {
		return nil
	}
	out := []weight{weigh(c.lineage, s.Relationship)}
	out = append(out, c.counts.weights(s, w.Counts)...)
	if len(w.Structures) > 0 {
		out = append(out, c.structures.weight(s, w.Structures))
	}
	return append(out, weigh(c.view, s.View), weigh(c.stage, s.Stage), weigh(c.kind, s.Kind), weigh(c.edge, s.Resolution))
}

// scan goes over the pictures once.
type scan struct {
	cols       *columns
	asked      *question
	conditions []condition
	weights    []weight
	matches    []match
}

// matchLists lends room for matches; pages and facets are made before it goes back.
var matchLists = sync.Pool{New: func() any { return new([]match) }}

// checkEvery is how many pictures are looked at between two looks at the clock.
const checkEvery = 1 << 14

func (s *scan) run(ctx context.Context, words hits) error {
	n := len(s.cols.live)
	textual := len(s.asked.terms) > 0
	if textual {
		n = len(words.ords)
	}
	for i := range n {
		if i%checkEvery == 0 {
			if err := ctx.Err(); err != nil {
				return err
			}
		}
		ord, worth := uint32(i), 0.0
		if textual {
			ord, worth = words.ords[i], float64(words.worth[i])
		}
		if s.fits(ord) {
			s.matches = append(s.matches, match{ord, s.score(ord, worth)})
		}
	}
	return nil
}

func (s *scan) fits(ord uint32) bool {
	if !s.cols.live[ord] {
		return false
	}
	for _, c := range s.conditions {
		if !c(ord) {
			return false
		}
	}
	return true
}

func (s *scan) score(ord uint32, worth float64) float64 {
	for _, w := range s.weights {
		worth += w(ord)
	}
	return finite(worth)
}

// page puts the hits of the page asked for into the answer.
func (x *Index) page(a *Answer, s *scan, q Query, scorer *rank.Scorer) {
	c, at := s.cols, s.asked.after
	first := a.Sequence
	rest := s.matches
	if at != nil {
		first = at.Sequence
		all := len(rest)
		rest = slices.DeleteFunc(rest, func(m match) bool { return c.changed[m.ord] > first })
		if n := all - len(rest); n > 0 {
			a.Remarks = append(a.Remarks, changedSince(n))
		}
	}
	o := order{by: s.asked.order, cols: c}
	hits, more := o.first(rest, s.asked.size, at)
	if more {
		a.NextPageToken = o.cursor(hits[len(hits)-1], fingerprint(q.Request, q.Outsider), first).token()
	}
	for _, m := range hits {
		h := Hit{Name: c.names[m.ord], Score: m.score, AcceptedName: c.label.at(m.ord), Rights: q.Standing.Of(c.names[m.ord])}
		if !s.asked.wanted.Empty() {
			for _, r := range scorer.Reasons(c.picture(m.ord)) {
				h.Reasons = append(h.Reasons, &pb.Reason{Kind: r.Kind, Text: r.Text, Weight: r.Weight})
			}
		}
		a.Hits = append(a.Hits, h)
	}
}

// explain adds to each hit what its words did: highlights, and a reason whose
// weight is what the words brought.
func (x *Index) explain(a *Answer, asked *question, words found, outsider bool) {
	if len(asked.terms) == 0 {
		return
	}
	marks := newMarker(asked.terms, words.variants, outsider)
	for i := range a.Hits {
		h := &a.Hits[i]
		worth := h.Score
		for _, r := range h.Reasons {
			worth -= r.GetWeight()
		}
		p, ok := x.src.Picture(h.Name)
		if !ok {
			continue // deleted since; the caller finds that as well
		}
		highlights, where := marks.entry(derive(p, x.src))
		h.Highlights = highlights
		if where != "" {
			h.Reasons = append(h.Reasons, &pb.Reason{Kind: "text", Text: where, Weight: math.Round(worth*1e6) / 1e6})
		}
		slices.SortStableFunc(h.Reasons, func(a, b *pb.Reason) int {
			return cmp.Compare(math.Abs(b.GetWeight()), math.Abs(a.GetWeight()))
		})
	}
}
