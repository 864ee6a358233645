package report

import (
	"fmt"
	"slices"
	"strings"
)

// party sets a statement of an organisation: grant by grant, each in full with what was published under it, and at the end what was published otherwise.
func (s *sheet) party() {
	c := s.content
	works, uses := dealt(c)
	grants := objects(c, "grants")
	pictures := map[string]bool{}
	for _, e := range objects(c, "entries") {
		pictures[text(e, "picture")] = true
	}
	s.title("Licensing history", text(c, "party_name"),
		joined(" · ", counted(len(grants), "grant"), counted(len(uses), "publication"), counted(len(pictures), "picture")))
	if len(grants)+len(uses) == 0 {
		s.pdf.Ln(4)
		s.font("", 10, 0)
		s.pdf.MultiCell(0, 5, "No grants or uses on record.", "", "L", false)
	}
	for _, g := range grants {
		var under []dealing
		uses, under = parted(uses, text(g, "grant"))
		s.section(headingOf(g), roomGrant)
		s.fact("Grant", joined(" · ", text(g, "grant"), stateWords(g)))
		s.granted(g, works)
		s.scope(g)
		s.conditions(g)
		s.agreement(g)
		if len(under) == 0 {
			s.fact("Published", "nothing on record")
			continue
		}
		s.pdf.Ln(1)
		s.published(under)
	}
	if len(uses) > 0 {
		s.section("Published without one of these grants", roomEntry)
		s.published(uses)
	}
}

// dealing is one use, and more about it: the pictures of its entries, and whether there is evidence of it.
type dealing struct {
	entry map[string]any
	about []string
}

// dealt sorts the entries of a history: the pictures by name, and the uses in order.
func dealt(c map[string]any) (pictures map[string]map[string]any, uses []dealing) {
	pictures = map[string]map[string]any{}
	at := map[string]int{}
	for _, e := range objects(c, "entries") {
		pictures[text(e, "picture")] = e
		of, _ := e["entry"].(map[string]any)
		if text(of, "kind") != "use" {
			continue
		}
		i, known := at[text(of, "name")]
		if !known {
			i = len(uses)
			at[text(of, "name")] = i
			uses = append(uses, dealing{entry: of})
			if evidence := led("evidence of publication ", text(e, "evidence")); evidence != "" {
				uses[i].about = append(uses[i].about, evidence)
			}
		}
		uses[i].about = append(uses[i].about, joined(" · ", pictureWords(e), text(e, "picture")))
	}
	return pictures, uses
}

// parted takes the uses under a grant out of others.
func parted(uses []dealing, grant string) (rest, under []dealing) {
	for _, u := range uses {
		if text(u.entry, "grant") == grant {
			under = append(under, u)
		} else {
			rest = append(rest, u)
		}
	}
	return rest, under
}

// granted lists the pictures of a grant, a line each, and what is left out of it.
func (s *sheet) granted(g map[string]any, pictures map[string]map[string]any) {
	var in, out []string
	for _, w := range items(g, "works") {
		bare, taken := strings.CutPrefix(w, "-")
		name, part, _ := strings.Cut(bare, "#")
		about := pictures[name]
		line := joined(" · ", pictureWords(about), led("part: ", part), name)
		switch {
		case taken:
			out = append(out, line)
		case w == "*":
			in = append(in, "all works of the studio")
		default:
			in = append(in, line)
		}
	}
	label := "Pictures"
	if len(in) == 1 {
		label = "Picture"
	}
	s.lines(label, in)
	s.lines("Except", out)
}

// lines sets a label and lines beside it, in facts of a few each, so that a long list goes on over the pages.
func (s *sheet) lines(label string, all []string) {
	for some := range slices.Chunk(all, 8) {
		s.fact(label, strings.Join(some, "\n"))
		label = ""
	}
}

// published sets uses, each with its pictures.
func (s *sheet) published(uses []dealing) {
	for _, u := range uses {
		s.entry(u.entry, row{strings.Join(u.about, "\n"), "", 8, 90})
	}
}

// headingOf is what a grant is, and what for.
func headingOf(g map[string]any) string {
	what := grantWords(g)
	if what != "" {
		what = strings.ToUpper(what[:1]) + what[1:]
	}
	return joined(": ", what, text(g, "product"))
}

// counted is so many of a thing; nothing for none.
func counted(n int, thing string) string {
	switch n {
	case 0:
		return ""
	case 1:
		return "1 " + thing
	default:
		return fmt.Sprintf("%d %ss", n, thing)
	}
}
