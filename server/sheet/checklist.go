package sheet

import (
	"fmt"

	pb "platarium/proto/platarium/v1"
)

// checklist is the counts to verify before the drawing leaves the table, each with a box to tick.
func (s *sheets) checklist() {
	section := "counts to verify"
	y := s.newPage(section, "")
	y = s.column([]para{
		{text: "Counts to verify", face: "B", size: s.pt(13)},
		{text: "Tick what was counted on the drawing and agrees; write who counted and when.", size: s.pt(8), ink: gray},
	}, margin, y, s.width()) + 2
	rows := s.checkRows()
	s.table(y, section, []tableColumn{{"", 7}, {"structure", 45}, {"expected", 45}, {"after", 85}, {"verified so far", 60}, {"by, on", 31}}, rows)
}

// checkRows has a row for each count expected, in the order of the structures, then those that no structure stands for, and a row for each structure without counts.
func (s *sheets) checkRows() [][]cell {
	var rows [][]cell
	of := map[string]bool{}
	for i, st := range s.job.Plan.GetStructures() {
		of[st.GetStructure()] = true
		name := fmt.Sprintf("%d  %s", i+1, st.GetStructure())
		before := len(rows)
		for _, e := range s.job.Plan.GetExpected() {
			if e.GetStructure() != st.GetStructure() {
				continue
			}
			checked := st.GetChecked()
			if len(rows) > before {
				name, checked = "", nil
			}
			rows = append(rows, s.checkRow(name, e, checked))
		}
		if len(rows) == before {
			rows = append(rows, s.checkRow(name, nil, st.GetChecked()))
		}
	}
	for _, e := range s.job.Plan.GetExpected() {
		if !of[e.GetStructure()] {
			rows = append(rows, s.checkRow(e.GetStructure(), e, nil))
		}
	}
	return rows
}

func (s *sheets) checkRow(name string, e *pb.ExpectedCount, checked []string) []cell {
	small := s.pt(8)
	row := []cell{{{text: " ", size: s.pt(9), box: true}}, {{text: name, face: "B", size: small}}, {{text: e.GetText(), size: small}}, {{text: e.GetSource(), size: s.pt(7.5)}}, nil, {{text: ".......................", size: small, ink: gray}}}
	if e == nil {
		row[2] = cell{{text: "no count expected; form and place", size: s.pt(7.5), ink: gray}}
	}
	if e.GetFromRelative() {
		row[3] = append(row[3], para{text: "of a relative: a hint only", size: s.pt(7), ink: alert})
	}
	for _, c := range checked {
		row[4] = append(row[4], para{text: c, size: s.pt(7.5)})
	}
	return row
}
