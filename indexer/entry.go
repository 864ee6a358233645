package indexer

import (
	"hash/fnv"
	"io"
	"slices"
	"strconv"
	"strings"

	"platarium/indexer/meristic"
	"platarium/indexer/rank"
	"platarium/indexer/taxon"
	pb "platarium/proto/platarium/v1"
)

// taxaPrefix makes a resource name of a taxon's id.
const taxaPrefix = "taxa/"

// text names a field whose words are searched.
type text int

const (
	textName     text = iota // scientific name in use and as identified, with authorship
	textTitle                //
	textNames                // synonyms and vernaculars
	textKeywords             //
	textJob                  //
	textHigher               // genus, family and so on, with their vernaculars
	textAbout                // structures, technique, creators, view, stage, kind
	textSpecimen             // institution, catalog number, locality and remarks
	textNotes                //
	textCount
)

// entry is a picture as the index knows it.
type entry struct {
	row
	texts [textCount][]string
}

// derive makes the entry of a picture from what the source says now, without the
// digest.
func derive(p *pb.Picture, src Source) *entry {
	e := &entry{row: row{name: p.GetName()}}
	if t := p.GetCreateTime(); t != nil {
		e.created = t.AsTime().UnixNano()
	}
	e.taxon(p.GetIdentification(), src.Taxa())
	specimen, _ := src.Specimen(p.GetSpecimen())
	e.cells[cellKind] = enum(int32(p.GetKind()))
	e.cells[cellView] = enum(int32(p.GetView()))
	e.cells[cellStage] = enum(int32(p.GetStage()))
	e.cells[cellTechnique] = clean(p.GetTechnique())
	e.cells[cellCreators] = list(p.GetCreators())
	e.cells[cellMade] = clean(p.GetCreated())
	e.cells[cellCounts] = writeCounts(counts(p.GetCounts(), specimen.GetCounts()))
	e.cells[cellStructures] = writeStructures(structures(p.GetStructures()))
	e.cells[cellSpecimen] = clean(p.GetSpecimen())
	e.cells[cellJob] = clean(p.GetJob())
	e.cells[cellEdge] = enum(max(p.GetOriginal().GetWidth(), p.GetOriginal().GetHeight()))

	e.texts[textTitle] = words(p.GetTitle())
	e.texts[textKeywords] = words(p.GetKeywords()...)
	e.texts[textJob] = words(p.GetJob())
	e.texts[textNotes] = words(p.GetNotes())
	e.texts[textSpecimen] = words(specimen.GetInstitution()+" "+specimen.GetCatalogNumber(), specimen.GetLocality(),
		specimen.GetTypeStatus(), specimen.GetSex(), specimen.GetLifeStage(), specimen.GetDamage(),
		specimen.GetCollectedBy(), specimen.GetNotes())
	e.about(p)
	return e
}

// taxon fills in what the identification says by today's classification.
func (e *entry) taxon(id *pb.Identification, taxa *taxon.Classification) {
	written := strings.TrimSpace(id.GetScientificName())
	t, known := taxa.Accepted(strings.TrimPrefix(id.GetTaxon(), taxaPrefix))
	if !known {
		e.cells[cellLabel] = clean(written)
		e.texts[textName] = words(written)
		return
	}
	e.cells[cellLabel] = clean(t.Name)
	lineage := lineage(taxa, t.ID)
	e.cells[cellLineage] = writeLineage(lineage)
	e.texts[textName] = words(t.Name + " " + t.Authorship)
	if !strings.HasPrefix(written, t.Name) {
		e.texts[textName] = append(e.texts[textName], words(written)...)
	}
	others := taxa.Synonyms(t.ID)
	ids := make([]string, 0, len(others)+1)
	for _, s := range others {
		ids = append(ids, taxaPrefix+s.ID)
		e.names(s, s.Name+" "+s.Authorship)
	}
	if id.GetTaxon() != taxaPrefix+t.ID {
		ids = append(ids, id.GetTaxon())
	}
	slices.Sort(ids)
	e.cells[cellSynonyms] = list(slices.Compact(ids))
	e.names(t, "")
	// A base name that the studio changed goes on being a name.
	if base, ok := taxa.Base().Taxon(t.ID); ok && base.Name != t.Name {
		e.names(base, base.Name+" "+base.Authorship)
	}
	for _, step := range lineage[:len(lineage)-1] {
		if step.Rank != taxon.Class && step.Rank < taxon.Superorder {
			continue // hardly anyone looks for fishes by these, and every picture would have them
		}
		above, _ := taxa.Taxon(strings.TrimPrefix(step.ID, taxaPrefix))
		e.texts[textHigher] = append(e.texts[textHigher], words(above.Name)...)
		for _, v := range above.Vernaculars {
			e.texts[textHigher] = append(e.texts[textHigher], words(v.Name)...)
		}
	}
}

// names adds the further names that a taxon's record lists.
func (e *entry) names(t taxon.Taxon, own string) {
	e.texts[textNames] = append(e.texts[textNames], words(own)...)
	e.texts[textNames] = append(e.texts[textNames], words(t.Synonyms...)...)
	for _, v := range t.Vernaculars {
		e.texts[textNames] = append(e.texts[textNames], words(v.Name)...)
	}
}

// lineage lists the taxa from the root down to a taxon, by resource name.
func lineage(taxa *taxon.Classification, id string) []rank.Taxon {
	steps := taxa.Ancestry(id)
	out := make([]rank.Taxon, len(steps))
	for i, s := range steps {
		out[len(steps)-1-i] = rank.Taxon{ID: taxaPrefix + s.ID, Name: s.Name, Rank: s.Rank}
	}
	return out
}

func (e *entry) about(p *pb.Picture) {
	about := []string{p.GetTechnique()}
	for _, s := range p.GetStructures() {
		about = append(about, s.GetStructure())
	}
	about = append(about, p.GetCreators()...)
	about = append(about, rank.View(p.GetView()).String(), rank.Stage(p.GetStage()).String(), rank.Kind(p.GetKind()).String())
	e.texts[textAbout] = words(about...)
}

// sum digests the whole entry but for the commit that changed it.
func (e *entry) sum() uint64 {
	h := fnv.New64a()
	// A hash never fails to be written to.
	_, _ = io.WriteString(h, strconv.FormatInt(e.created, 10))
	for _, c := range e.cells {
		_, _ = io.WriteString(h, itemSep+c)
	}
	for _, t := range e.texts {
		_, _ = io.WriteString(h, partSep)
		for _, s := range t {
			_, _ = io.WriteString(h, itemSep+s)
		}
	}
	return h.Sum64()
}

// counts are those of the picture, and of its specimen where the picture is silent.
func counts(shown, measured *pb.Counts) []rank.Count {
	var out []rank.Count
	for _, set := range [][]*pb.Count{shown.GetParsed(), measured.GetParsed()} {
		have := len(out)
		for _, c := range set {
			ch, known := meristic.CharacterByCode(c.GetCharacter())
			el, ok := meristic.ElementByCode(c.GetElement())
			if !known || !ok || c.GetMin() > c.GetMax() {
				continue
			}
			if !slices.ContainsFunc(out[:have], func(o rank.Count) bool { return o.Character == ch && o.Element == el }) {
				out = append(out, rank.Count{Character: ch, Element: el, Interval: meristic.Range(c.GetMin(), c.GetMax())})
			}
		}
	}
	return out
}

func structures(shown []*pb.Structure) []rank.Structure {
	out := make([]rank.Structure, 0, len(shown))
	for _, s := range shown {
		if name := structureName(s.GetStructure()); name != "" {
			out = append(out, rank.Structure{Name: name, Completeness: rank.Completeness(s.GetCompleteness())})
		}
	}
	return out
}

// structureName is the form in which names of structures are compared.
func structureName(s string) string {
	return strings.Join(strings.Fields(strings.ToLower(clean(s))), " ")
}

// enum writes a number of the contract, nothing for "not stated".
func enum(n int32) string {
	if n == 0 {
		return ""
	}
	return strconv.Itoa(int(n))
}

func list(values []string) string {
	var out []string
	for _, v := range values {
		if v = strings.TrimSpace(clean(v)); v != "" {
			out = append(out, v)
		}
	}
	return strings.Join(out, itemSep)
}

// words keeps the values that hold anything.
func words(values ...string) []string {
	var out []string
	for _, v := range values {
		if v = strings.TrimSpace(v); v != "" {
			out = append(out, v)
		}
	}
	return out
}
