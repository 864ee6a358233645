package indexer

import (
	"encoding/binary"
	"math"
	"strconv"
	"strings"

	"github.com/blevesearch/bleve/v2/document"
	index "github.com/blevesearch/bleve_index_api"
)

const (
	// fieldRow stores the row from which the columns are read back.
	fieldRow = "row"
	// fieldConditions holds one term for each condition that a picture fits. The
	// columns answer conditions; these terms are what they are checked against.
	fieldConditions = "conditions"
	// maxInterval bounds the terms of one count; wider ones are given by their ends.
	maxInterval = 400
)

// textFields are the names of the searched fields in the index.
var textFields = [textCount]string{
	textName: "name", textTitle: "title", textNames: "names", textKeywords: "keywords", textJob: "job",
	textHigher: "higher", textAbout: "about", textSpecimen: "specimen", textNotes: "notes",
}

// docID is the id of a document in bleve: its ordinal in four bytes.
func docID(ord uint32) string {
	return string(binary.BigEndian.AppendUint32(nil, ord))
}

// ordinal reads what docID wrote.
func ordinal(id []byte) (uint32, bool) {
	if len(id) != 4 {
		return 0, false
	}
	return binary.BigEndian.Uint32(id), true
}

// document is the entry as bleve takes it.
func (e *entry) document(ord uint32) *document.Document {
	doc := document.NewDocument(docID(ord))
	for f, values := range e.texts {
		for i, v := range values {
			var at []uint64
			if len(values) > 1 {
				at = []uint64{uint64(i)} // keeps phrases from running on into the next value
			}
			doc.AddField(document.NewTextFieldCustom(textFields[f], at, []byte(v), index.IndexField|index.IncludeTermVectors, analyzer{}))
		}
	}
	conditions := strings.Join(e.conditions(), itemSep)
	doc.AddField(document.NewTextFieldCustom(fieldConditions, nil, []byte(conditions), index.IndexField|index.SkipFreqNorm, listAnalyzer{}))
	doc.AddField(document.NewTextFieldCustom(fieldRow, nil, e.row.append(nil), index.StoreField, nil))
	return doc
}

// conditions are the terms of fieldConditions.
func (e *entry) conditions() []string {
	var out []string
	for _, t := range readLineage(e.cells[cellLineage]) {
		out = append(out, "taxon:"+t.ID)
	}
	for cell, prefix := range map[cell]string{
		cellKind: "kind:", cellView: "view:", cellStage: "stage:", cellTechnique: "technique:",
		cellSpecimen: "specimen:", cellJob: "job:",
	} {
		if v := e.cells[cell]; v != "" {
			out = append(out, prefix+v)
		}
	}
	for _, c := range readList(e.cells[cellCreators]) {
		out = append(out, "creator:"+c)
	}
	for _, s := range readStructures(e.cells[cellStructures]) {
		out = append(out, "structure:"+s.Name, "structure:"+s.Name+"="+s.Completeness.String())
	}
	for _, c := range readCounts(e.cells[cellCounts]) {
		prefix := "count:" + c.Character.String() + "." + c.Element.String() + ":"
		for _, n := range countTerms(c.Min, c.Max) {
			out = append(out, prefix+strconv.FormatFloat(n, 'f', -1, 64))
		}
	}
	if d := readDate(e.cells[cellMade]); d.from != 0 {
		for y := d.from / 10000; y <= d.to/10000; y++ {
			out = append(out, "year:"+strconv.Itoa(int(y)))
		}
	}
	return out
}

// countTerms are the values that stand for an interval: its whole numbers, and
// its ends where they are halves. Intervals overlap if they share one, unless
// one of them is a half alone.
func countTerms(lo, hi float64) []float64 {
	hi = min(hi, lo+maxInterval)
	var out []float64
	if lo != math.Trunc(lo) {
		out = append(out, lo)
	}
	for n := math.Ceil(lo); n <= hi; n++ {
		out = append(out, n)
	}
	if hi != math.Trunc(hi) && hi != lo {
		out = append(out, hi)
	}
	return out
}
