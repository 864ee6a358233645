package rights

import (
	"errors"
	"fmt"
	"strings"

	"golang.org/x/text/language"

	"platarium/server/rights/media"
	"platarium/server/rights/pathset"
	"platarium/server/rights/territory"
)

// purposes is a set of purposes.
type purposes uint8

const (
	commercial purposes = 1 << iota
	noncommercial
	anyPurpose = commercial | noncommercial
)

func (p purposes) names() []string {
	var out []string
	if p&commercial != 0 {
		out = append(out, "commercial")
	}
	if p&noncommercial != 0 {
		out = append(out, "noncommercial")
	}
	return out
}

// absence is what a list without entries means.
type absence bool

const (
	nothing    absence = false // in a permission: nothing agreed
	everything absence = true  // in a request or a fact that protects another party: no limit
)

// readAxes reads a written scope. Groups are taken as at day (YYYY-MM-DD) unless
// the expansion is frozen. The error is a *FieldError.
func readAxes(s Scope, frozen Frozen, day string, empty absence) (axes, error) {
	var a axes
	var err error
	if a.work, err = readWorks(s.Works, empty); err != nil {
		return a, err
	}
	written := frozen.Media
	if written == nil {
		written = mediaAt(s.Media, day)
	}
	if a.media, err = readMedia(written, empty); err != nil {
		return a, err
	}
	if written = frozen.Territory; written == nil {
		written = s.Territory
	}
	if len(written) == 0 && empty == everything {
		written = []string{"WORLD"}
	}
	if a.terr, err = territory.Read(written, day); err != nil {
		return a, inField("territory", err)
	}
	if a.lang, err = readLanguages(s.Languages, empty); err != nil {
		return a, err
	}
	a.purpose, err = readPurposes(s.Purposes)
	return a, err
}

func readWorks(written []string, empty absence) (pathset.Set, error) {
	for i, w := range written {
		id, part, parted := strings.Cut(strings.TrimPrefix(w, "-"), "#")
		if id == "" || parted && part == "" || strings.Contains(part, "#") || !printable(w) {
			return pathset.Set{}, &FieldError{Field: fmt.Sprintf("works[%d]", i), Found: w, Wanted: "the id of a work, or id#part"}
		}
	}
	return readPaths(pathset.Parts, written, empty), nil
}

// mediaAt limits "*" to the media known on a day.
func mediaAt(written []string, day string) []string {
	for _, w := range written {
		if w == "*" {
			out := written
			for _, later := range media.Later(day) {
				out = append(out[:len(out):len(out)], "-"+later)
			}
			return out
		}
	}
	return written
}

func readMedia(written []string, empty absence) (pathset.Set, error) {
	for i, w := range written {
		path := strings.TrimPrefix(w, "-")
		if path == "" || strings.HasPrefix(path, ".") || strings.HasSuffix(path, ".") || strings.Contains(path, "..") || !printable(path) {
			return pathset.Set{}, &FieldError{Field: fmt.Sprintf("media[%d]", i), Found: w, Wanted: "a dotted path such as print.book"}
		}
	}
	return readPaths(pathset.Dotted, written, empty), nil
}

func readLanguages(written []string, empty absence) (pathset.Set, error) {
	tags := make([]string, len(written))
	for i, w := range written {
		tag, removed := strings.CutPrefix(w, "-")
		canonical, err := readTag(tag)
		if err != nil {
			return pathset.Set{}, inField(fmt.Sprintf("languages[%d]", i), err)
		}
		if removed {
			canonical = "-" + canonical
		}
		tags[i] = canonical
	}
	return readPaths(pathset.Tags, tags, empty), nil
}

// readTag puts a language tag into its canonical form, so that a deprecated code
// meets its successor (iw and he). Well-formed subtags that the registry of
// x/text doesn't know are kept as written, in lower case.
func readTag(tag string) (string, error) {
	if tag == "*" {
		return tag, nil
	}
	bad := &FieldError{Found: tag, Wanted: wantedTag(tag)}
	if tag == "" || strings.ContainsAny(tag, "_*") {
		return "", bad
	}
	t, err := (language.DeprecatedBase | language.DeprecatedScript | language.DeprecatedRegion).Parse(tag)
	var unknown language.ValueError
	switch {
	case errors.As(err, &unknown):
		return strings.ToLower(tag), nil
	case err != nil:
		return "", bad
	case extended(tag): // x/text would turn zh-yue into yue, out of the range zh
		return strings.ToLower(tag), nil
	default:
		return t.String(), nil
	}
}

// extended reports whether a tag has an extended language subtag after its language (RFC 5646 section 2.2.2).
func extended(tag string) bool {
	_, rest, _ := strings.Cut(tag, "-")
	second, _, _ := strings.Cut(rest, "-")
	return len(second) == 3 && strings.Trim(strings.ToLower(second), "abcdefghijklmnopqrstuvwxyz") == "" && tag[1] != '-'
}

func readPurposes(written []string) (purposes, error) {
	if len(written) == 0 {
		return anyPurpose, nil
	}
	var in, out purposes
	for i, w := range written {
		name, removed := strings.CutPrefix(w, "-")
		var p purposes
		switch name {
		case "commercial":
			p = commercial
		case "noncommercial":
			p = noncommercial
		case "*":
			p = anyPurpose
		default:
			return 0, &FieldError{Field: fmt.Sprintf("purposes[%d]", i), Found: w, Wanted: "commercial or noncommercial"}
		}
		if removed {
			out |= p
		} else {
			in |= p
		}
	}
	return in &^ out, nil
}

func readPaths(h pathset.Hierarchy, written []string, empty absence) pathset.Set {
	if len(written) == 0 && empty == everything {
		return pathset.All()
	}
	var include, exclude []string
	for i, w := range written {
		if path, removed := strings.CutPrefix(w, "-"); removed {
			if exclude == nil {
				include = append(include, written[:i]...)
			}
			exclude = append(exclude, path)
		} else if exclude != nil {
			include = append(include, w)
		}
	}
	if exclude == nil {
		include = written
	}
	return h.Of(include, exclude)
}

// printable reports whether a name holds no control characters and no surrounding space.
func printable(s string) bool {
	for _, r := range s {
		if r < ' ' || r == 0x7f {
			return false
		}
	}
	return strings.TrimSpace(s) == s
}

func wantedTag(tag string) string {
	if w, ok := languageHabits[strings.ToLower(strings.TrimSpace(tag))]; ok {
		return w
	}
	if strings.Contains(tag, "_") {
		return strings.ReplaceAll(tag, "_", "-")
	}
	return "a BCP 47 language tag such as en, pt-BR or zh-Hant, zxx for no words, or *"
}

// languageHabits are names that people write for a language.
var languageHabits = map[string]string{
	"english": "en", "german": "de", "french": "fr", "spanish": "es", "italian": "it", "portuguese": "pt", "dutch": "nl",
	"chinese": "zh", "japanese": "ja", "russian": "ru", "all": "*", "all languages": "*", "world": "*", "none": "zxx", "wordless": "zxx",
}
