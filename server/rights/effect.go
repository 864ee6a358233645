package rights

import "platarium/server/rights/pathset"

// effect is what an executed grant does, read widely: the form in which conflict
// and availability use it. A grant that does nothing has no boxes.
type effect struct {
	permits []box // tuples that the licensee may use; quantity and payment play no part
	shuts   []box // tuples that others are shut out of
	own     []box // shuts, less the media reserved to the studio; used against the studio alone
	within  []lodger
}

// lodger is a sublicensee, whom an exclusive or sole grant admits for the days of the sublicence.
type lodger struct {
	party string
	days  span
}

// work out the effect of one grant from its record and those of its family.
func (b *Book) effect(e *entry) effect {
	var f effect
	g := &e.grant
	if !g.inForce() || !g.permits() && !g.shuts() {
		return f
	}
	for _, p := range b.pieces(e, wide) {
		if !p.inLine && b.entries[g.Head] != nil {
			continue // the head never came into force
		}
		above := p.spanAbove()
		if g.permits() {
			w := p.own
			w.end = max(w.end, w.sellOff)
			f.permits = appendBox(f.permits, p.axes, w.span().and(above))
		}
		if g.shuts() {
			f.shuts = appendBox(f.shuts, p.axes, exclusiveDays(g, p.own, wide).and(above))
		}
	}
	f.own = f.shuts
	if len(g.Reserved) > 0 && g.blockCode() == ByExclusive && len(f.shuts) > 0 {
		f.own = nil
		for _, x := range f.shuts {
			x.media = x.media.Minus(e.reserved)
			f.own = appendBox(f.own, x.axes, x.days)
		}
	}
	if code := g.blockCode(); len(f.shuts) > 0 && (code == ByExclusive || code == BySole) {
		f.within = b.lodgers(e)
	}
	return f
}

func appendBox(to []box, a axes, days span) []box {
	if n := (box{axes: a, days: days}); !n.empty() {
		return append(to, n)
	}
	return to
}

// exclusiveDays are the days on which a grant shuts others out. A term within
// the grant that delays use does not delay the promise.
func exclusiveDays(g *Grant, w window, r reading) span {
	s := w.version.and(span{w.from, w.end})
	s.hi = min(s.hi, r.end(g.ExclusiveTo, maxDay))
	if g.Exclusivity != FirstRights || g.Kind != Licence && g.Kind != Sublicence {
		return s
	}
	s.lo = max(w.version.lo, r.begin(g.Signed, w.from))
	s.hi = min(s.hi, r.end(g.FirstDeadline, maxDay))
	if !g.FirstPublished.IsZero() {
		s.hi = min(s.hi, r.end(g.FirstPublished, maxDay)-1)
	}
	return s
}

// lodgers are the parties that hold executed sublicences under the grant, at any depth.
func (b *Book) lodgers(e *entry) []lodger {
	var out []lodger
	seen := map[string]bool{}
	var under func(id string, depth int)
	under = func(id string, depth int) {
		for _, version := range b.agreement(id) {
			for _, subID := range b.subs[version.grant.ID] {
				s := b.entries[subID]
				if s == nil || seen[subID] || depth >= maxDepth {
					continue
				}
				seen[subID] = true
				if s.grant.inForce() {
					out = append(out, b.lodgersOf(s)...)
				}
				under(subID, depth+1)
			}
		}
	}
	under(e.grant.ID, 0)
	return out
}

func (b *Book) lodgersOf(s *entry) []lodger {
	var out []lodger
	for _, p := range b.pieces(s, wide) {
		days := p.own.span().and(p.spanAbove())
		if days.empty() || p.empty() || !p.inLine {
			continue
		}
		out = append(out, lodger{s.grant.To, days})
		for _, a := range s.grant.Affiliates {
			out = append(out, lodger{a, days})
		}
	}
	return out
}

// against are the tuples that a grant shuts a party out of.
func (e *entry) against(party string) []box {
	f := &e.effect
	if len(f.shuts) == 0 || e.grant.admits(party) {
		return nil
	}
	boxes := f.shuts
	if party == Studio {
		boxes = f.own
	}
	for _, l := range f.within {
		if l.party == party {
			inside := box{axes: anyAxes(), days: l.days}
			boxes = minusAll(boxes, []box{inside})
		}
	}
	return boxes
}

// readReserved reads the media that an exclusive leaves to the studio.
func readReserved(g *Grant) (pathset.Set, error) {
	set, err := readMedia(g.Reserved, nothing)
	if err != nil {
		return set, inField("reserved", err)
	}
	return set, nil
}
