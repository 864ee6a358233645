package manifest

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path"
	"slices"
	"strings"

	"platarium/client"
	pb "platarium/proto/platarium/v1"
)

// DraftOptions say of what a first manifest is written.
type DraftOptions struct {
	Folder string
	// Year is the latest year that a number in a name can mean.
	Year int
}

// LeftOut is a file that isn't in a draft, and why.
type LeftOut struct {
	File string `json:"file"`
	Why  string `json:"why"`
}

// Drafted is a first manifest of a folder.
type Drafted struct {
	Rows    int
	Doubts  int // rows that a person must settle something in
	LeftOut []LeftOut

	table [][]string
}

// draftColumns are the columns of a draft; doubts stand first, to be seen.
func draftColumns() []string {
	return []string{"doubts", "file", "kind", "title", "scientific_name", "view", "stage", "technique", "structures", "creator", "created", "rights_holder", "credit", "derived_from", "keywords", "notes"}
}

// found is one picture of a folder on its way into the draft.
type found struct {
	file    string
	size    int64
	hints   hints
	own     []token   // of the file's name
	folders [][]token // of the folders above it, the nearest first
	meta    embedded
	format  string
	name    string // scientific name
}

// Draft reads a folder and guesses what can be guessed: from names of files and folders, from what files say about themselves, and from the species that the
// archive knows. What is doubtful is marked in the column doubts, and goes in only when a person has settled it. With a nil client names aren't looked up.
func Draft(ctx context.Context, c *client.Client, opts DraftOptions) (*Drafted, error) {
	f, err := openFolder(opts.Folder)
	if err != nil {
		return nil, err
	}
	d := &drafter{folder: f, words: newDictionary(), year: opts.Year, out: &Drafted{}}
	err = d.walk(ctx)
	if err == nil {
		err = d.names(ctx, c)
	}
	if err == nil {
		d.sameSize(ctx)
		err = ctx.Err()
	}
	if err = errors.Join(err, f.close()); err != nil {
		return nil, err
	}
	d.out.table = [][]string{draftColumns()}
	for i := range d.found {
		row := d.found[i].row()
		if row[0] != "" {
			d.out.Doubts++
		}
		d.out.table = append(d.out.table, row)
	}
	d.out.Rows = len(d.found)
	return d.out, nil
}

// String says how much of a draft is to be settled.
func (d *Drafted) String() string {
	return fmt.Sprintf("%s; something is to be settled in %d", plural(d.Rows, "picture"), d.Doubts)
}

// Write writes the draft as CSV.
func (d *Drafted) Write(w io.Writer) error {
	data, err := encodeTable(d.table)
	if err != nil {
		return err
	}
	_, err = w.Write(data)
	return err
}

type drafter struct {
	folder *folder
	words  *dictionary
	year   int
	found  []found
	out    *Drafted
}

// guess reads the names of the file and of the folders above it, the nearest first.
func (d *drafter) guess(f *found) {
	dir, base := path.Split(f.file)
	stem := strings.TrimSuffix(base, path.Ext(base))
	f.own = tokens(stem)
	f.hints.created = dateIn(stem, d.year, &f.hints)
	d.words.read(f.own, &f.hints)
	if copyMark.MatchString(stem) {
		f.hints.doubt("the name looks like another version of the same picture")
	}
	elements := strings.Split(strings.TrimSuffix(dir, "/"), "/")
	for _, element := range slices.Backward(elements) {
		list := tokens(element)
		var above hints
		d.words.read(list, &above)
		if f.hints.kind != 0 && above.kind != 0 && f.hints.kind != above.kind {
			f.hints.doubt("the file's name says %s, the folder %s", wordOf(f.hints.kind), wordOf(above.kind))
		}
		f.hints.take(above.sense)
		if f.hints.created == "" {
			f.hints.created = dateIn(element, d.year, &f.hints)
		}
		f.folders = append(f.folders, list)
	}
	d.settleKind(f)
	if f.hints.created == "" {
		f.hints.created = f.meta.created
	}
}

// settleKind fills kind and stage from each other.
func (d *drafter) settleKind(f *found) {
	h := &f.hints
	switch {
	case h.kind == 0 && f.meta.camera:
		h.kind, h.stage = reference, photograph
	case h.kind == 0:
		h.kind = plate
		h.doubt("no word says whether it is a plate, a study or a reference; plate was taken")
	}
	if h.kind == reference && h.stage == 0 && f.meta.camera {
		h.stage = photograph
	}
	if h.kind == plate && h.stage == 0 {
		h.stage = pb.Stage_STAGE_FINAL_ART // unless a word says otherwise
	}
	if h.kind == study && h.stage == 0 && slices.ContainsFunc(f.own, func(t token) bool { return t.lower == "color" || t.lower == "colour" }) {
		h.stage = pb.Stage_STAGE_COLOR_STUDY
	}
}

// row is the picture's line in the draft.
func (f *found) row() []string {
	h := &f.hints
	return []string{strings.Join(h.doubts, "; "), f.file, wordOf(h.kind), f.title(), f.name, wordOf(h.view), wordOf(h.stage), h.technique,
		strings.Join(h.structures, "; "), strings.Join(f.meta.creators, "; "), h.created, "", "", "", "", ""}
}

// title is the embedded one, else what is known put into words, else the words of the file's name.
func (f *found) title() string {
	if t := f.meta.title; len([]rune(t)) > 3 && !strings.EqualFold(t, path.Base(f.file)) && !strings.HasPrefix(strings.ToLower(t), "untitled") {
		return t
	}
	if f.name != "" {
		list := []string{f.name}
		list = append(list, f.hints.structures...)
		for _, w := range []string{wordOf(f.hints.view), wordOf(f.hints.stage)} {
			if w != "" {
				list = append(list, w)
			}
		}
		return strings.Join(list, ", ")
	}
	words := make([]string, len(f.own))
	for i, t := range f.own {
		words[i] = t.text
	}
	if len(words) == 0 {
		return path.Base(f.file)
	}
	return strings.Join(words, " ")
}

// sameSize marks files with the same content; only those of the same size are read.
func (d *drafter) sameSize(ctx context.Context) {
	bySize := map[int64][]int{}
	for i, f := range d.found {
		bySize[f.size] = append(bySize[f.size], i)
	}
	first := map[string]int{}
	for i, f := range d.found {
		if len(bySize[f.size]) < 2 {
			continue
		}
		sum, err := d.sum(ctx, f.file)
		if err != nil {
			continue // the import tells
		}
		if other, ok := first[sum]; ok {
			d.found[i].hints.doubt("the content is the same as that of %s", d.found[other].file)
		} else {
			first[sum] = i
		}
	}
}

func (d *drafter) sum(ctx context.Context, name string) (string, error) {
	file, err := d.folder.root.OpenFile(name, os.O_RDONLY|openFlags, 0)
	if err != nil {
		return "", err
	}
	sum, _, err := client.Sum(ctx, file)
	return sum, errors.Join(err, file.Close())
}
