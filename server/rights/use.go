package rights

import "strings"

// Act is what a use does with copies.
type Act uint8

// The acts. Only the distribution of existing stock is told apart.
const (
	Make       Act = iota // print, show, publish
	Distribute            // sell copies that were made before
)

// Use is a use that happened, or is about to.
type Use struct {
	ID           string
	By           string
	Scope        Scope // the days on which it happened
	Act          Act
	Copies       int64
	Product      string
	Credit       string // the credit line as printed
	Altered      bool
	Unattributed bool   // the creator is not named
	Grant        string // the grant that it is said to rest on, if any; the ruling does not depend on it
}

// Ruling is the answer about a use.
type Ruling struct {
	Verdict Verdict
	Code    Code     // Clear, or the first axis or condition that fails
	By      []string // grants relied on; for a failure the nearest grant
	Text    string
}

// judged is a use under judgement, with what was made under each agreement
// before it. A nil before takes the counts of the grants alone.
type judged struct {
	use    *Use
	before func(*Grant) Made
}

// Made counts what was made under an agreement.
type Made struct {
	Copies, Uses int64
}

func (j *judged) made(g *Grant) Made {
	m := Made{g.CopiesDone, g.UsesDone}
	if j.before != nil {
		more := j.before(g)
		m.Copies += more.Copies
		m.Uses += more.Uses
	}
	return m
}

// condition is a test that a grant as a whole passes or fails for a use.
type condition struct {
	code  Code
	holds func(e *entry, p *piece, j *judged) bool
	text  string
}

// axisSteps are the axes in the order in which a use is tested against them.
var axisSteps = [...]struct {
	code Code
	text string
}{
	{Party, "no grant to this party covers the work"},
	{Medium, "the medium is outside the grant"},
	{Territory, "the territory is outside the grant"},
	{Language, "the language is outside the grant"},
	{Purpose, "the purpose is outside the grant"},
	{NotYet, "the term had not begun"},
	{Expired, "the term was over"},
	{Embargo, "the grant forbids use before a later day"},
}

// conditions are tested after the axes, in this order.
var conditions = [...]condition{
	{NotExecuted, func(e *entry, p *piece, _ *judged) bool { return e.grant.inForce() && p.inLine }, "the grant is not executed"},
	{Unpaid, func(e *entry, p *piece, _ *judged) bool {
		return p.paid && (!e.grant.PaymentCondition || e.grant.Paid)
	}, "payment is a condition and has not been made"},
	{Product, func(e *entry, _ *piece, j *judged) bool {
		return e.grant.Product == "" || sameWords(e.grant.Product, j.use.Product)
	}, "the grant is for another product or edition"},
	{Overrun, func(e *entry, _ *piece, j *judged) bool {
		return e.grant.CopiesMax <= 0 || j.use.Act == Distribute || j.use.Copies <= e.grant.CopiesMax-j.made(&e.grant).Copies
	}, "more copies than agreed"},
	{Consumed, func(e *entry, _ *piece, j *judged) bool {
		return e.grant.UsesMax <= 0 || j.made(&e.grant).Uses < e.grant.UsesMax
	}, "the uses agreed have been made"},
	{Modification, func(e *entry, _ *piece, j *judged) bool { return !j.use.Altered || e.grant.mayAlter() }, "alteration was not permitted"},
	{Attribution, func(e *entry, _ *piece, j *judged) bool {
		return !j.use.Unattributed || !e.grant.wantsAttribution()
	}, "the public licence ends for those who do not attribute"},
}

// sameWords compares credit lines and editions by their words; runs of space are one.
func sameWords(a, b string) bool {
	return strings.Join(strings.Fields(a), " ") == strings.Join(strings.Fields(b), " ")
}

// reads a Creative Commons licence's elements from its address, whatever the
// scheme, a trailing slash or the "deed" page; "" if it is another licence.
func ccElements(uri string) string {
	_, rest, ok := strings.Cut(strings.ToLower(uri), "creativecommons.org/")
	if !ok {
		return ""
	}
	parts := strings.Split(rest, "/")
	if len(parts) < 2 {
		return ""
	}
	switch parts[0] {
	case "licenses":
		return parts[1]
	case "publicdomain":
		return "zero"
	default:
		return ""
	}
}

// mayAlter reports whether changes are allowed: by the grant, or by a Creative
// Commons licence without NoDerivatives.
func (g *Grant) mayAlter() bool {
	if g.MayAlter {
		return true
	}
	cc := ccElements(g.URI)
	return g.Kind == Public && cc != "" && !strings.Contains(cc, "nd")
}

// wantsAttribution reports whether a public licence ends without attribution; a dedication does not.
func (g *Grant) wantsAttribution() bool {
	return g.Kind == Public && ccElements(g.URI) != "zero"
}
