package rights

import (
	"platarium/server/rights/pathset"
	"platarium/server/rights/territory"
)

// axes are the timeless part of a product set of tuples.
type axes struct {
	work, media, lang pathset.Set
	terr              territory.Set
	purpose           purposes
}

// box is a product set of tuples: every combination of its axes.
type box struct {
	axes
	days span
}

func anyAxes() axes {
	return axes{work: pathset.All(), media: pathset.All(), lang: pathset.All(), terr: territory.All(), purpose: anyPurpose}
}

func (a *axes) empty() bool {
	return a.purpose == 0 || a.work.Empty() || a.media.Empty() || a.lang.Empty() || a.terr.Empty()
}

func (b *box) empty() bool { return b.days.empty() || b.axes.empty() }

func (a *axes) and(c *axes) axes {
	return axes{
		work: a.work.And(c.work), media: a.media.And(c.media), lang: a.lang.And(c.lang),
		terr: a.terr.And(c.terr), purpose: a.purpose & c.purpose,
	}
}

func (b *box) and(c *box) box {
	return box{axes: b.axes.and(&c.axes), days: b.days.and(c.days)}
}

// meets reports whether the boxes share a tuple. Cheap axes go first.
func (b *box) meets(c *box) bool {
	return b.purpose&c.purpose != 0 && !b.days.and(c.days).empty() && b.terr.Meets(c.terr) &&
		b.media.Meets(c.media) && b.work.Meets(c.work) && b.lang.Meets(c.lang)
}

// minus appends to out the tuples of b that are not in c, as disjoint boxes: axis
// by axis, what lies outside c on that axis with all the rest, then on with what lies inside.
func (b box) minus(c *box, out []box) []box {
	if !b.meets(c) {
		return append(out, b)
	}
	put := func(piece box) {
		if !piece.empty() {
			out = append(out, piece)
		}
	}
	piece := b
	piece.work = b.work.Minus(c.work)
	put(piece)
	b.work = b.work.And(c.work)

	piece = b
	piece.media = b.media.Minus(c.media)
	put(piece)
	b.media = b.media.And(c.media)

	piece = b
	piece.terr = b.terr.Minus(c.terr)
	put(piece)
	b.terr = b.terr.And(c.terr)

	piece = b
	piece.lang = b.lang.Minus(c.lang)
	put(piece)
	b.lang = b.lang.And(c.lang)

	piece = b
	piece.purpose = b.purpose &^ c.purpose
	put(piece)
	b.purpose &= c.purpose

	piece = b
	before, after := b.days.minus(c.days)
	piece.days = before
	put(piece)
	piece.days = after
	put(piece)
	return out
}

// minusAll is what is left of some boxes when others are taken away.
func minusAll(from []box, take []box) []box {
	for i := range take {
		if len(from) == 0 {
			return nil
		}
		next := make([]box, 0, len(from)+1)
		for _, b := range from {
			next = b.minus(&take[i], next)
		}
		from = next
	}
	return from
}

// join puts boxes together that differ on one axis only. The set of tuples
// stays the same; there are fewer words to describe it with.
func join(boxes []box) []box {
	for again := true; again; {
		again = false
		for i := 0; i < len(boxes); i++ {
			for j := i + 1; j < len(boxes); j++ {
				if joined, ok := boxes[i].join(&boxes[j]); ok {
					boxes[i] = joined
					boxes = append(boxes[:j], boxes[j+1:]...)
					again = true
					j--
				}
			}
		}
	}
	return boxes
}

func (b box) join(c *box) (box, bool) {
	work, media, lang := b.work.Equal(c.work), b.media.Equal(c.media), b.lang.Equal(c.lang)
	terr, purpose, days := b.terr.Equal(c.terr), b.purpose == c.purpose, b.days == c.days
	same := 0
	for _, eq := range [...]bool{work, media, lang, terr, purpose, days} {
		if eq {
			same++
		}
	}
	if same < 5 {
		return b, false
	}
	switch {
	case !work:
		b.work = b.work.Or(c.work)
	case !media:
		b.media = b.media.Or(c.media)
	case !lang:
		b.lang = b.lang.Or(c.lang)
	case !terr:
		b.terr = b.terr.Or(c.terr)
	case !purpose:
		b.purpose |= c.purpose
	case !days:
		switch {
		case b.days.hi < maxDay && b.days.hi+1 >= c.days.lo && b.days.lo <= c.days.lo:
			b.days.hi = max(b.days.hi, c.days.hi)
		case c.days.hi < maxDay && c.days.hi+1 >= b.days.lo && c.days.lo <= b.days.lo:
			b.days = span{c.days.lo, max(b.days.hi, c.days.hi)}
		default:
			return b, false
		}
	}
	return b, true
}
