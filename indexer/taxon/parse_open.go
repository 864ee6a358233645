package taxon

import "strings"

// leadingQualifier reads a mark before the whole name: cf. Scorpaena porcus.
func (p *parser) leadingQualifier() {
	save := p.i
	if p.qualifierAhead() && (p.at(0).is("?") || p.at(0).dotted()) && p.qualifier() {
		if t := p.at(0); p.i == save+1 && t.kind == tokWord && isUpper(t.text) && !strings.Contains(p.n.Annotation, "sp") {
			return
		}
		p.i, p.n.Surrogate, p.n.Annotation = save, Settled, ""
	}
}

// qualifierWord gives the kind of an open-nomenclature mark.
func qualifierWord(w string) Surrogate {
	switch strings.ToLower(strings.TrimSuffix(w, ".")) {
	case "cf", "cfr", "conf":
		return Comparison
	case "sp", "spp", "aff", "affin", "nr", "near", "prox":
		return Approximation
	default:
		return Settled
	}
}

// qualifierAhead reports whether an open-nomenclature mark comes next.
func (p *parser) qualifierAhead() bool {
	t := p.at(0)
	if t.is("?") {
		return true
	}
	return t.kind == tokWord && isLower(t.text) && qualifierWord(t.text) != Settled
}

// qualifier reads one or two marks: cf., sp. cf., ?
func (p *parser) qualifier() bool {
	var marks []string
	kind := Settled
	for p.qualifierAhead() && len(marks) < 3 {
		t := p.at(0)
		p.i++
		if t.is("?") {
			if kind == Settled {
				kind = Approximation
			}
			marks = append(marks, "?")
			continue
		}
		q := qualifierWord(t.text)
		mark := t.text
		if q == Comparison {
			mark = "cf."
		}
		marks = append(marks, mark)
		if q == Comparison || kind == Settled {
			kind = q
		}
	}
	if kind == Settled {
		return false
	}
	p.n.Surrogate, p.n.Annotation = kind, strings.Join(marks, " ")
	p.warn(WarnOpen)
	return true
}
