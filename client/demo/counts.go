package demo

import (
	"strconv"
	"strings"

	"platarium/client/demo/draw"
)

// labels are the usual short names of fins in count formulae.
func labels() map[string]string {
	return map[string]string{dorsalFin: "D", dorsal1: "D1", dorsal2: "D2", dorsal3: "D3", analFin: "A", anal1: "A1", anal2: "A2",
		pectoral: "P", pelvic: "V", caudal: "C"}
}

// Shown lists the fins whose counts the work shows in full: whole or restored
// fins of its view.
func (w Work) Shown() []Element {
	sp, ok := findSpecimen(w.Specimen)
	if !ok {
		return nil
	}
	d := w.damage(sp)
	var out []Element
	for _, e := range sp.Counts {
		torn := contains(d.Hidden, e.Fin)
		for _, t := range d.Torn {
			torn = torn || t.Fin == e.Fin
		}
		visible := w.View == draw.Left || w.View == draw.Right || (w.View == draw.Fin && e.Fin == w.Fin) ||
			(w.View == draw.Dorsal && (e.Fin == pectoral || strings.HasSuffix(e.Fin, dorsalFin)))
		if visible && !torn {
			out = append(out, e)
		}
	}
	return out
}

// Formula writes the counts that a work shows. Styles: 0 as in most keys, "D1
// VI; D2 I,12; A I,11"; 1 with both dorsal fins in one statement, "D VI-I,12. A
// I,11."; 2 the older slash, "D. 10/11; A. 3/7".
func (w Work) Formula() string {
	es := w.Shown()
	var out []string
	for i := 0; i < len(es); i++ {
		e := es[i]
		label := labels()[e.Fin]
		text := e.text(w.Style)
		if w.Style == 1 && e.Fin == dorsal1 && e.Spines > 0 && i+1 < len(es) && es[i+1].Spines > 0 {
			label, text = "D", text+"-"+es[i+1].text(w.Style)
			i++
		}
		switch w.Style {
		case 2:
			out = append(out, label+". "+text)
		default:
			out = append(out, label+" "+text)
		}
	}
	sp, ok := findSpecimen(w.Specimen)
	if ok && w.View <= draw.Right && sp.LateralLine > 0 && len(out) > 0 {
		out = append(out, "LL "+strconv.Itoa(sp.LateralLine))
	}
	return strings.Join(out, "; ")
}

// text writes one fin: upper-case Roman spines, lower-case Roman unbranched
// rays, Arabic soft rays.
func (e Element) text(style int) string {
	var parts []string
	switch {
	case e.Spines > 0 && style == 2:
		return strconv.Itoa(e.Spines) + "/" + strconv.Itoa(e.Rays)
	case e.Spines > 0:
		parts = append(parts, roman(e.Spines))
	}
	if e.Unbranched > 0 {
		parts = append(parts, strings.ToLower(roman(e.Unbranched)))
	}
	if e.Rays > 0 {
		parts = append(parts, strconv.Itoa(e.Rays))
	}
	return strings.Join(parts, ",")
}

func roman(n int) string {
	var b strings.Builder
	for _, d := range []struct {
		v int
		s string
	}{{40, "XL"}, {10, "X"}, {9, "IX"}, {5, "V"}, {4, "IV"}, {1, "I"}} {
		for n >= d.v {
			b.WriteString(d.s)
			n -= d.v
		}
	}
	return b.String()
}

// AllKeywords are the work's own keywords with family and vernacular name.
func (w Work) AllKeywords() []string {
	sp, _ := findSpecimen(w.Specimen)
	var ks []string
	for _, s := range AllSpecies() {
		if s.Name != sp.Species {
			continue
		}
		ks = append(ks, s.Family)
		if s.Vernacular != "" {
			ks = append(ks, s.Vernacular)
		}
	}
	return append(ks, w.Keywords...)
}
