package report

import "strings"

// Room that a heading wants below it on its page, mm: for a fact, for an entry, and for a grant with a few pictures.
const (
	roomFact  = 24.0
	roomEntry = 52.0
	roomGrant = 92.0
)

// grant sets a statement of one grant.
func (s *sheet) grant() {
	c := s.content
	s.title("Licence statement", titleOf(c), joined(" · ", text(c, "terms"), stateWords(c)))
	s.section("What may be used", roomFact)
	for _, w := range objects(c, "works") {
		s.work(w)
	}
	s.section("Scope", roomFact)
	s.scope(c)
	s.section("Conditions", roomFact)
	s.conditions(c)
	s.section("Agreement", roomFact)
	s.agreement(c)
	s.section("Published under it so far", roomEntry)
	s.uses()
	if deliveries := objects(c, "deliveries"); len(deliveries) > 0 {
		s.section("Copies handed out", roomFact)
		for _, d := range deliveries {
			s.fact(dateWords(text(d, "day")), joined(", ", text(d, "picture"), text(d, "variant"), text(d, "asked"))+"\nsha256 "+text(d, "sha256"))
		}
	}
}

// title sets what is stated, with the line below it, and what the statement is.
func (s *sheet) title(kind, title, below string) {
	s.font("", 9, 110)
	s.pdf.MultiCell(0, 5, kind, "", "L", false)
	s.pdf.Ln(1)
	s.font("B", 17, 0)
	s.pdf.MultiCell(0, 7.5, title, "", "L", false)
	s.font("I", 11, 0)
	s.pdf.MultiCell(0, 6, below, "", "L", false)
	s.pdf.Ln(3)
	s.fact("Record", s.mark.Subject())
	s.fact("As of", s.at.Format("2 January 2006"))
	s.fact("Written for", audience(text(s.content, "audience")))
}

func titleOf(c map[string]any) string {
	if text(c, "licensee_id") == "" {
		return "Licence to everybody"
	}
	return "Licence to " + text(c, "licensee")
}

func stateWords(c map[string]any) string {
	state := text(c, "state")
	if day, ended := strings.CutPrefix(state, "ended "); ended {
		return "ended " + dateWords(day)
	}
	if state == "not yet" {
		return "not yet in force"
	}
	return state
}

// section sets a heading over what follows, never at the foot of a page alone.
func (s *sheet) section(title string, room float64) {
	p := s.pdf
	if p.GetY()+room > pageHeight-bottom {
		p.AddPage()
	} else {
		p.Ln(4)
	}
	s.font("B", 11, 0)
	p.MultiCell(0, 6, title, "", "L", false)
	p.SetDrawColor(160, 160, 160)
	p.SetLineWidth(0.15)
	p.Line(margin, p.GetY(), pageWidth-margin, p.GetY())
	p.Ln(1.5)
	s.ruled = p.GetY()
}

// fact sets a label and what it says; what says nothing is left out. One that doesn't fit on the page begins the next.
func (s *sheet) fact(label, says string) {
	if strings.TrimSpace(says) == "" {
		return
	}
	p := s.pdf
	s.font("", 9, 0)
	lines := 0
	for l := range strings.SplitSeq(says, "\n") {
		lines += max(len(p.SplitText(l, body)), 1)
	}
	if height := float64(lines) * leading; p.GetY()+height > pageHeight-bottom && height < pageHeight-bottom-margin {
		p.AddPage()
	}
	s.font("", 9, 110)
	p.CellFormat(dates, leading, label, "", 0, "L", false, 0, "")
	s.font("", 9, 0)
	p.SetLeftMargin(margin + dates)
	p.MultiCell(body, leading, says, "", "L", false)
	p.SetLeftMargin(margin)
	p.SetX(margin)
	p.Ln(0.6)
}

func (s *sheet) work(w map[string]any) {
	name := text(w, "work")
	switch {
	case name == "*":
		s.fact("Everything", "all works of the studio")
	case strings.HasPrefix(name, "-"):
		s.fact("Except", joined(" · ", text(w, "title"), name[1:]))
	default:
		_, part, parted := strings.Cut(name, "#")
		label := "Picture"
		if parted {
			label = "Part: " + part
		}
		s.fact(label, joined("\n", pictureWords(w), joined(" · ", text(w, "description"), led("rights: ", text(w, "rights_holder"))), name))
	}
}

// scope sets the scope of a grant c. The licensee isn't named where all is about it.
func (s *sheet) scope(c map[string]any) {
	if s.mark.Party == "" || text(c, "licensee_id") != s.mark.Party {
		s.fact("Licensee", text(c, "licensee"))
	}
	s.fact("Also for", strings.Join(items(c, "affiliates"), "; "))
	s.fact("Media", mediaWords(items(c, "media")))
	s.fact("Kept by the studio", mediaWords(items(c, "reserved_media")))
	s.fact("Territories", territoryWords(items(c, "territories")))
	if groups(items(c, "territories")) {
		s.fact("  which are", territoryWords(items(c, "expanded_territories")))
	}
	s.fact("Languages", languageWords(items(c, "languages")))
	s.fact("Purposes", purposeWords(items(c, "purposes")))
	s.fact("Term", termWords(c))
	s.fact("Exclusivity", exclusivityWords(c))
	s.fact("Use may begin", dateWords(text(c, "embargo_until")))
	s.fact("Stock may be sold", led("until ", dateWords(text(c, "selloff_to"))))
}

func (s *sheet) conditions(c map[string]any) {
	s.fact("Credit line", text(c, "credit_line"))
	if s.mark.Party == "" { // else it stands in the heading
		s.fact("For", text(c, "product"))
	}
	if n := text(c, "copies_max"); n != "" {
		s.fact("Copies", "at most "+n+" in all")
	}
	if n := text(c, "uses_max"); n != "" {
		s.fact("Uses", "at most "+n)
	}
	s.fact("Alteration", text(c, "alteration"))
	if fee := text(c, "fee"); fee != "" {
		paid := "payment isn't on record"
		if on := text(c, "paid_on"); on != "" {
			paid = "paid " + dateWords(on)
		}
		s.fact("Fee", fee+" "+text(c, "currency")+", "+paid)
	}
	if text(c, "payment") != "" {
		s.fact("Payment", "a condition: nothing may be used before it")
	}
	switch due, got := text(c, "evidence_due_on"), text(c, "evidence_received_on"); {
	case got != "":
		s.fact("Voucher copies", "received "+dateWords(got))
	case due != "":
		s.fact("Voucher copies", "due "+dateWords(due))
	}
}

func (s *sheet) agreement(c map[string]any) {
	signed := dateWords(text(c, "signed_on"))
	if signed == "" {
		signed = "not signed"
	}
	s.fact("Signed", signed)
	s.fact("Governs from", dateWords(text(c, "effective_on")))
	s.fact("Ended", joined(": ", dateWords(text(c, "ended_on")), text(c, "ended_reason")))
	s.fact("Amends", text(c, "amends"))
	s.fact("Replaces", text(c, "supersedes"))
	s.fact("Hangs on", text(c, "head_grant"))
	s.fact("Yields to", strings.Join(items(c, "subject_to"), ", "))
	for _, l := range objects(c, "later") {
		bond := text(l, "bond")
		s.fact(strings.ToUpper(bond[:1])+bond[1:], joined(", ", text(l, "grant"), led("from ", dateWords(text(l, "effective_on"))), text(l, "state")))
	}
	document := led("sha256 ", text(c, "document_sha256"))
	if document == "" && text(s.content, "audience") == studio {
		document = "none on file"
	}
	s.fact("Signed document", document)
	s.fact("Collides with", strings.Join(items(c, "collides_with"), ", "))
}

func (s *sheet) uses() {
	uses := objects(s.content, "uses")
	if len(uses) == 0 {
		s.font("", 9, 0)
		s.pdf.MultiCell(0, leading, "Nothing on record.", "", "L", false)
		return
	}
	if n := text(s.content, "copies_used"); n != "" {
		s.fact("In all", n+" copies")
	}
	for _, u := range uses {
		s.entry(u)
	}
}

// objects are the objects of a list.
func objects(e map[string]any, key string) (out []map[string]any) {
	all, _ := e[key].([]any)
	for _, i := range all {
		if m, is := i.(map[string]any); is {
			out = append(out, m)
		}
	}
	return out
}
