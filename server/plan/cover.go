package plan

import (
	"cmp"
	"slices"
)

// Need is a structure to be served, with the pictures that could.
type Need struct {
	// Candidates with their loss; empty if nothing serves.
	Candidates []Candidate
	// Fixed are pictures that a person chose for it; they are used as they stand.
	Fixed []string
}

// Candidate is a picture that could serve a need.
type Candidate struct {
	Picture string
	Loss    float64 // such as its value turned round; lower is better, finite
}

// Cover is a choice of pictures.
type Cover struct {
	// Chosen are the pictures for each need, in the order of the needs: those that a
	// person fixed, or the one that serves best; none if nothing does.
	Chosen [][]string
	// Cost is the sum of the losses and of the pictures' costs.
	Cost float64
	// Bound is a cost that no choice can undercut; equal to Cost if it is the cheapest.
	Bound float64
	// Exact is true if no choice is cheaper.
	Exact bool
}

// Choose finds the pictures that serve all needs at the least cost: the losses of
// each need's best picture among those in use, and Picture for each in use. Pictures
// in free, such as the body on which everything is drawn, cost nothing.
//
// It is exact by branch and bound within Weights.Nodes partial choices; past that, the
// best found is given, with a bound. It never serves worse than a greedy choice.
func (w Weights) Choose(needs []Need, free ...string) Cover {
	s := newCoverSearch(w, needs, free)
	s.root = s.bound(0)
	s.greedy()
	s.branch(0, s.fixedCost)
	out := Cover{Chosen: make([][]string, len(needs)), Cost: s.bestCost, Bound: s.bestCost, Exact: s.nodes <= w.Nodes}
	if !out.Exact {
		out.Bound = min(s.bestCost, s.fixedCost+s.root)
	}
	for i := range needs {
		out.Chosen[i] = slices.Clone(needs[i].Fixed)
	}
	for k, n := range s.open {
		if p := s.best[k]; p >= 0 {
			out.Chosen[n.need] = []string{s.names[p]}
		}
	}
	return out
}

// coverNeed is a need that isn't fixed, with its candidates best first.
type coverNeed struct {
	need  int // its place in the question
	cands []coverCandidate
}

type coverCandidate struct {
	picture int // place in names
	loss    float64
}

type coverSearch struct {
	w         Weights
	names     []string
	open      []coverNeed
	used      []int     // how many needs use the picture; free and fixed ones have one more
	serves    []int     // how many needs from the present one on the picture could serve
	fixedCost float64   // of pictures that are used in any case
	root      float64   // bound before anything is chosen
	now, best []int     // picture for each open need, -1 for none
	bestCost  float64   //
	nodes     int       //
	suffix    []float64 // not used pictures apart, what the needs from here on cost at least
}

func newCoverSearch(w Weights, needs []Need, free []string) *coverSearch {
	s := &coverSearch{w: w}
	at := map[string]int{}
	place := func(name string) int {
		i, ok := at[name]
		if !ok {
			i = len(s.names)
			at[name] = i
			s.names = append(s.names, name)
			s.used = append(s.used, 0)
			s.serves = append(s.serves, 0)
		}
		return i
	}
	for _, name := range free {
		s.used[place(name)]++
	}
	for _, n := range needs {
		for _, name := range n.Fixed {
			if p := place(name); s.used[p] == 0 {
				s.fixedCost += w.Picture
				s.used[p]++
			}
		}
	}
	for i, n := range needs {
		if len(n.Fixed) > 0 {
			continue
		}
		c := coverNeed{need: i}
		for _, cand := range n.Candidates {
			p := place(cand.Picture)
			c.cands = append(c.cands, coverCandidate{p, cand.Loss})
			s.serves[p]++
		}
		slices.SortFunc(c.cands, func(a, b coverCandidate) int {
			return cmp.Or(cmp.Compare(a.loss, b.loss), cmp.Compare(s.names[a.picture], s.names[b.picture]))
		})
		s.open = append(s.open, c)
	}
	// Needs with the fewest candidates first: they leave the least to choose.
	slices.SortStableFunc(s.open, func(a, b coverNeed) int { return cmp.Compare(len(a.cands), len(b.cands)) })
	s.now, s.best = make([]int, len(s.open)), make([]int, len(s.open))
	s.suffix = make([]float64, len(s.open)+1)
	for i := len(s.open) - 1; i >= 0; i-- {
		least := w.Missing
		for _, c := range s.open[i].cands {
			least = min(least, c.loss)
		}
		s.suffix[i] = s.suffix[i+1] + least
	}
	return s
}

// bound is a cost that the needs from k on can't undercut, beside what is in use: each
// takes its best candidate, and a picture not in use is paid by all that could share it.
func (s *coverSearch) bound(k int) float64 {
	sum := 0.0
	for _, n := range s.open[k:] {
		least := s.w.Missing
		for _, c := range n.cands {
			loss := c.loss
			if s.used[c.picture] == 0 {
				loss += s.w.Picture / float64(s.serves[c.picture])
			}
			least = min(least, loss)
		}
		sum += least
	}
	return sum
}

// greedy makes a first choice: each need takes what adds least to those before it, and
// then every need turns to the best picture in use.
func (s *coverSearch) greedy() {
	for k, n := range s.open {
		s.now[k] = -1
		least := s.w.Missing
		for _, c := range n.cands {
			if add := s.add(c); add < least {
				least, s.now[k] = add, c.picture
			}
		}
		s.use(s.now[k], 1)
	}
	for k, n := range s.open {
		for _, c := range n.cands { // best first
			if s.used[c.picture] > 0 && c.loss < s.w.Missing {
				s.use(s.now[k], -1)
				s.now[k] = c.picture
				s.use(s.now[k], 1)
				break
			}
		}
	}
	s.keep(s.costOf(s.now))
	for _, p := range s.now {
		s.use(p, -1)
	}
}

// use counts a picture as in use by one need more or less; none is no picture.
func (s *coverSearch) use(picture, by int) {
	if picture >= 0 {
		s.used[picture] += by
	}
}

// add is what a candidate costs beside what is in use.
func (s *coverSearch) add(c coverCandidate) float64 {
	if s.used[c.picture] == 0 {
		return c.loss + s.w.Picture
	}
	return c.loss
}

// costOf reckons a choice from the beginning; pictures are in use as counted.
func (s *coverSearch) costOf(choice []int) float64 {
	cost := s.fixedCost
	own := map[int]int{}
	for k, p := range choice {
		if p < 0 {
			cost += s.w.Missing
			continue
		}
		own[p]++
		i := slices.IndexFunc(s.open[k].cands, func(c coverCandidate) bool { return c.picture == p })
		cost += s.open[k].cands[i].loss
	}
	for p, n := range own {
		if s.used[p] == n { // neither free nor fixed
			cost += s.w.Picture
		}
	}
	return cost
}

func (s *coverSearch) keep(cost float64) {
	s.bestCost = cost
	copy(s.best, s.now)
}

// branch chooses for the needs from k on, at a cost so far.
func (s *coverSearch) branch(k int, cost float64) {
	if s.nodes++; s.nodes > s.w.Nodes {
		return
	}
	// A hair is left for sums in another order, so that equals aren't taken for better.
	const hair = 1e-9
	if k == len(s.open) {
		if cost < s.bestCost-hair {
			s.keep(cost)
		}
		return
	}
	if cost+s.suffix[k] >= s.bestCost-hair || cost+s.bound(k) >= s.bestCost-hair {
		return
	}
	n := s.open[k]
	for _, c := range n.cands {
		s.serves[c.picture]--
	}
	order := slices.Clone(n.cands)
	slices.SortStableFunc(order, func(a, b coverCandidate) int { return cmp.Compare(s.add(a), s.add(b)) })
	for _, c := range order {
		if c.loss >= s.w.Missing {
			continue
		}
		add := s.add(c)
		s.now[k] = c.picture
		s.use(c.picture, 1)
		s.branch(k+1, cost+add)
		s.use(c.picture, -1)
	}
	s.now[k] = -1
	s.branch(k+1, cost+s.w.Missing)
	for _, c := range n.cands {
		s.serves[c.picture]++
	}
}
