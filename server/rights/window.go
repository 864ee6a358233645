package rights

import "slices"

// window is the run of days that one grant gives, in its parts, so that an
// answer can say which of them a day fails.
type window struct {
	version span // days on which this version of the agreement governs
	from    Day  // first day of the term
	end     Day  // last day of the term, ending recorded
	sellOff Day  // last day of distributing existing stock, or before end
	open    Day  // first day that an embargo within the grant lets through
}

// span is the days on which the window lets a use through.
func (w window) span() span {
	return w.version.and(span{max(w.from, w.open), w.end})
}

// piece is a box of a grant whose days are the meet of windows: the grant's own,
// and for a sublicence those of the grants above it.
type piece struct {
	axes
	own    window
	above  []window
	paid   bool // every grant above has its payment condition met
	inLine bool // every grant above is executed
}

func (p *piece) spanAbove() span {
	s := always()
	for _, w := range p.above {
		s = s.and(w.span())
	}
	return s
}

// window reads a grant's days. Irrevocable licences know neither ending nor replacement.
func (b *Book) window(g *Grant, r reading) window {
	w := window{version: always(), open: r.begin(g.EmbargoUntil, minDay), sellOff: r.end(g.SellOffTo, minDay)}
	w.from = r.begin(g.Scope.From, r.begin(g.Signed, minDay))
	w.end = r.end(g.Scope.To, maxDay)
	if t := g.Term; t != nil && !t.Date.IsZero() {
		w.end = min(w.end, addMonths(r.end(t.Date, maxDay), t.Months))
	}
	if g.Kind == Public {
		return w
	}
	w.version = b.version(g, r)
	w.end = min(w.end, b.ending(g, r))
	return w
}

// ending is the last day before a recorded ending. What ends an agreement ends
// the amendments already in effect.
func (b *Book) ending(g *Grant, r reading) Day {
	last := maxDay
	if !g.Ended.IsZero() {
		last = r.end(g.Ended, maxDay) - 1
	}
	from := g.effective()
	seen := 0
	for up := b.get(g.Amends); up != nil && seen < maxDepth; up, seen = b.get(up.Amends), seen+1 {
		if !up.Ended.IsZero() && (from.IsZero() || up.Ended.First() > from.First()) {
			last = min(last, r.end(up.Ended, maxDay)-1)
		}
	}
	return last
}

// version is the run of days on which this statement of an agreement governs:
// from its own effective date to the eve of the next one's.
func (b *Book) version(g *Grant, r reading) span {
	v := always()
	if len(g.replaces()) > 0 {
		v.lo = r.begin(g.effective(), minDay)
	}
	limit := func(next *Grant) {
		if eff := next.effective(); next.inForce() && !eff.IsZero() && !endedBefore(next, eff) {
			v.hi = min(v.hi, r.end(eff, maxDay)-1)
		}
	}
	for _, id := range b.replacedBy[g.ID] {
		if next := b.get(id); next != nil && id != g.ID {
			limit(next)
		}
	}
	for _, id := range b.siblings(g, true) {
		limit(b.get(id))
	}
	return v
}

// endedBefore reports whether a replacement was ended before it took effect: then it replaces nothing.
func endedBefore(g *Grant, eff Date) bool {
	return !g.Ended.IsZero() && g.Ended.Last() <= eff.First()
}

// maxDepth bounds the walk along chains of heads and amendments, which bad records may close into rings.
const maxDepth = 8

// pieces are the boxes of a grant before its kind has its say: its scope, or for
// a sublicence its scope within each version of its head.
func (b *Book) pieces(e *entry, r reading, below ...*entry) []piece {
	own := piece{axes: e.axes, own: b.window(&e.grant, r), paid: true, inLine: true}
	if e.grant.Kind != Sublicence {
		return []piece{own}
	}
	if slices.Contains(below, e) || len(below) >= maxDepth { // a ring of heads leads nowhere
		return nil
	}
	below = append(below[:len(below):len(below)], e)
	heads := b.agreement(e.grant.Head)
	if len(heads) == 0 { // the head is not on record: protect the sublicensee, permit nothing
		own.inLine = false
		return []piece{own}
	}
	var out []piece
	for _, h := range heads {
		if !h.grant.permits() {
			continue
		}
		for _, up := range b.pieces(h, r, below...) {
			out = append(out, own.below(up, h, e.grant.Survives))
		}
	}
	return out
}

// below puts a sublicence's piece under a piece of its head.
func (p piece) below(up piece, head *entry, survives bool) piece {
	p.axes = p.and(&up.axes)
	if survives {
		up.own.end = maxDay
	}
	p.above = append(append([]window(nil), up.above...), up.own)
	p.paid = up.paid && (!head.grant.PaymentCondition || head.grant.Paid)
	p.inLine = up.inLine && head.grant.inForce()
	return p
}

// agreement is every version of what an id names: what it amends or replaces,
// and what amends or replaces it, in any number of steps. Two grants that split
// an earlier one between them are not versions of each other; two amendments of
// one grant follow each other.
func (b *Book) agreement(id string) []*entry {
	var out []*entry
	walk := func(next func(*Grant) []string) {
		queue := []string{id}
		for i := 0; i < len(queue); i++ {
			e := b.entries[queue[i]]
			if e == nil {
				continue
			}
			if !slices.Contains(out, e) {
				out = append(out, e)
			}
			for _, n := range next(&e.grant) {
				if !slices.Contains(queue, n) {
					queue = append(queue, n)
				}
			}
		}
	}
	walk(func(g *Grant) []string { return append(b.siblings(g, false), g.replaces()...) })
	walk(func(g *Grant) []string { return append(b.siblings(g, true), b.replacedBy[g.ID]...) })
	return out
}

// siblings are the amendments of the same grant that took effect later, or else earlier.
func (b *Book) siblings(g *Grant, later bool) []string {
	if g.Amends == "" {
		return nil
	}
	var out []string
	for _, id := range b.replacedBy[g.Amends] {
		o := b.get(id)
		if o == nil || o.Amends != g.Amends || o.effective().IsZero() || g.effective().IsZero() {
			continue
		}
		if d := o.effective().First() - g.effective().First(); later && d > 0 || !later && d < 0 {
			out = append(out, id)
		}
	}
	return out
}
