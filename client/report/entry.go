package report

import "strings"

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
	rows := append(rowsOf(e), more...)
	lines := 0
	for _, r := range rows {
		s.font(r.style, r.size, r.gray)
		lines += max(len(p.SplitText(r.text, body)), 1)
	}
	if height := float64(lines)*leading + 2*between; p.GetY()+height > pageHeight-bottom && height < pageHeight-bottom-margin {
		p.AddPage()
	}
	p.SetDrawColor(215, 215, 215)
	p.SetLineWidth(0.15)
	p.Line(margin, p.GetY(), pageWidth-margin, p.GetY())
	p.Ln(between)
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
	from, to := text(e, "from"), text(e, "to")
	switch {
	case from == "":
		return []string{text(e, "signed_on")}
	case text(e, "kind") == "use" || to == from:
		return []string{from}
	case to == "":
		return []string{"from " + from}
	default:
		return []string{from, "to " + to}
	}
}

func rowsOf(e map[string]any) []row {
	what := strings.TrimSpace(text(e, "terms") + " " + text(e, "kind"))
	if strings.HasSuffix(text(e, "terms"), text(e, "kind")) {
		what = text(e, "terms")
	}
	rows := []row{{joined(", ", text(e, "party"), what), "B", 10, 0}}
	add := func(style string, size float64, gray int, s string) {
		if s != "" {
			rows = append(rows, row{s, style, size, gray})
		}
	}
	languages := list(e, "languages")
	if languages == "*" {
		languages = "all languages"
	}
	add("", 9, 0, joined(" · ", strings.ReplaceAll(list(e, "media"), "*", "all media"), list(e, "territories"), languages, list(e, "purposes")))
	add("I", 9, 0, joined(", ", text(e, "title"), text(e, "identifier")))
	copies, fee := text(e, "copies"), text(e, "fee")
	if copies != "" {
		copies += " copies"
		if text(e, "kind") == "grant" {
			copies = "up to " + copies
		}
	}
	if fee != "" {
		fee = "fee " + fee + " " + text(e, "currency")
	}
	add("", 9, 0, joined(" · ", text(e, "state"), text(e, "verdict"), copies, fee, led("signed ", text(e, "signed_on")), led("credit ", text(e, "credit_line"))))
	for _, r := range strings.Split(listBy(e, "remarks", "\n"), "\n") {
		add("", 9, 90, r)
	}
	add("", 8, 130, joined(" under ", text(e, "name"), text(e, "grant")))
	return rows
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

func list(e map[string]any, key string) string { return listBy(e, key, ", ") }

func listBy(e map[string]any, key, sep string) string {
	items, _ := e[key].([]any)
	var out []string
	for _, i := range items {
		s, _ := i.(string)
		out = append(out, s)
	}
	return strings.Join(out, sep)
}
