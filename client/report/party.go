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
		s.section(grantHeading(g), roomEntry)
		s.fact("Grant", text(g, "grant"))
		s.granted(g, works)
		s.scope(g)
		s.conditions(g)
		s.agreement(g)
		var under []dealing
		uses, under = parted(uses, text(g, "grant"))
		s.published("Published", under)
	}
	if len(uses) > 0 {
		s.section("Published without one of these grants", roomEntry)
		s.published("", uses)
	}
}

// dealing is one use, with the pictures of its entries.
type dealing struct {
	entry    map[string]any
	evidence string
	pictures []string
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
			uses = append(uses, dealing{entry: of, evidence: text(e, "evidence")})
		}
		uses[i].pictures = append(uses[i].pictures, joined(", ", text(e, "title"), text(e, "picture")))
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
		line := joined(" · ", joined(", ", text(about, "title"), text(about, "scientific_name")), led("part: ", part), name)
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

func (s *sheet) published(title string, uses []dealing) {
	if len(uses) > 0 && title != "" {
		s.pdf.Ln(2)
	}
	for _, u := range uses {
		s.entry(u.entry, row{strings.Join(u.pictures, "\n"), "", 8, 90})
	}
}

// grantHeading is what a grant is and how it stands.
func grantHeading(g map[string]any) string {
	terms := text(g, "terms")
	switch terms {
	case "exclusive", "non-exclusive", "sole":
		terms += " licence"
	}
	if terms != "" {
		terms = strings.ToUpper(terms[:1]) + terms[1:]
	}
	return joined(", ", terms, stateWords(g))
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
