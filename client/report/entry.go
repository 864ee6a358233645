package report

import (
	"cmp"
	"strings"
)

// row is one paragraph of an entry.
type row struct {
	text, style string
	size        float64
	gray        int
}

// Leading of an entry's lines, mm, and the space between entries.
const (
	leading = 4.6
	between = 3.2
)

// entry sets one grant or use: its days at the left, what it is at the right, and more below. It isn't parted by a page's end unless it is longer than a page.
func (s *sheet) entry(e map[string]any, more ...row) {
	p := s.pdf
	rows := append(rowsOf(e, s.mark.Party != ""), more...)
	lines := 0
	for _, r := range rows {
		s.font(r.style, r.size, r.gray)
		lines += max(len(p.SplitText(r.text, body)), 1)
	}
	if height := float64(lines)*leading + 2*between; p.GetY()+height > pageHeight-bottom && height < pageHeight-bottom-margin {
		p.AddPage()
	}
	if p.GetY() != s.ruled {
		p.SetDrawColor(215, 215, 215)
		p.SetLineWidth(0.15)
		p.Line(margin, p.GetY(), pageWidth-margin, p.GetY())
		p.Ln(between)
	}
	top, page := p.GetY(), p.PageNo()
	s.font("", 9, 90)
	p.MultiCell(dates-3, leading, strings.Join(daysOf(e), "\n"), "", "L", false)
	after := p.GetY()
	p.SetY(top)
	p.SetLeftMargin(margin + dates)
	p.SetX(margin + dates)
	for _, r := range rows {
		s.font(r.style, r.size, r.gray)
		p.MultiCell(body, leading, r.text, "", "L", false)
	}
	p.SetLeftMargin(margin)
	end := p.GetY()
	if p.PageNo() == page {
		end = max(end, after)
	}
	p.SetY(end + between)
}

// daysOf is when, a line each.
func daysOf(e map[string]any) []string {
	from, to := dayWords(text(e, "from")), dayWords(text(e, "to"))
	switch {
	case from == "":
		return []string{dayWords(text(e, "signed_on"))}
	case text(e, "kind") == "use" || to == from:
		return []string{from}
	case to == "":
		return []string{"from " + from}
	default:
		return []string{from, "to " + to}
	}
}

// rowsOf is an entry in words. Of a publication its title comes first; by whom isn't said of an organisation's own.
func rowsOf(e map[string]any, own bool) (rows []row) {
	add := func(style string, size float64, gray int, s string) {
		if s != "" {
			rows = append(rows, row{s, style, size, gray})
		}
	}
	copies, fee := text(e, "copies"), text(e, "fee")
	if copies != "" {
		copies += " copies"
	}
	if text(e, "kind") == "use" {
		add("B", 10, 0, cmp.Or(text(e, "title"), "without a title"))
		by := led("used by ", text(e, "party"))
		if own {
			by = ""
		}
		add("", 9, 0, joined(" · ", by, text(e, "identifier")))
	} else {
		add("B", 10, 0, joined(", ", text(e, "party"), grantWords(e)))
		copies = led("up to ", copies)
	}
	purposes := ""
	if given := items(e, "purposes"); len(given) > 0 {
		purposes = purposeWords(given)
	}
	add("", 9, 0, joined(" · ", mediaWords(items(e, "media")), territoryWords(items(e, "territories")), languageWords(items(e, "languages")), purposes))
	if fee != "" {
		fee = "fee " + fee + " " + text(e, "currency")
	}
	add("", 9, 0, joined(" · ", stateWords(e), text(e, "verdict"), copies, fee, led("signed ", dateWords(text(e, "signed_on"))), led("credit ", text(e, "credit_line"))))
	for _, r := range items(e, "remarks") {
		add("", 9, 90, r)
	}
	add("", 8, 130, joined(" under ", text(e, "name"), text(e, "grant")))
	return rows
}

// grantWords names a grant by its terms.
func grantWords(g map[string]any) string {
	switch terms := text(g, "terms"); terms {
	case "exclusive", "non-exclusive", "sole":
		return terms + " licence"
	default:
		return terms
	}
}

func led(label, s string) string {
	if s == "" {
		return ""
	}
	return label + s
}

// joined joins what isn't empty.
func joined(sep string, parts ...string) string {
	var out []string
	for _, p := range parts {
		if p != "" {
			out = append(out, p)
		}
	}
	return strings.Join(out, sep)
}
