package taxaimport

import (
	"errors"
	"fmt"
	"strings"
	"time"
)

// ErrUnusable means that nothing could be begun: the file is no checklist or table that can be read, or its taxa run in a circle. The caller shows the message
// and has the file mended.
var ErrUnusable = errors.New("can't be imported")

// Homonyms says what becomes of a name that the archive has elsewhere in the tree, or by other authors.
type Homonyms string

// What can be done with homonyms.
const (
	Leave Homonyms = "leave" // leave it out and report it as doubtful
	Add   Homonyms = "add"   // it is another taxon: add it
	Same  Homonyms = "same"  // it is the same taxon, placed otherwise: lay it over
)

// ParseHomonyms reads a choice.
func ParseHomonyms(s string) (Homonyms, error) {
	switch h := Homonyms(s); h {
	case Leave, Add, Same:
		return h, nil
	}
	return "", fmt.Errorf("found %q; want leave, add or same", s)
}

// Options say what to import and how.
type Options struct {
	// Path of a table, an archive (.zip) or a folder.
	Path string
	// List names the list: the ids of new taxa are derived from it, and it stands as the source of rows that name none. Empty for the file's name without its ending.
	List string
	// DryRun compares and stores nothing.
	DryRun bool
	// OnlyNew leaves alone what the archive has.
	OnlyNew bool
	// Update takes the list's word where the archive says otherwise: authorship, parent, and the status of the studio's own entries.
	Update bool
	// Homonyms; Leave if empty.
	Homonyms Homonyms

	Report   func(TaxonResult) // told of every taxon once, one call at a time
	Progress func(Progress)    // told now and then, one call at a time
}

// Outcome says what became of a taxon or of a row of diagnoses.
type Outcome string

// Outcomes.
const (
	Added     Outcome = "added"
	LaidOver  Outcome = "laid over" // a taxon of the base, now with what the list adds
	Changed   Outcome = "changed"   // an entry that the studio had
	Unchanged Outcome = "unchanged"
	Doubtful  Outcome = "doubtful" // left out: a person must say what is meant
	Rejected  Outcome = "rejected"

	WouldAdd     Outcome = "would add"
	WouldLayOver Outcome = "would lay over"
	WouldChange  Outcome = "would change"
)

// planned is the outcome that a dry run reports.
func (o Outcome) planned() Outcome {
	switch o {
	case Added:
		return WouldAdd
	case LaidOver:
		return WouldLayOver
	case Changed:
		return WouldChange
	default:
		return o
	}
}

// Fault says why a row is left out: what was found in a column and what is wanted there, or a reason that isn't one cell's.
type Fault struct {
	Column string `json:"column,omitempty"`
	Found  string `json:"found,omitempty"`
	Wanted string `json:"wanted,omitempty"`
	Reason string `json:"reason,omitempty"`
}

func (f Fault) String() string {
	var b strings.Builder
	if f.Column != "" {
		fmt.Fprintf(&b, "column %s: ", f.Column)
	}
	switch {
	case f.Reason != "":
		b.WriteString(f.Reason)
	case f.Found == "":
		fmt.Fprintf(&b, "is empty; want %s", f.Wanted)
	default:
		fmt.Fprintf(&b, "found %q; want %s", f.Found, f.Wanted)
	}
	return b.String()
}

// Candidate is a taxon of the archive that a name may mean.
type Candidate struct {
	Name   string `json:"name"`
	Taxon  string `json:"taxon"` // taxa/{id}
	Reason string `json:"reason"`
}

func (c Candidate) String() string { return fmt.Sprintf("%s (%s, %s)", c.Name, c.Reason, c.Taxon) }

// TaxonResult is what became of one taxon of a checklist, or of a row that made none.
type TaxonResult struct {
	File       string      `json:"file"`
	Row        int         `json:"row"`          // from 1, the heading included
	ID         string      `json:"id,omitempty"` // the list's own
	Name       string      `json:"scientific_name,omitempty"`
	Rank       string      `json:"rank,omitempty"`
	Outcome    Outcome     `json:"outcome,omitempty"`
	Taxon      string      `json:"taxon,omitempty"` // taxa/{id}
	Adds       []string    `json:"adds,omitempty"`  // what the list adds or changes
	Fault      *Fault      `json:"fault,omitempty"`
	Candidates []Candidate `json:"candidates,omitempty"`
	Remarks    []string    `json:"remarks,omitempty"`
}

// Tally counts by outcome; in a dry run what would become of them.
type Tally struct {
	Rows       int `json:"rows"`
	Added      int `json:"added"`
	LaidOver   int `json:"laid_over"`
	Changed    int `json:"changed"`
	Unchanged  int `json:"unchanged"`
	Doubtful   int `json:"doubtful"`
	Rejected   int `json:"rejected"`
	NotReached int `json:"not_reached,omitempty"` // the import ended before them
}

func (t *Tally) add(o Outcome) {
	switch o {
	case Added, WouldAdd:
		t.Added++
	case LaidOver, WouldLayOver:
		t.LaidOver++
	case Changed, WouldChange:
		t.Changed++
	case Unchanged:
		t.Unchanged++
	case Doubtful:
		t.Doubtful++
	case Rejected:
		t.Rejected++
	}
	t.NotReached--
}

// Summary is what became of an import.
type Summary struct {
	Tally
	Format  string        `json:"format,omitempty"` // of a checklist
	List    string        `json:"list,omitempty"`
	DryRun  bool          `json:"dry_run,omitempty"`
	Elapsed time.Duration `json:"elapsed_ns"`
}

// LeftOut is the number of rows that a person must look at.
func (s *Summary) LeftOut() int { return s.Doubtful + s.Rejected }

// Progress tells how far an import has come.
type Progress struct {
	Stage     string // reading, names, comparing, storing
	Done, All int    // taxa or names
	Elapsed   time.Duration
}
