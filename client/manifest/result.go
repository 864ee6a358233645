package manifest

import "time"

// Outcome says what became of a row.
type Outcome string

// Outcomes.
const (
	Created     Outcome = "created"
	Unchanged   Outcome = "unchanged" // it was there, and says the same
	Updated     Outcome = "updated"
	Rejected    Outcome = "rejected"
	WouldCreate Outcome = "would create"
	WouldUpdate Outcome = "would update"
	Sound       Outcome = "sound" // nothing is wrong as far as can be seen without an archive
)

// RowResult is what became of one row.
type RowResult struct {
	Table   string   `json:"table"` // name of the manifest or specimens file
	Row     int      `json:"row"`   // from 2 on; 1 is the header
	File    string   `json:"file,omitempty"`
	Key     string   `json:"key,omitempty"`
	Outcome Outcome  `json:"outcome"`
	Name    string   `json:"name,omitempty"` // pictures/{id} or specimens/{id}
	Reason  string   `json:"reason,omitempty"`
	Remarks []string `json:"remarks,omitempty"` // what was taken although it wasn't plain, and what the file's reader noticed

	stands bool // the archive has the record although the row was rejected
}

// Tally counts rows by outcome.
type Tally struct {
	Rows       int `json:"rows"`
	Created    int `json:"created"`
	Unchanged  int `json:"unchanged"`
	Updated    int `json:"updated"`
	Rejected   int `json:"rejected"`
	WouldDo    int `json:"would_do,omitempty"` // a dry run would have created or updated them
	Sound      int `json:"sound,omitempty"`
	NotReached int `json:"not_reached,omitempty"` // the import ended before them
}

func (t *Tally) add(o Outcome) {
	switch o {
	case Created:
		t.Created++
	case Unchanged:
		t.Unchanged++
	case Updated:
		t.Updated++
	case Rejected:
		t.Rejected++
	case WouldCreate, WouldUpdate:
		t.WouldDo++
	case Sound:
		t.Sound++
	}
	t.NotReached--
}

// Summary is what became of an import.
type Summary struct {
	Pictures        Tally         `json:"pictures"`
	Specimens       Tally         `json:"specimens"`
	FilesSent       int           `json:"files_sent"`
	BytesSent       int64         `json:"bytes_sent"`
	FilesKnown      int           `json:"files_known"` // the archive had them
	ImportID        string        `json:"import_id"`
	DryRun          bool          `json:"dry_run,omitempty"`
	RejectsFile     string        `json:"rejects_file,omitempty"`
	SpecimenRejects string        `json:"specimen_rejects_file,omitempty"`
	Elapsed         time.Duration `json:"elapsed_ns"`
}

// Rejected says whether anything was rejected.
func (s *Summary) Rejected() int { return s.Pictures.Rejected + s.Specimens.Rejected }

// Progress tells how far an import has come.
type Progress struct {
	Stage   string // reading, names, specimens, pictures
	Rows    int    // done, of all
	AllRows int
	Checked int64 // bytes hashed, of AllBytes
	Sent    int64 // bytes the archive has, of AllBytes
	All     int64 // bytes of all files
	Elapsed time.Duration
}

// sendingWeight is how many times longer it takes to send a byte than to hash it: measured over loopback into the directory store.
const sendingWeight = 4

// Fraction is the part of the work that is done, 0 to 1: by bytes where there are files, else by rows.
func (p Progress) Fraction() float64 {
	switch {
	case p.All > 0:
		return float64(p.Checked+sendingWeight*p.Sent) / float64((1+sendingWeight)*p.All)
	case p.AllRows > 0:
		return float64(p.Rows) / float64(p.AllRows)
	default:
		return 0
	}
}

// Left estimates the time to the end; 0 if it can't be told yet.
func (p Progress) Left() time.Duration {
	f := p.Fraction()
	if f < 0.01 || f >= 1 {
		return 0
	}
	return time.Duration(float64(p.Elapsed) * (1 - f) / f)
}
