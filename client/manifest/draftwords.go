package manifest

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	pb "platarium/proto/platarium/v1"
)

// sense is what a word in a file or folder name says. Words and meanings: common practice, no source.
type sense struct {
	kind      pb.Kind
	view      pb.View
	stage     pb.Stage
	technique string
	doubt     string // why a person should look
}

const (
	plate, study, reference = pb.Kind_KIND_PLATE, pb.Kind_KIND_STUDY, pb.Kind_KIND_REFERENCE
	photograph              = pb.Stage_STAGE_REFERENCE_PHOTOGRAPH
)

// vocabulary gives the words that names of files and folders use.
func vocabulary() map[string]sense {
	out := map[string]sense{}
	add := func(s sense, words string) {
		for w := range strings.FieldsSeq(words) {
			out[w] = s
		}
	}
	add(sense{kind: plate}, "plate plates finals finished published delivered deliverables artwork")
	add(sense{kind: study}, "study studies wip preliminary prelims")
	add(sense{kind: reference}, "ref refs reference references literature specimen specimens")
	add(sense{kind: reference, stage: photograph}, "photo photos photograph photographs foto fotos img dsc dscn dscf pict")
	add(sense{kind: plate, stage: pb.Stage_STAGE_FINAL_ART}, "final endgültig")
	add(sense{kind: study, stage: pb.Stage_STAGE_OUTLINE}, "outline outlines contour contours lineart linework")
	add(sense{kind: study, stage: pb.Stage_STAGE_OUTLINE, doubt: "a sketch was taken as an outline"}, "sketch sketches rough roughs scribble")
	add(sense{kind: study, stage: pb.Stage_STAGE_TONAL_STUDY}, "tone tones tonal shading")
	add(sense{kind: study, stage: pb.Stage_STAGE_COLOR_STUDY}, "colorstudy colourstudy colorrough")
	add(sense{technique: "ink", doubt: "ink may be final art or an outline"}, "ink inked inks")
	add(sense{technique: "pencil"}, "pencil graphite")
	add(sense{technique: "watercolor"}, "watercolor watercolour aquarelle")
	add(sense{technique: "gouache"}, "gouache")
	add(sense{technique: "ink stipple"}, "stipple stippled")
	add(sense{technique: "scraperboard"}, "scraperboard scratchboard")
	add(sense{view: pb.View_VIEW_LEFT_LATERAL}, "left lft leftlateral")
	add(sense{view: pb.View_VIEW_RIGHT_LATERAL}, "right rgt rightlateral")
	add(sense{view: pb.View_VIEW_LEFT_LATERAL, doubt: "lateral without a side was taken as left"}, "lat lateral side profile")
	add(sense{view: pb.View_VIEW_DORSAL}, "dorsal dors above")
	add(sense{view: pb.View_VIEW_VENTRAL}, "ventral vent below")
	add(sense{view: pb.View_VIEW_FRONTAL}, "frontal front anterior")
	add(sense{view: pb.View_VIEW_CAUDAL}, "posterior rear")
	add(sense{view: pb.View_VIEW_OBLIQUE}, "oblique")
	add(sense{view: pb.View_VIEW_INTERNAL}, "section dissection internal anatomy")
	return out
}

// noise are words that say nothing about what is drawn.
func noise() map[string]bool {
	out := map[string]bool{}
	for w := range strings.FieldsSeq("scan scans scanned copy kopie copia old alt new neu edit edited version ver draft final2 backup tmp temp untitled dpi ppi cm mm px " +
		"rgb cmyk gray grey bw color colour web print hires lowres small large and the of for from with view fin fins fish detail page fig figure sheet tafel no nr") {
		out[w] = true
	}
	return out
}

// token is a word or a number in a name.
type token struct {
	text  string // as written
	lower string
	used  bool
}

// tokens splits a name at what is neither letter nor digit, between letters and digits, and where a capital follows a small letter.
func tokens(name string) []token {
	var out []token
	start, last := -1, rune(0)
	flush := func(end int) {
		if start >= 0 {
			out = append(out, token{text: name[start:end], lower: strings.ToLower(name[start:end])})
		}
		start = -1
	}
	for i, r := range name {
		letter, digit := unicode.IsLetter(r) || unicode.Is(unicode.Mn, r), unicode.IsDigit(r)
		switch {
		case !letter && !digit:
			flush(i)
		case start >= 0 && (unicode.IsDigit(last) != digit || unicode.IsLower(last) && unicode.IsUpper(r)):
			flush(i)
			start = i
		case start < 0:
			start = i
		}
		last = r
	}
	flush(len(name))
	return out
}

// hints are what the words of names say about a picture.
type hints struct {
	sense
	structures []string
	created    string
	doubts     []string
}

func (h *hints) doubt(format string, args ...any) {
	h.doubts = append(h.doubts, fmt.Sprintf(format, args...))
}

// take adds what a word says; what was said before, by a word nearer to the file, stays.
func (h *hints) take(s sense) {
	if s.doubt != "" && (s.view != 0 && h.view == 0 || s.stage != 0 && h.stage == 0 || s.technique != "" && h.technique == "") {
		h.doubt("%s", s.doubt)
	}
	if h.kind == 0 {
		h.kind = s.kind
	}
	if h.view == 0 {
		h.view = s.view
	}
	if h.stage == 0 {
		h.stage = s.stage
	}
	if h.technique == "" {
		h.technique = s.technique
	}
}

// dictionary reads names.
type dictionary struct {
	senses map[string]sense
	noise  map[string]bool
	words  []string // of senses, for misspellings
}

func newDictionary() *dictionary {
	d := &dictionary{senses: vocabulary(), noise: noise()}
	for w := range d.senses {
		if utf8.RuneCountInString(w) >= 6 { // shorter words are one slip from too many others
			d.words = append(d.words, w)
		}
	}
	return d
}

// read takes the hints out of the tokens of one name.
func (d *dictionary) read(list []token, h *hints) {
	d.structures(list, h)
	for i := range list {
		t := &list[i]
		if t.used {
			continue
		}
		s, ok := d.senses[t.lower]
		if !ok && utf8.RuneCountInString(t.lower) >= 6 && !d.noise[t.lower] {
			if best := nearest(t.lower, d.words); best != "" && distance(t.lower, best, 2) == 1 {
				s, ok = d.senses[best], true
				h.doubt("%q was read as %s", t.text, best)
			}
		}
		if ok {
			t.used = true
			h.take(s)
		}
	}
}

// finNames are the fins that a word before "fin" can mean.
var finNames = regexp.MustCompile(`^(dorsal|anal|pectoral|pelvic|ventral|caudal|tail|adipose)$`)

// structures finds parts: "first dorsal fin", "pectoral fin", "lateral line", "skull".
func (d *dictionary) structures(list []token, h *hints) {
	for i := range list {
		t := &list[i]
		next := ""
		if i+1 < len(list) {
			next = list[i+1].lower
		}
		name := ""
		switch {
		case finNames.MatchString(t.lower) && (next == "fin" || next == "fins"):
			name = map[string]string{"ventral": "pelvic", "tail": "caudal"}[t.lower]
			if name == "" {
				name = t.lower
			}
			name += " fin"
			if i > 0 && (list[i-1].lower == "first" || list[i-1].lower == "second") {
				name = list[i-1].lower + " " + name
				list[i-1].used = true
			}
			list[i+1].used = true
		case t.lower == "lateral" && next == "line":
			name, list[i+1].used = "lateral line", true
		case t.lower == "gill" && strings.HasPrefix(next, "raker"):
			name, list[i+1].used = "gill rakers", true
		case t.lower == "head", t.lower == "skull", t.lower == "otolith", t.lower == "opercle", t.lower == "teeth", t.lower == "scales":
			name = t.lower
		default:
			continue
		}
		t.used = true
		h.structures = append(h.structures, name)
	}
}

var (
	fullDate = regexp.MustCompile(`(?:^|[^0-9])((?:18|19|20)[0-9]{2})[-_.]?(0[1-9]|1[0-2])[-_.]?(0[1-9]|[12][0-9]|3[01])(?:[^0-9]|$)`)
	yearOnly = regexp.MustCompile(`(?:^|[^0-9])((?:18|19|20)[0-9]{2})(?:[^0-9]|$)`)
	copyMark = regexp.MustCompile(`(?i)(\bcopy\b|\bkopie\b|\([0-9]+\)|[ _-]v[0-9]+\b|[ _-](old|alt|new|neu)\b)`)
)

// dateIn finds the date in a name: a day as 2019-04-30 or 20190430, else a year. Several years are a doubt.
func dateIn(name string, latest int, h *hints) string {
	if m := fullDate.FindStringSubmatch(name); m != nil {
		day := m[1] + "-" + m[2] + "-" + m[3]
		if _, err := parseDate(day); err == nil {
			return day
		}
	}
	found := ""
	for rest := name; ; {
		m := yearOnly.FindStringSubmatchIndex(rest)
		if m == nil {
			return found
		}
		year := rest[m[2]:m[3]]
		rest = rest[m[3]:]
		if n, err := strconv.Atoi(year); err != nil || n > latest || strings.HasPrefix(strings.ToLower(rest), "dpi") || strings.HasPrefix(strings.ToLower(rest), "px") {
			continue
		}
		if found != "" && found != year {
			h.doubt("the name holds several years, %s and %s", found, year)
			return found
		}
		found = year
	}
}
