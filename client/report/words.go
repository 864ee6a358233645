package report

import (
	"strings"
	"time"

	"golang.org/x/text/language"
	"golang.org/x/text/language/display"

	"platarium/server/rights/media"
	"platarium/server/rights/territory"
)

// items are the texts of a list.
func items(e map[string]any, key string) (out []string) {
	all, _ := e[key].([]any)
	for _, i := range all {
		if s, is := i.(string); is {
			out = append(out, s)
		}
	}
	return out
}

// named writes codes of a list in words, each with its code, and what is taken out after them.
func named(codes []string, all string, name func(string) string) string {
	var in, out []string
	for _, c := range codes {
		bare, taken := strings.CutPrefix(c, "-")
		text := all
		if bare != "*" {
			text = name(bare)
			if text == bare || text == "" {
				text = bare
			} else {
				text += " (" + bare + ")"
			}
		}
		if taken {
			out = append(out, text)
		} else {
			in = append(in, text)
		}
	}
	text := strings.Join(in, "; ")
	if len(out) > 0 {
		text += "; except " + strings.Join(out, "; ")
	}
	return text
}

func mediaWords(codes []string) string {
	return named(codes, "all media known when it was signed", func(c string) string {
		e, _ := media.Find(c)
		return e.Label
	})
}

func territoryWords(codes []string) string {
	return named(codes, "all the world", func(c string) string {
		switch name, at, dated := strings.Cut(c, "@"); {
		case c == "WORLD":
			return "all the world"
		case name == "EU" && dated:
			return "European Union as on " + dateWords(at)
		case name == "EEA" && dated:
			return "European Economic Area as on " + dateWords(at)
		case c == "EU":
			return "European Union as at signature"
		case c == "EEA":
			return "European Economic Area as at signature"
		}
		return territory.Name(c)
	})
}

// groups says whether some of the territories are groups of countries that are worth writing out.
func groups(codes []string) bool {
	for _, c := range codes {
		c = strings.TrimPrefix(c, "-")
		if c != "WORLD" && (strings.Trim(c, "0123456789") == "" || strings.HasPrefix(c, "EU") || strings.HasPrefix(c, "EEA")) {
			return true
		}
	}
	return false
}

func languageWords(codes []string) string {
	english := display.English.Tags()
	return named(codes, "all languages", func(c string) string {
		tag, err := language.Parse(c)
		if err != nil {
			return c
		}
		return english.Name(tag)
	})
}

func purposeWords(codes []string) string {
	if len(codes) == 0 {
		return "commercial and non-commercial"
	}
	return strings.ReplaceAll(strings.Join(codes, " and "), "noncommercial", "non-commercial")
}

// dateWords writes a day, month or year as people do.
func dateWords(s string) string {
	for _, form := range [][2]string{{"2006-01-02", "2 January 2006"}, {"2006-01", "January 2006"}} {
		if t, err := time.Parse(form[0], s); err == nil {
			return t.Format(form[1])
		}
	}
	return s
}

// dayWords is dateWords for a narrow column.
func dayWords(s string) string {
	for _, form := range [][2]string{{time.DateOnly, "2 Jan 2006"}, {"2006-01", "Jan 2006"}} {
		if t, err := time.Parse(form[0], s); err == nil {
			return t.Format(form[1])
		}
	}
	return s
}

// pictureWords is title and species of a picture: a title that has the name already isn't given it again.
func pictureWords(p map[string]any) string {
	title, species := text(p, "title"), text(p, "scientific_name")
	if strings.Contains(title, species) {
		return title
	}
	return joined(", ", title, species)
}

// termWords says from when to when, both included.
func termWords(e map[string]any) string {
	from, to, event := dateWords(text(e, "from")), dateWords(text(e, "to")), text(e, "term_event")
	out := "from " + from
	switch {
	case from == "" && to == "" && event == "":
		return "until the legal term of copyright ends"
	case from == "":
		out = "from signature"
	}
	switch {
	case to != "":
		out += " to " + to + ", both days included"
	case event == "":
		out += " until the legal term of copyright ends"
	}
	if event != "" {
		out += "; " + event
	}
	return out
}

// exclusivityWords says who is shut out, in full.
func exclusivityWords(e map[string]any) string {
	terms, until := text(e, "terms"), ""
	if to := text(e, "exclusive_to"); to != "" {
		until = ", until " + dateWords(to)
	}
	switch first, _, _ := strings.Cut(terms, " "); first {
	case "exclusive":
		return "exclusive: within this scope nobody else may use the works, the studio included" + until
	case "sole":
		return "sole: within this scope nobody else may use the works but the studio itself" + until
	case "first":
		out := "first rights: nobody may publish the works within this scope before the licensee has"
		if by := text(e, "first_publication_deadline"); by != "" {
			out += ", or until " + dateWords(by)
		}
		if on := text(e, "first_published_on"); on != "" {
			out += "; published first on " + dateWords(on)
		}
		return out
	case "assignment":
		return "assignment: the rights in this scope have passed to the licensee"
	case "holdback":
		if text(e, "holdback_mode") == "all" {
			return "holdback: nobody uses the works within this scope; it permits no use"
		}
		return "holdback: the studio licenses the works within this scope to nobody; it permits no use"
	case "option":
		return strings.TrimSuffix("option: the holder is asked first, until "+dateWords(text(e, "option_until")), ", until ") + "; it permits no use"
	case "public":
		return "a public licence, for everybody, which can't be taken back: " + text(e, "public_licence")
	default:
		return "non-exclusive: the studio may license the works to others within the same scope"
	}
}
