package taxaimport

import (
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"platarium/indexer/meristic"
)

// counts is the formula of one row, and what of the row is no count.
type counts struct {
	soft       bool // capital numerals are unbranched rays
	cell       func(string) string
	statements []meristic.Statement
	notes      []string // go to the provenance
	remarks    []string // for the person who imports
	fault      *Fault
}

// formulaOf builds the canonical formula of a row. A cell that can't be meant is the row's fault.
func formulaOf(cell func(string) string, softRayed bool) *counts {
	c := &counts{soft: softRayed, cell: cell}
	c.dorsal()
	c.anal()
	c.add("pectoral", "P", c.value("pectoral"))
	c.add("pelvic", "V", c.value("pelvic"))
	c.scales()
	c.parts("GR", "gr_upper", "upper", "gr_lower", "lower", "gr_total")
	c.parts("Vert", "vert_precaudal", "abdominal", "vert_caudal", "caudal", "vert_total")
	c.other()
	c.together()
	return c
}

// together makes sure that the formula can be read again as the archive will read it: cells that are sound by themselves may contradict each other.
func (c *counts) together() {
	if c.fault != nil || len(c.statements) == 0 {
		return
	}
	if r, err := meristic.Parse(c.formula(), meristic.Options{}); err != nil || meristic.Print(r.Statements) != c.formula() {
		c.fault = &Fault{Reason: fmt.Sprintf("the counts can't be meant together: %s", c.formula())}
	}
}

func (c *counts) formula() string { return meristic.Print(c.statements) }

// aside matches words in brackets and what follows them: "12-14 (eyed side), absent (blind side)".
var aside = regexp.MustCompile(`\s*\([^()]*\pL[^()]*\).*$`)

// value is a cell without what is said aside, which becomes a note.
func (c *counts) value(column string) string {
	s := c.cell(column)
	if words := aside.FindString(s); words != "" {
		c.notes = append(c.notes, column+" "+s)
		s = strings.TrimSuffix(s, words)
	}
	if s == "?" || s == "-" {
		return ""
	}
	return s
}

// add reads one piece of the formula, which came from a column.
func (c *counts) add(column, label, text string) {
	if text == "" || c.fault != nil {
		return
	}
	r, err := meristic.Parse(label+" "+text, meristic.Options{SoftRayed: c.soft})
	if err != nil || len(r.Statements) == 0 {
		c.fault = &Fault{Column: column, Found: c.cell(column), Wanted: "counts as in a formula, such as 13-14 or ii,8"}
		var wrong *meristic.Error
		if errors.As(err, &wrong) {
			c.fault.Wanted += " (" + wrong.Faults[0].Want + ")"
		}
		return
	}
	for _, w := range r.Warnings {
		c.remarks = append(c.remarks, fmt.Sprintf("column %s: %s", column, w.Text))
	}
	c.statements = append(c.statements, r.Statements...)
}

var figures = regexp.MustCompile(`\d+`)

// spines writes figures as the numerals that mean spines.
func spines(s string) string {
	return figures.ReplaceAllStringFunc(s, func(n string) string {
		i, err := strconv.Atoi(n)
		if err != nil || i < 1 || i > 99 {
			return n
		}
		return roman(i)
	})
}

func roman(n int) string {
	tens := [...]string{"", "X", "XX", "XXX", "XL", "L", "LX", "LXX", "LXXX", "XC"}
	ones := [...]string{"", "I", "II", "III", "IV", "V", "VI", "VII", "VIII", "IX"}
	return tens[n/10] + ones[n%10]
}

// fin joins spines and rays.
func fin(spines, rays string) string {
	if spines == "" || rays == "" {
		return spines + rays
	}
	return spines + "," + rays
}

func withFinlets(text, finlets string) string {
	if finlets == "" {
		return text
	}
	return strings.TrimPrefix(text+"+", "+") + finlets + " finlets"
}

func (c *counts) dorsal() {
	first, second, rays, third := spines(c.value("d1_spines")), spines(c.value("d2_spines")), c.value("d_rays"), c.value("d3_rays")
	finlets := c.value("finlets_dorsal")
	column := "d_rays"
	if rays == "" {
		column = "d1_spines"
	}
	switch {
	case first == "" && second == "" && rays == "" && finlets != "":
		c.notes = append(c.notes, "dorsal finlets "+finlets)
	case second != "":
		c.add("d1_spines", "D1", first)
		c.add(column, "D2", withFinlets(fin(second, rays), finlets))
	case first != "" && rays != "" && finlets != "": // finlets follow a second fin; common practice, no source
		c.add("d1_spines", "D1", first)
		c.add(column, "D2", withFinlets(rays, finlets))
	case third != "" && !strings.Contains(rays, "+"), strings.Contains(c.cell("d_rays"), "first"):
		c.add(column, "D1", fin(first, rays))
	case first == "" && strings.Count(rays, "+") > 0 && !strings.ContainsAny(rays, "abcdefgh"):
		for i, part := range strings.Split(rays, "+") {
			c.add(column, fmt.Sprintf("D%d", i+1), part)
		}
	default:
		c.add(column, "D", withFinlets(fin(first, rays), finlets))
	}
	c.add("d3_rays", "D3", third)
}

func (c *counts) anal() {
	stiff, rays, second, finlets := spines(c.value("a_spines")), c.value("a_rays"), c.value("a2_rays"), c.value("finlets_anal")
	column := "a_rays"
	if rays == "" {
		column = "a_spines"
	}
	switch {
	case stiff == "" && rays == "" && finlets != "":
		c.notes = append(c.notes, "anal finlets "+finlets)
	case second != "":
		c.add(column, "A1", fin(stiff, rays))
		c.add("a2_rays", "A2", withFinlets(second, finlets))
	default:
		c.add(column, "A", withFinlets(fin(stiff, rays), finlets))
	}
}

// scales names the series by its kind.
func (c *counts) scales() {
	kind := strings.ToLower(strings.TrimSpace(c.cell("ll_kind")))
	label := "LL"
	switch {
	case strings.HasPrefix(kind, "pored"), strings.HasPrefix(kind, "tubed"), strings.HasPrefix(kind, "perforated"):
		label = "LLp"
	case strings.HasPrefix(kind, "lateral series"), strings.HasPrefix(kind, "midlateral"), strings.HasPrefix(kind, "longitudinal"):
		label = "LS"
	case kind != "":
		c.notes = append(c.notes, "lateral line: "+kind)
	}
	c.add("ll_scales", label, c.value("ll_scales"))
}

// parts joins the parts of a sum with their total, each of which may be missing.
func (c *counts) parts(label, firstColumn, firstWord, secondColumn, secondWord, totalColumn string) {
	first, second, total := c.value(firstColumn), c.value(secondColumn), c.value(totalColumn)
	switch {
	case first != "" && second != "" && total != "":
		c.add(firstColumn, label, first+"+"+second+"="+total)
	case first != "" && second != "":
		c.add(firstColumn, label, first+"+"+second)
	case first == "" && second == "":
		c.add(totalColumn, label, total)
	default:
		column, text := firstColumn, first+" "+firstWord
		if first == "" {
			column, text = secondColumn, second+" "+secondWord
		}
		if total != "" {
			text += ", " + total + " altogether"
		}
		c.add(column, label, text)
	}
}

var (
	// labelled matches a count with words before it, and nothing behind but what belongs to it.
	labelled = regexp.MustCompile(`^\pL[\pL .]*?[:. ]\s*[~>≥]?[0-9ivx][0-9ivx½.,+/~>– -]*( principal| above| below|, \d[0-9½.-]* below)*$`)
	// furtherCounts may stand in the column of other counts; the rest have columns of their own.
	furtherCounts = []meristic.Character{
		meristic.Branchiostegals, meristic.PyloricCaeca, meristic.PredorsalScales, meristic.PeduncleScales, meristic.Caudal, meristic.CaudalProcurrent,
		meristic.TransverseScales, meristic.TransverseRow, meristic.OpercleRows, meristic.CheekRows, meristic.DorsalScutes, meristic.LateralScutes,
		meristic.VentralScutes, meristic.PharyngealTeeth,
	}
	// rowsAlong are scales along the body counted above or below the lateral line, which no character holds; they look like transverse scales.
	rowsAlong = regexp.MustCompile(`(?i)scale rows`)
)

// other takes what is plainly a count from the column of other counts; all else is a note.
func (c *counts) other() {
	for part := range strings.SplitSeq(c.cell(colOther), ";") {
		if part = strings.TrimSpace(part); part == "" {
			continue
		}
		if !c.further(part) {
			c.notes = append(c.notes, part)
		}
	}
}

func (c *counts) further(part string) bool {
	if !labelled.MatchString(part) || rowsAlong.MatchString(part) {
		return false
	}
	r, err := meristic.Parse(part, meristic.Options{Strict: true})
	if err != nil || len(r.Warnings)+len(r.Alternatives) > 0 {
		return false
	}
	for _, s := range r.Statements {
		stated := slices.ContainsFunc(c.statements, func(t meristic.Statement) bool { return t.Character == s.Character })
		if stated || !slices.Contains(furtherCounts, s.Character) {
			return false
		}
	}
	c.statements = append(c.statements, r.Statements...)
	return true
}
