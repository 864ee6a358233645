package meristic

import "fmt"

// settle checks sums against their totals, derives totals of single values, and hangs
// the stated conventions on the statements.
func (p *parser) settle() {
	p.conventions()
	for i := range p.res.Statements {
		s := &p.res.Statements[i]
		for j := range s.Counts {
			s.Counts[j].normalize()
			if n := s.Counts[j].Sample(); s.Sample > 0 && n > 0 && n != s.Sample {
				p.res.Warnings = append(p.res.Warnings, Note{Column: s.Column, Text: fmt.Sprintf("the frequencies add up to %d of %d specimens", n, s.Sample)})
			}
		}
		p.checkSum(s)
		s.joinSides()
	}
}

// joinSides derives the count of a paired fin, or of a row, from its two sides.
func (s *Statement) joinSides() {
	e := Whole
	switch s.Character.class() {
	case classPaired:
		e = Ray
	case classLine:
	default:
		return
	}
	left, ok := s.Count(Left)
	right, both := s.Count(Right)
	if _, stated := s.Count(e); stated || !ok && !both {
		return
	}
	switch {
	case !ok:
		left = right
	case both && left.Interval != right.Interval:
		left.Values = []Value{{Interval: left.Interval}, {Interval: right.Interval}}
		left.Interval = left.Union(right.Interval)
	default:
		left.Values = nil
	}
	s.Counts = append(s.Counts, Count{Element: e, Interval: left.Interval, Values: left.Values, Derived: true})
}

// normalize gives equal counts equal form, whatever order they were stated in: a list
// of one plain value is none; the usual value stands beside rare ones only as what
// they leave.
func (c *Count) normalize() {
	if len(c.Values) == 1 && c.Values[0].Specimens == 0 && !c.Values[0].Holotype && c.Values[0].Interval == c.Interval {
		c.Values = nil
	}
	if c.Usual != nil {
		c.Usual.Bound = Exact
	}
	if len(c.Values) > 0 {
		if c.Usual != nil {
			c.cover(*c.Usual)
		}
		c.cover(c.Interval)
	}
	var common Interval
	rare, others := 0, 0
	for _, v := range c.Values {
		switch {
		case v.Rare:
			rare++
		case others == 0:
			common, others = v.Interval, 1
		default:
			common, others = common.Union(v.Interval), others+1
		}
	}
	switch {
	case rare > 0 && others > 0:
		c.Usual = &common
	case rare > 0:
		for i := range c.Values {
			c.Values[i].Rare = false
		}
	case c.Usual != nil && len(c.Values) > 0 && c.Usual.Min == c.Min && c.Usual.Max == c.Max:
		c.Usual = nil
	}
}

// sumParts are the elements that add up to a character's total.
func sumParts(c Character) []Element {
	switch c.class() {
	case classVertebrae:
		return []Element{Abdominal, CaudalRegion}
	case classRakers:
		return []Element{Upper, Middle, Lower, Epibranchial, Ceratobranchial, Hypobranchial}
	case classCaudal:
		return []Element{Upper, Lower}
	default:
		return nil
	}
}

// checkSum compares parts with their total. Ranges need not add end to end (A10): the
// total must only be reachable.
func (p *parser) checkSum(s *Statement) {
	parts := sumParts(s.Character)
	if parts == nil {
		return
	}
	var sum Interval
	n := 0
	for _, e := range parts {
		if c, ok := s.Count(e); ok {
			sum = sum.shift(c.Interval)
			n++
		}
	}
	if n < 2 {
		return
	}
	total, ok := s.Count(Total)
	if whole, stated := s.Count(Whole); stated && !whole.Overlaps(sum) {
		p.res.Warnings = append(p.res.Warnings, Note{Column: s.Column, Text: "the parts add up to " + rangeText(sum) + " beside a count of " + rangeText(whole.Interval)})
	}
	switch {
	case ok && !total.Overlaps(sum):
		p.faults = append(p.faults, Fault{
			Column: s.Column,
			Found:  "the parts add up to " + rangeText(sum) + ", the total says " + rangeText(total.Interval),
			Want:   "a total that matches its parts",
		})
	case !ok && sum.Single() && s.Character.class() != classCaudal:
		s.Counts = append(s.Counts, Count{Element: Total, Interval: sum, Derived: true})
	}
}

// conventions looks for words that say how counts were made: "including rudiments",
// "last two rays as one".
func (p *parser) conventions() {
	var conv Convention
	for i := range p.tokens {
		t := &p.tokens[i]
		if t.kind != tWord {
			continue
		}
		switch t.lex.class {
		case wIncluding, wExcluding:
			for j := i + 1; j < len(p.tokens) && j < i+4; j++ {
				if p.tokens[j].kind == tWord && p.tokens[j].lex.class == wRudiment {
					conv.Rudiments = RudimentsIncluded
					if t.lex.class == wExcluding {
						conv.Rudiments = RudimentsExcluded
					}
				}
			}
		case wLast:
			for j := i + 1; j < len(p.tokens) && j < i+9; j++ {
				w := &p.tokens[j]
				if w.kind == tWord && (w.lex.class == wSplit || j > i+1 && w.lex.class == wNumber && w.lex.num == 1) {
					conv.LastRays = LastRaysOne
				}
			}
		default:
		}
	}
	for i := range p.res.Statements {
		s := &p.res.Statements[i]
		switch s.Character.class() {
		case classRakers:
			s.Convention.Rudiments = conv.Rudiments
			if _, ok := s.Count(Middle); ok {
				s.Convention.Angle = AngleApart
			}
		case classDorsal, classAnal:
			s.Convention.LastRays = conv.LastRays
			for _, c := range s.Counts {
				if c.Min != float64(int(c.Min)) || c.Max != float64(int(c.Max)) {
					s.Convention.LastRays = LastRaysOneAndHalf
				}
			}
		default:
		}
	}
}
