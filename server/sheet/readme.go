package sheet

import (
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"
)

// readme says what is in the zip: plain text in columns, lines ended as every system's editors take them.
func (c Crops) readme(all []*piece, names []string, ppi float64, out []left) string {
	m, stated := c.magnification()
	scale := "printed size, " + times(m)
	if !stated {
		scale = "natural size, since no size in print is known"
	}
	var b strings.Builder
	line := func(format string, args ...any) { fmt.Fprintf(&b, format+"\r\n", args...) }
	line("%s", clean(joined(" - ", c.Plan.GetTitle(), c.Plan.GetAcceptedName())))
	line("%s", clean(joined(", ", c.Plan.GetBrief(), fmt.Sprintf("plan at commit %d", c.Plan.GetSequence()), c.Made.Format("2 January 2006"))))
	line("")
	line("All crops are at %s: %s pixels per inch, %s pixels to a mm of animal.", scale, figure(ppi, 4), figure(ppi/mmPerInch*m, 5))
	line("They open at one size in a program that reads the resolution, and at one scale in any other.")
	line("%s", caution)
	line("")
	rows := [][]string{{"file", "structure", "picture", "name", "mm in print", "ppi of original", "remarks"}}
	var more []string
	for i, p := range all {
		if p.file == "" {
			continue
		}
		w, h := p.size()
		cand := p.candidate
		rows = append(rows, []string{names[i], p.structure, cand.GetPicture().GetName(), cand.GetAcceptedName(), figure(w, 4) + " x " + figure(h, 4), figure(p.effectivePPI(), 3), mirrored(cand)})
		for _, t := range slices.Concat(prefixed("don't copy: ", cand.GetDifferences()), prefixed("damage: ", []string{cand.GetDamage()}), prefixed("rights: ", []string{cand.GetRights()}), cand.GetWarnings()) {
			more = append(more, names[i]+": "+t)
		}
	}
	for _, l := range aligned(rows) {
		line("%s", l)
	}
	section := func(head string, lines []string) {
		if len(lines) > 0 {
			line("")
			line("%s", head)
			for _, l := range lines {
				line("  %s", clean(l))
			}
		}
	}
	section("Mind", more)
	var lacking []string
	for _, l := range out {
		lacking = append(lacking, l.structure+": "+l.picture+": "+l.why)
	}
	section("Left out", lacking)
	return b.String()
}

func prefixed(label string, lines []string) []string {
	var out []string
	for _, l := range lines {
		if l != "" {
			out = append(out, label+l)
		}
	}
	return out
}

// aligned sets rows in columns with two spaces between.
func aligned(rows [][]string) []string {
	width := map[int]int{}
	for _, r := range rows {
		for i, c := range r {
			width[i] = max(width[i], utf8.RuneCountInString(clean(c)))
		}
	}
	out := make([]string, len(rows))
	for n, r := range rows {
		var b strings.Builder
		for i, c := range r {
			c = clean(c)
			b.WriteString(c + strings.Repeat(" ", width[i]-utf8.RuneCountInString(c)+2))
		}
		out[n] = strings.TrimRight(b.String(), " ")
	}
	return out
}
