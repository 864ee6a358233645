package indexer

import (
	"strconv"
	"strings"

	"platarium/indexer/rank"
)

// cell names one value of a picture's row. Cells are strings in the index and
// dictionary codes in memory.
type cell int

const (
	cellLineage    cell = iota // taxa from the root down
	cellLabel                  // accepted scientific name, by which hits are ordered
	cellKind                   // number of the contract
	cellView                   // number of the contract
	cellStage                  // number of the contract
	cellTechnique              // in words
	cellCreators               // list
	cellMade                   // date as written
	cellCounts                 // intervals shown
	cellStructures             // structures with completeness
	cellSpecimen               // resource name
	cellJob                    // in words
	cellSynonyms               // resource names of the taxon's synonyms
	cellEdge                   // long edge in pixels
	cellCount
)

// column holds one cell of every picture as a code into the distinct values,
// each read into T once. Code 0 is the empty cell.
type column[T any] struct {
	codes []uint32
	keys  map[string]uint32
	texts []string
	vals  []T
	read  func(string) T
}

func newColumn[T any](read func(string) T) *column[T] {
	c := &column[T]{keys: map[string]uint32{}, read: read}
	c.code("")
	return c
}

// code is the code of a cell, a new one if it was never met.
func (c *column[T]) code(text string) uint32 {
	if k, ok := c.keys[text]; ok {
		return k
	}
	k := uint32(len(c.vals))
	text = strings.Clone(text) // it may share memory with a whole row
	c.keys[text] = k
	c.texts = append(c.texts, text)
	c.vals = append(c.vals, c.read(text))
	return k
}

func (c *column[T]) set(ord uint32, text string) {
	for int(ord) >= len(c.codes) {
		c.codes = append(c.codes, 0)
	}
	c.codes[ord] = c.code(text)
}

func (c *column[T]) at(ord uint32) T { return c.vals[c.codes[ord]] }

// dated is a date of making: days as YYYYMMDD, both 0 if it can't be read.
type dated struct {
	from, to int32
	year     string // as the facet shows it
}

// columns are the rows of all pictures, by ordinal. An ordinal is given once and
// names one picture until the index is built again. The writer changes them
// under the lock of the index; searches read them under its read lock.
type columns struct {
	byName  map[string]uint32
	names   []string
	live    []bool
	count   int      // live pictures
	created []int64  // Unix nanoseconds
	changed []int64  // commit that last changed the document, 0 if it was so when the index was built
	digest  []uint64 // of the whole document

	lineage    *column[[]rank.Taxon]
	label      *column[string]
	kind       *column[rank.Kind]
	view       *column[rank.View]
	stage      *column[rank.Stage]
	technique  *column[string]
	creators   *column[[]string]
	made       *column[dated]
	counts     *countColumns
	structures *structureSets
	specimen   *column[string]
	job        *column[string]
	synonyms   *column[[]string]
	edge       *column[int]

	// set holds the columns by cell.
	set [cellCount]func(ord uint32, text string)

	standing standingCache
}

func newColumns() *columns {
	same := func(s string) string { return s }
	c := &columns{
		byName:     map[string]uint32{},
		lineage:    newColumn(readLineage),
		label:      newColumn(same),
		kind:       newColumn(func(s string) rank.Kind { return rank.Kind(number(s)) }),
		view:       newColumn(func(s string) rank.View { return rank.View(number(s)) }),
		stage:      newColumn(func(s string) rank.Stage { return rank.Stage(number(s)) }),
		technique:  newColumn(same),
		creators:   newColumn(readList),
		made:       newColumn(readDate),
		counts:     newCountColumns(),
		structures: newStructureSets(),
		specimen:   newColumn(same),
		job:        newColumn(same),
		synonyms:   newColumn(readList),
		edge:       newColumn(number),
	}
	c.set = [cellCount]func(uint32, string){
		cellLineage: c.lineage.set, cellLabel: c.label.set, cellKind: c.kind.set, cellView: c.view.set,
		cellStage: c.stage.set, cellTechnique: c.technique.set, cellCreators: c.creators.set, cellMade: c.made.set,
		cellCounts: c.counts.set, cellStructures: c.structures.set, cellSpecimen: c.specimen.set, cellJob: c.job.set,
		cellSynonyms: c.synonyms.set, cellEdge: c.edge.set,
	}
	return c
}

// put writes a row.
func (c *columns) put(ord uint32, r *row) {
	for int(ord) >= len(c.names) {
		c.names = append(c.names, "")
		c.live = append(c.live, false)
		c.created = append(c.created, 0)
		c.changed = append(c.changed, 0)
		c.digest = append(c.digest, 0)
	}
	if !c.live[ord] {
		c.count++
	}
	name := strings.Clone(r.name)
	c.byName[name] = ord
	c.names[ord], c.live[ord] = name, true
	c.created[ord], c.changed[ord], c.digest[ord] = r.created, r.changed, r.digest
	for i := range c.set {
		c.set[i](ord, r.cells[i])
	}
}

// drop forgets a picture; its ordinal stays empty.
func (c *columns) drop(ord uint32) {
	if !c.live[ord] {
		return
	}
	delete(c.byName, c.names[ord])
	c.live[ord] = false
	c.count--
}

// picture is what rank weighs.
func (c *columns) picture(ord uint32) rank.Picture {
	return rank.Picture{
		Lineage: c.lineage.at(ord), Counts: c.counts.at(ord), Structures: c.structures.at(ord), View: c.view.at(ord),
		Stage: c.stage.at(ord), Kind: c.kind.at(ord), LongEdge: c.edge.at(ord),
	}
}

// number reads a decimal, 0 where there is none.
func number(s string) int {
	n, err := strconv.Atoi(s)
	if err != nil {
		return 0
	}
	return n
}

// dependents are the pictures whose documents were made from one of these taxa
// or specimens.
func (c *columns) dependents(changed map[string]bool) []string {
	lineage := marks(c.lineage, func(l []rank.Taxon) bool {
		for _, t := range l {
			if changed[t.ID] {
				return true
			}
		}
		return false
	})
	synonyms := marks(c.synonyms, func(ids []string) bool {
		for _, id := range ids {
			if changed[id] {
				return true
			}
		}
		return false
	})
	specimen := marks(c.specimen, func(id string) bool { return changed[id] })
	var out []string
	for ord, live := range c.live {
		if live && (lineage[c.lineage.codes[ord]] || synonyms[c.synonyms.codes[ord]] || specimen[c.specimen.codes[ord]]) {
			out = append(out, c.names[ord])
		}
	}
	return out
}

// marks tells for each distinct value whether it holds.
func marks[T any](c *column[T], holds func(T) bool) []bool {
	m := make([]bool, len(c.vals))
	for i, v := range c.vals {
		m[i] = holds(v)
	}
	return m
}
