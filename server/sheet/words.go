package sheet

import (
	"slices"
	"strings"

	pb "platarium/proto/platarium/v1"
)

// joined joins what isn't empty.
func joined(sep string, parts ...string) string {
	return strings.Join(slices.DeleteFunc(parts, func(p string) bool { return p == "" }), sep)
}

// worded drops paragraphs without words.
func worded(ps []para) []para {
	return slices.DeleteFunc(slices.Clone(ps), func(p para) bool { return strings.TrimSpace(p.text) == "" })
}

func title(p *pb.Picture) string {
	if t := p.GetTitle(); t != "" {
		return t
	}
	return p.GetName()
}

func mirrored(c *pb.PlanCandidate) string {
	if c.GetMirror() {
		return "mirrored"
	}
	return ""
}

func reasons(c *pb.PlanCandidate) string {
	var out []string
	for _, r := range c.GetReasons() {
		out = append(out, r.GetText())
	}
	return joined("; ", out...)
}

// italic is the face of a scientific name on top of another: italic for genus and species, upright for names above the genus, which the codes of zoological names end in -idae, -inae and
// the like.
func italic(face, name string) string {
	if !strings.Contains(name, " ") {
		for _, end := range []string{"idae", "inae", "oidea", "iformes", "oidei", "ini"} {
			if strings.HasSuffix(name, end) {
				return face
			}
		}
	}
	if name == "" || strings.HasPrefix(face, "B") {
		return face + "I"
	}
	return "I"
}

// phrase turns the name of an enum's value into words.
func phrase(value, prefix string) string {
	w := strings.ToLower(strings.ReplaceAll(strings.TrimPrefix(value, prefix), "_", " "))
	if w == "unspecified" {
		return ""
	}
	return w
}

func viewOf(v pb.View) string                 { return phrase(v.String(), "VIEW_") }
func stageOf(v pb.Stage) string               { return phrase(v.String(), "STAGE_") }
func completenessOf(v pb.Completeness) string { return phrase(v.String(), "COMPLETENESS_") }
