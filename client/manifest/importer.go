package manifest

import (
	"context"
	"fmt"
	"sync"
	"time"

	"platarium/client"
)

// Options say what to import and how.
type Options struct {
	Path      string // the manifest
	Specimens string // the specimens file; empty for none
	Files     string // the folder below which files lie; the manifest's own if empty
	Encoding  string // of both tables; empty for UTF-8

	DryRun bool // check everything, store nothing
	Update bool // change what is there and differs
	Jobs   int  // files read and sent at once; 4 if 0

	// AcceptNear takes a name that isn't known as it is spelled when the best candidate scores at least so much and is clearly ahead; 0 takes none.
	AcceptNear float64
	// Confirm, if not nil, asks a person about a name that would otherwise be rejected: the number of the candidate that is meant, or -1. Calls come one by one.
	Confirm func(ctx context.Context, name string, candidates []Candidate) (int, error)

	Rejects   string // where rejected rows go; MANIFEST.rejects.csv if empty, and nowhere in a dry run
	NoRejects bool   // write none

	Report   func(RowResult) // told of every row once, one call at a time
	Progress func(Progress)  // told now and then, one call at a time
}

// Candidate is a taxon that a name may mean.
type Candidate struct {
	Name   string  // as the archive lists it
	Score  float64 // 0 to 1
	Reason string
	taxon  string
}

const defaultJobs = 4

// importer is one import.
type importer struct {
	opts     Options
	c        *client.Client // nil for a local check
	pictures *sheet
	animals  *sheet // nil if there is no specimens file
	folder   *folder
	names    map[string]answer
	kept     map[string]string // specimens of the archive by catalog number: its name, or "" where several have it
	since    int64             // the archive's last commit when the import began
	importID string
	begun    time.Time

	mu       sync.Mutex // guards what follows, and the states of items once rows are sent
	summary  Summary
	progress Progress
	contents map[string]int // rows by the id made from their content
	rejects  map[*sheet]map[int]string
}

// load reads the tables and finds all that is wrong by itself.
func load(opts Options) (*importer, error) {
	if opts.Jobs <= 0 {
		opts.Jobs = defaultJobs
	}
	im := &importer{opts: opts, names: map[string]answer{}, contents: map[string]int{}, rejects: map[*sheet]map[int]string{}, begun: time.Now()}
	var err error
	var data []byte
	if im.pictures, data, err = newSheet(opts.Path, opts.Encoding, Columns(), noFurther, newPictureEntry); err != nil {
		return nil, err
	}
	im.importID = importID(data)
	im.summary = Summary{ImportID: im.importID, DryRun: opts.DryRun}
	im.summary.Pictures = Tally{Rows: len(im.pictures.items), NotReached: len(im.pictures.items)}
	if opts.Specimens != "" {
		if im.animals, _, err = newSheet(opts.Specimens, opts.Encoding, SpecimenColumns(), furtherLength, newSpecimenEntry); err != nil {
			return nil, err
		}
		im.summary.Specimens = Tally{Rows: len(im.animals.items), NotReached: len(im.animals.items)}
	}
	if im.folder, err = openFolder(filesFolder(opts)); err != nil {
		return nil, err
	}
	im.progress = Progress{Stage: "reading", AllRows: len(im.pictures.items)}
	if im.animals != nil {
		im.scanAnimals()
	}
	im.scanPictures()
	return im, nil
}

func (im *importer) scanAnimals() {
	s := im.animals
	s.scan(func(i int, faults []fault) { im.reject(s, i, reasonOf(faults)) }, func(i int, e *entry) {
		number := e.animal.GetCatalogNumber()
		if number == "" {
			number = e.key
		}
		if number == "" {
			im.reject(s, i, "column catalog_number: is empty, and so is key; want the number under which the specimen is kept, or one of the studio's own")
			return
		}
		it := &s.items[i]
		if it.id == "" {
			it.id = specimenID(e.animal.GetInstitution(), number)
			if first, ok := s.byID[it.id]; ok {
				im.reject(s, i, fmt.Sprintf("column catalog_number: found %q, which %s has already; want each specimen once", short(number), s.where(first)))
				return
			}
			s.byID[it.id] = i
		}
		if _, ok := s.numbers[number]; ok {
			s.numbers[number] = -1 // to be named by key
		} else {
			s.numbers[number] = i
		}
	})
}

func (im *importer) scanPictures() {
	s := im.pictures
	s.scan(func(i int, faults []fault) { im.reject(s, i, reasonOf(faults)) }, func(i int, e *entry) {
		it := &s.items[i]
		if it.file == "" {
			if !it.ownID {
				it.id = e.contentID()
			}
			return
		}
		spelled, info, err := im.folder.stat(it.file)
		if err != nil {
			im.reject(s, i, "column file: "+err.Error())
			return
		}
		it.spelled, it.size = spelled, info.Size()
		im.progress.All += it.size
	})
	for i := range s.items {
		if it := &s.items[i]; it.state != pending || !it.derived {
			continue
		}
		e := s.entry(i, true)
		if faults := s.link(i, e); len(faults) > 0 {
			im.reject(s, i, reasonOf(faults))
		}
		for _, d := range e.sources {
			if d.item >= 0 {
				s.items[i].sources = append(s.items[i].sources, int32(d.item))
			}
		}
	}
}

// reject tells that a row didn't go in, and keeps it for the rejects file.
func (im *importer) reject(s *sheet, i int, reason string) {
	im.settle(s, i, RowResult{Outcome: Rejected, Reason: reason})
}

// settle tells what became of a row.
func (im *importer) settle(s *sheet, i int, r RowResult) {
	im.mu.Lock()
	defer im.mu.Unlock()
	it := &s.items[i]
	r.Table, r.Row, r.File, r.Key = s.name, s.rows[i].row, it.file, it.key
	r.Remarks = append(it.remarks, r.Remarks...)
	it.state = accepted
	if r.Outcome == Rejected {
		if it.state = refused; r.stands {
			it.state = standing
		}
		if im.rejects[s] == nil {
			im.rejects[s] = map[int]string{}
		}
		im.rejects[s][i] = r.Reason
		if !it.sent { // its bytes aren't part of the work any more
			im.progress.All -= it.size
			if it.sum != "" {
				im.progress.Checked -= it.size
			}
		}
	}
	tally := &im.summary.Pictures
	if s == im.animals {
		tally = &im.summary.Specimens
	} else {
		im.progress.Rows++
	}
	tally.add(r.Outcome)
	if im.opts.Report != nil {
		im.opts.Report(r)
	}
	im.tell()
}

// tell reports progress; the caller holds the lock.
func (im *importer) tell() {
	if im.opts.Progress != nil {
		im.progress.Elapsed = time.Since(im.begun)
		im.opts.Progress(im.progress)
	}
}

func (im *importer) stateOf(s *sheet, i int) state {
	im.mu.Lock()
	defer im.mu.Unlock()
	return s.items[i].state
}

func (im *importer) stage(name string) {
	im.mu.Lock()
	defer im.mu.Unlock()
	im.progress.Stage = name
	im.tell()
}
