package web

import (
	"bytes"
	"embed"
	"encoding/json"
	"fmt"
	"html/template"
	"io/fs"
	"net/http"
	"path"
	"slices"
	"strconv"
	"strings"

	"google.golang.org/protobuf/reflect/protoreflect"

	pb "platarium/proto/platarium/v1"
)

//go:embed templates
var templateFiles embed.FS

// views are the pages' templates by file name, each with the frame around it.
type views map[string]*template.Template

func loadViews(a *assets) (views, error) {
	frame, err := template.New("frame.html").Funcs(functions(a)).ParseFS(templateFiles, "templates/frame.html", "templates/part-*.html")
	if err != nil {
		return nil, fmt.Errorf("read the frame: %w", err)
	}
	files, err := fs.Glob(templateFiles, "templates/*.html")
	if err != nil {
		return nil, err
	}
	all := views{}
	for _, f := range files {
		name := path.Base(f)
		if name == "frame.html" || strings.HasPrefix(name, "part-") {
			continue
		}
		t, err := frame.Clone()
		if err == nil {
			t, err = t.ParseFS(templateFiles, f)
		}
		if err != nil {
			return nil, fmt.Errorf("read the page %s: %w", name, err)
		}
		all[name] = t
	}
	return all, nil
}

// framed is what the frame shows around a page.
type framed struct {
	Title  string
	Studio string
	Path   string // of this page, to mark where one is
	Token  string // of the session; empty before signing in
	Staff  bool
	Owner  bool
	Main   any
}

// show writes a page. It is made whole before any of it is sent, so that an error leaves no half page.
func (v *visit) show(code int, view, title string, main any) error {
	f := framed{Title: title, Studio: v.site.conf.Studio, Path: v.r.URL.Path, Main: main}
	if v.session != nil {
		f.Token, f.Staff, f.Owner = v.token, v.staff(), v.role == pb.Role_ROLE_OWNER
	}
	t, ok := v.site.views[view]
	if !ok {
		return fmt.Errorf("no view %s", view)
	}
	var b bytes.Buffer
	if err := t.Execute(&b, f); err != nil {
		return fmt.Errorf("show %s: %w", view, err)
	}
	v.w.Header().Set("Content-Type", "text/html; charset=utf-8")
	v.w.WriteHeader(code)
	_, _ = b.WriteTo(v.w) // the visitor may have gone
	return nil
}

func writeJSON(w http.ResponseWriter, code int, value any) {
	w.Header().Set("Content-Type", "application/json")
	w.WriteHeader(code)
	_ = json.NewEncoder(w).Encode(value) // the visitor may have gone
}

// functions are those that templates call.
func functions(a *assets) template.FuncMap {
	return template.FuncMap{
		"asset":     a.path,
		"tab":       newTab,
		"word":      word,
		"id":        func(name string) string { _, id, _ := strings.Cut(name, "/"); return id },
		"taxon":     italic,
		"marked":    marked,
		"join":      strings.Join,
		"fraction":  func(f float64) string { return strconv.FormatFloat(f*100, 'f', 3, 64) },
		"number":    func(f float64) string { return strconv.FormatFloat(f, 'g', 4, 64) },
		"megabytes": megabytes,
		"capital":   capital,
		"add":       func(a, b int) int { return a + b },
		"anchor":    anchor,
		"except":    exceptWords,
		"percent":   func(f float64) string { return strconv.FormatFloat(f*100, 'f', 1, 64) },
	}
}

// megabytes is a file's length in words.
func megabytes(n int64) string {
	if n < 1e6 {
		return strconv.FormatInt((n+999)/1000, 10) + " kB"
	}
	return strconv.FormatFloat(float64(n)/1e6, 'f', 1, 64) + " MB"
}

// tab is a link at the head of every page.
type tab struct {
	To, Label string
	Here      bool
}

// within are the first steps of paths that belong to a link beside its own.
var within = map[string][]string{"/search": {"pictures", "specimens"}, "/licences": {"grants", "uses", "parties", "available"}, "/briefs": {"choose"}}

func newTab(to, label, path string) tab {
	first, _, _ := strings.Cut(strings.TrimPrefix(path, "/"), "/")
	return tab{to, label, "/"+first == to || slices.Contains(within[to], first)}
}

// word is the word of an enum's value: "left lateral" for VIEW_LEFT_LATERAL, and nothing for what isn't stated.
func word(e protoreflect.Enum) string {
	if e.Number() == 0 {
		return ""
	}
	d := e.Descriptor()
	value := d.Values().ByNumber(e.Number())
	if value == nil {
		return strconv.Itoa(int(e.Number()))
	}
	prefix := strings.TrimSuffix(string(d.Values().ByNumber(0).Name()), "UNSPECIFIED")
	return strings.ToLower(strings.ReplaceAll(strings.TrimPrefix(string(value.Name()), prefix), "_", " "))
}

func capital(s string) string {
	if s == "" {
		return s
	}
	r := []rune(s)
	return strings.ToUpper(string(r[:1])) + string(r[1:])
}

// upright are the words of a scientific name that aren't set in italics (International Code of Zoological Nomenclature, appendix B, general recommendation 6 asks
// for another typeface for genus and species; that qualifiers and ranks stay upright is common practice, no source).
var upright = map[string]bool{"cf.": true, "aff.": true, "sp.": true, "spp.": true, "subsp.": true, "var.": true, "?": true, "nr.": true}

// italic sets a scientific name; a name of one word that is no genus (family, order: they end in -idae, -iformes and the like) stays upright.
func italic(name string) template.HTML {
	words := strings.Fields(name)
	var b strings.Builder
	single := len(words) == 1
	for i, w := range words {
		if i > 0 {
			b.WriteByte(' ')
		}
		e := template.HTMLEscapeString(w)
		if upright[w] || single && higher(w) {
			b.WriteString(e)
		} else {
			b.WriteString("<i>" + e + "</i>")
		}
	}
	return template.HTML(b.String()) //nolint:gosec // every word is escaped above
}

func higher(w string) bool {
	for _, end := range []string{"idae", "inae", "formes", "oidei", "morpha", "pterygii", "ini", "aria"} {
		if strings.HasSuffix(w, end) {
			return true
		}
	}
	return false
}

// marked shows a fragment with the words found set off.
func marked(fragment string) template.HTML {
	e := template.HTMLEscapeString(fragment)
	return template.HTML(strings.NewReplacer("\x02", "<mark>", "\x03", "</mark>").Replace(e)) //nolint:gosec // escaped, but for the two marks
}
