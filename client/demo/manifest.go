package demo

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"platarium/client/demo/draw"
)

// ManifestName and SpecimensName are the files written beside the scans.
const (
	ManifestName  = "manifest.csv"
	SpecimensName = "specimens.csv"
)

// ManifestColumns are the columns of ManifestName.
func ManifestColumns() []string {
	return []string{"file", "key", "kind", "title", "scientific_name", "identified_by", "view", "stage", "technique", "structures",
		"counts", "landmarks", "calibration", "specimen", "creator", "created", "rights_holder", "rights_statement", "credit", "derived_from", "job", "keywords", "notes"}
}

// SpecimenColumns are the columns of SpecimensName.
func SpecimenColumns() []string {
	return []string{"key", "scientific_name", "catalog_number", "institution", "standard_length_mm", "total_length_mm", "sex", "life_stage",
		"preservation", "damage", "locality", "sensitivity", "notes"}
}

func writeManifests(dir string, scans []Scan) error {
	rows := [][]string{ManifestColumns()}
	used := map[string]bool{}
	for _, s := range scans {
		rows = append(rows, s.row())
		used[s.Work.Specimen] = true
	}
	if err := writeCSV(filepath.Join(dir, ManifestName), rows); err != nil {
		return err
	}
	rows = [][]string{SpecimenColumns()}
	for _, sp := range AllSpecimens() {
		if !used[sp.Key] {
			continue
		}
		f, err := sp.Figure()
		if err != nil {
			return err
		}
		rows = append(rows, []string{sp.Key, sp.Species, sp.Key, sp.Institution, number(sp.SL), number(math.Round(sp.SL * f.TotalLength())),
			sp.Sex, sp.LifeStage, sp.Preservation, sp.DamageNote, sp.Locality, strconv.Itoa(sp.Sensitivity), sp.Notes})
	}
	return writeCSV(filepath.Join(dir, SpecimensName), rows)
}

func number(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

func writeCSV(path string, rows [][]string) error {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	if err := w.WriteAll(rows); err != nil {
		return fmt.Errorf("manifest: %w", err)
	}
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		return fmt.Errorf("manifest: %w", err)
	}
	if err := os.WriteFile(path, b.Bytes(), 0o644); err != nil {
		return fmt.Errorf("manifest: %w", err)
	}
	return nil
}

// row is the scan's line in the manifest.
func (s Scan) row() []string {
	w := s.Work
	sp, _ := findSpecimen(w.Specimen)
	var from []string
	for _, f := range w.From {
		role := ":fact"
		if f.Copied {
			role = ":copied"
		}
		from = append(from, f.Key+role)
	}
	var parts []string
	for _, st := range s.Drawing.Structures {
		r := st.Region
		parts = append(parts, fmt.Sprintf("%s=%s@%.4f,%.4f,%.4f,%.4f", st.Name, st.Completeness, r.X, r.Y, r.W, r.H))
	}
	return []string{s.File, w.Key, w.Kind, w.Title(), sp.Species, Studio().Ichthyologist, viewName(w), stageName(w.Stage), technique(w.Stage),
		strings.Join(parts, "; "), w.Formula(), landmarks(w, s.Drawing), calibration(w, s.Drawing), w.Specimen, person(w.Creator).Name, w.Created, Studio().Name, w.RightsStatement(), w.Credit(),
		strings.Join(from, "; "), w.Job, strings.Join(w.AllKeywords(), "; "), w.Notes}
}

// landmarks writes the drawing's named points as "name@x,y", in fractions. In drawn work the bases of all spines and rays are among them, unless
// some are lost: then what follows the gap couldn't be numbered for sure.
func landmarks(w Work, d *draw.Drawing) string {
	var out []string
	mark := func(name string, x, y float64) { out = append(out, fmt.Sprintf("%s@%.5f,%.5f", name, x, y)) }
	for _, l := range d.Landmarks {
		mark(l.Name, l.X, l.Y)
	}
	for _, f := range d.Fins {
		if w.Kind == Reference || w.View == draw.Dorsal || f.MissSpines+f.Missed > 0 {
			continue
		}
		for i, b := range f.Bases {
			if i < f.Spines {
				mark(fmt.Sprintf("%s spine base %d", f.Name, i+1), b.X, b.Y)
			} else {
				mark(fmt.Sprintf("%s ray base %d", f.Name, i-f.Spines+1), b.X, b.Y)
			}
		}
	}
	return strings.Join(out, "; ")
}

// calibration writes the ends of the scale bar or rule and its true length, as somebody entered it.
func calibration(w Work, d *draw.Drawing) string {
	if w.NoBar {
		return ""
	}
	basis := "scale bar"
	if w.Stage == draw.Photograph {
		basis = "ruler"
	}
	b := d.Bar
	mm := b.TrueMM
	if w.BarAs > 0 {
		mm = w.BarAs
	}
	return fmt.Sprintf("%.5f,%.5f,%.5f,%.5f=%s %s", b.From.X, b.From.Y, b.To.X, b.To.Y, number(mm), basis)
}

// viewName is the side that is seen; details are drawn from the left.
func viewName(w Work) string {
	switch w.View {
	case draw.Right:
		return "right lateral"
	case draw.Dorsal:
		return "dorsal"
	default:
		return "left lateral"
	}
}

func stageName(s draw.Stage) string {
	switch s {
	case draw.Outline:
		return "outline"
	case draw.Stipple, draw.Hatching:
		return "tonal study"
	case draw.ColorStudy:
		return "color study"
	case draw.Photograph:
		return "reference photograph"
	default:
		return "final art"
	}
}

func technique(s draw.Stage) string {
	switch s {
	case draw.Outline:
		return "pen and ink"
	case draw.Stipple, draw.FinalInk:
		return "ink stipple"
	case draw.Hatching:
		return "ink hatching"
	case draw.ColorStudy:
		return "pencil and watercolor"
	case draw.Photograph:
		return "photograph"
	default:
		return "watercolor and gouache"
	}
}

// Title names the work as the studio's register does.
func (w Work) Title() string {
	sp, _ := findSpecimen(w.Specimen)
	what := viewName(w)
	switch w.View {
	case draw.Fin:
		what = w.Fin
	case draw.Head:
		what = "head"
	case draw.Scale:
		what = "scales of the flank"
	case draw.Left, draw.Right, draw.Dorsal:
	default:
	}
	return sp.Species + ", " + what + ", " + stageName(w.Stage)
}

// fileName is where the scan lies: names grew over the years, as they do.
func fileName(w Work) string {
	sp, _ := findSpecimen(w.Specimen)
	genus, epithet, _ := strings.Cut(sp.Species, " ")
	ext := map[Format]string{Lineart: ".tif", GrayTIFF: ".tif", ColorTIF: ".tif", Deep: ".tif", LinePNG: ".png", PNG: ".png", JPEG: ".jpg"}[w.Format]
	year, _, _ := strings.Cut(w.Created, "-")
	part := map[draw.View]string{draw.Right: "_right", draw.Dorsal: "_dorsal", draw.Head: "_head", draw.Scale: "_scales", draw.Fin: "_" + strings.ReplaceAll(w.Fin, " ", "-")}[w.View]
	name := strings.ToLower(genus + "_" + epithet)
	switch w.Kind {
	case Reference:
		return "references/" + year + "/" + strings.ReplaceAll(sp.Key, " ", "_") + part + "_" + w.Key + ext
	case Study:
		kind := map[draw.Stage]string{draw.Outline: "outline", draw.Stipple: "tone", draw.Hatching: "tone", draw.ColorStudy: "color"}[w.Stage]
		return "studies/" + name + "/" + w.Key + "_" + kind + part + ext
	default:
		if year < "2017" {
			return "plates/" + year + "/" + genus + " " + epithet + part + " FINAL" + ext
		}
		return "plates/" + year + "/" + w.Key + "_" + name + part + ext
	}
}
