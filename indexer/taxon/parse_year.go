package taxon

import "strings"

// year reads a year with its comma, brackets, range and page.
func (p *parser) year() Year {
	save := p.i
	if p.at(0).is(",") {
		p.i++
	}
	closing := p.opening()
	y := Year{Value: p.yearFigures()}
	if y.Value == "" || closing != "" && !p.at(0).is(closing) {
		p.i = save
		return Year{}
	}
	if closing != "" {
		p.i++
		y.Inferred = true
		if closing == "]" {
			p.warn(WarnYear)
		}
	}
	if p.yearRange() {
		y.Inferred = true
		p.warn(WarnYear)
	}
	if p.at(0).is(":") && p.at(1).kind == tokNumber { // the page
		p.i += 2
		p.warn(WarnYear)
	}
	if p.at(0).is(".") && p.adjacent(0) {
		p.i++
	}
	return y
}

// opening reads a bracket or parenthesis and gives the one that closes it.
func (p *parser) opening() string {
	switch {
	case p.at(0).is("["):
		p.i++
		return "]"
	case p.at(0).is("("):
		p.i++
		return ")"
	default:
		return ""
	}
}

// yearFigures reads 1758, 185? or 1851?.
func (p *parser) yearFigures() string {
	t := p.at(0)
	fig := strings.TrimRight(t.text, "abcdefgh")
	if t.kind != tokNumber || fig == "" || fig[0] != '1' && fig[0] != '2' {
		return ""
	}
	doubt := p.at(1).is("?") && p.adjacent(1)
	switch {
	case len(fig) == 4 && doubt, len(fig) == 3 && doubt:
		p.i += 2
		p.warn(WarnYear)
		return fig + "?"
	case len(fig) == 4:
		p.i++
		return fig
	default:
		return ""
	}
}

// yearRange reads the second year of 1845-1847 or 1858/59.
func (p *parser) yearRange() bool {
	if sep := p.at(0); !sep.is("-") && !sep.is("/") || !p.adjacent(0) {
		return false
	}
	if n := p.at(1); n.kind != tokNumber || len(n.text) != 2 && len(n.text) != 4 {
		return false
	}
	p.i += 2
	return true
}
