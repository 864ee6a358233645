package taxon

import "fmt"

// markHybrid notes a hybrid with a name of its own.
func (p *parser) markHybrid() {
	p.n.Hybrid = NamedHybrid
	p.warn(WarnHybrid)
}

// formula reads the further parents of a hybrid formula.
func (p *parser) formula() error {
	if !p.hybridSign(0) {
		return nil
	}
	first := *p.n
	first.Tail, first.Warnings = "", nil
	parents := []Name{first}
	for p.hybridSign(0) {
		p.i++
		if p.done() {
			break
		}
		parent, err := p.parent(first)
		if err != nil {
			return err
		}
		parents = append(parents, parent)
	}
	*p.n = Name{
		Verbatim: first.Verbatim, Hybrid: HybridFormula, Parents: parents,
		Surrogate: first.Surrogate, Annotation: first.Annotation, Warnings: p.n.Warnings,
	}
	p.warn(WarnHybrid)
	return nil
}

// parent reads a parent after the sign; a lower-case word is a species of the
// first parent's genus.
func (p *parser) parent(first Name) (Name, error) {
	var n Name
	sub := &parser{src: p.src, toks: p.toks, i: p.i, n: &n}
	if w := p.at(0); w.kind == tokWord && isLower(w.text) {
		n.Genus = first.Genus
		ok := false
		if _, rank := sub.infraRankHere(); rank { // subsp. prionodes × subsp. vulgare
			sub.i = p.i
			n.Species = first.Species
			sub.infraspecific()
			ok = len(n.Infras) > 0
		} else {
			ok = sub.epithets()
		}
		if !ok {
			return Name{}, fmt.Errorf("no parent at %q: %w", w.text, ErrNotAName)
		}
	} else if err := sub.name(first.Genus); err != nil {
		return Name{}, err
	}
	p.i = sub.i
	for _, w := range n.Warnings {
		p.warn(w)
	}
	n.Warnings = nil
	return n, nil
}
