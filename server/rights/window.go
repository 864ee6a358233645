package rights

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
	if g.Amends == "" {
		return v
	}
	mine := g.effective()
	for _, id := range b.replacedBy[g.Amends] {
		next := b.get(id)
		if next == nil || id == g.ID || next.Amends != g.Amends {
			continue
		}
		if eff := next.effective(); !eff.IsZero() && !mine.IsZero() && eff.First() > mine.First() {
			limit(next)
		}
	}
	return v
}

// endedBefore reports whether a replacement was ended before it took effect: then it replaces nothing.
func endedBefore(g *Grant, eff Date) bool {
	return !g.Ended.IsZero() && g.Ended.Last() <= eff.First()
}

// maxDepth bounds the walk along chains of heads and amendments, which bad records may close into rings.
const maxDepth = 16

// pieces are the boxes of a grant before its kind has its say: its scope, or for
// a sublicence its scope within each version of its head.
func (b *Book) pieces(e *entry, r reading, depth int) []piece {
	own := piece{axes: e.axes, own: b.window(&e.grant, r), paid: true, inLine: true}
	if e.grant.Kind != Sublicence {
		return []piece{own}
	}
	if depth >= maxDepth {
		return nil
	}
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
		for _, up := range b.pieces(h, r, depth+1) {
			if p := own.below(up, h, e.grant.Survives); !p.axes.empty() {
				out = append(out, p)
			}
		}
	}
	return out
}

// below puts a sublicence's piece under a piece of its head.
func (p piece) below(up piece, head *entry, survives bool) piece {
	p.axes = p.axes.and(&up.axes)
	if survives {
		up.own.end = maxDay
	}
	p.above = append(append([]window(nil), up.above...), up.own)
	p.paid = up.paid && (!head.grant.PaymentCondition || head.grant.Paid)
	p.inLine = up.inLine && head.grant.inForce()
	return p
}

// agreement is every version of the agreement that an id names: what it amends,
// and what amends or supersedes it.
func (b *Book) agreement(id string) []*entry {
	var out []*entry
	seen := map[string]bool{}
	var visit func(id string)
	visit = func(id string) {
		e := b.entries[id]
		if e == nil || seen[id] {
			return
		}
		seen[id] = true
		out = append(out, e)
		visit(e.grant.Amends)
		for _, next := range b.replacedBy[id] {
			visit(next)
		}
	}
	visit(id)
	return out
}
