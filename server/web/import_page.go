package web

import (
	"encoding/csv"
	"errors"
	"net/http"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	pb "platarium/proto/platarium/v1"
)

// importing is what the page of bringing in shows.
type importing struct {
	Token    string
	Open     bool // it can be done on this server
	Under    *importState
	Settle   *settling
	Kinds    []string
	Views    []string
	Stages   []string
	Refresh  bool // show it anew by itself: something is under way
	MostRows int
}

// importState is how what is brought in stands.
type importState struct {
	State    string         `json:"state"`
	Files    int            `json:"files"`
	Size     int64          `json:"size"`
	Tables   ImportTables   `json:"-"`
	Rows     []ImportRow    `json:"-"`
	More     int            `json:"-"`
	Progress ImportProgress `json:"progress"`
	Percent  int            `json:"percent"`
	Said     string         `json:"said"` // the progress in words
	Summary  []string       `json:"-"`
	Rejected int            `json:"-"`
	Rejects  []string       `json:"-"` // names of files
	Wrong    string         `json:"wrong,omitempty"`
	Doubts   int            `json:"-"`
}

func (b *bringing) stand() *importState {
	b.mu.Lock()
	defer b.mu.Unlock()
	out := &importState{
		State: b.state, Files: b.files, Size: b.bytes, Tables: b.tables, Rows: append([]ImportRow(nil), b.rows...), More: b.more, Progress: b.progress, Percent: int(100 * b.progress.Fraction), Wrong: b.wrong,
		Rejected: b.summary.Rejected, Said: progressWords(b.progress),
	}
	if b.summary.Words != "" {
		for _, line := range strings.Split(b.summary.Words, "\n") {
			if !strings.Contains(line, b.root) { // paths of this machine are nobody's business
				out.Summary = append(out.Summary, line)
			}
		}
	}
	for _, p := range b.summary.Rejects {
		out.Rejects = append(out.Rejects, filepath.Base(p))
	}
	return out
}

// progressWords says how far it is, how fast it goes and what is left.
func progressWords(p ImportProgress) string {
	if p.Stage == "" {
		return "Beginning."
	}
	s := capital(p.Stage) + ": " + strconv.Itoa(p.Rows) + " of " + strconv.Itoa(p.AllRows) + " rows"
	if sec := p.Elapsed.Seconds(); sec > 1 && p.Sent > 0 {
		s += ", " + strconv.FormatFloat(float64(p.Sent)/1e6/sec, 'f', 1, 64) + " MB a second"
	}
	if p.Left > 0 {
		s += ", about " + p.Left.Round(time.Second).String() + " left"
	}
	return s + "."
}

// importPage shows what is brought in and how it stands.
func (s *Site) importPage(v *visit) error { return s.showImport(v, http.StatusOK) }

func (s *Site) showImport(v *visit, code int) error {
	page := importing{Token: v.token, Open: s.imports != nil, Kinds: words[pb.Kind](), Views: words[pb.View](), Stages: words[pb.Stage](), MostRows: mostRows}
	if s.imports != nil {
		if b := s.imports.of(v.token); b != nil {
			page.Under = b.stand()
			st := page.Under.State
			page.Refresh = st == "receiving" || st == "looking" || st == "running"
			if page.Under.Tables.Drafted && (st == "looked" || st == "done" || st == "failed") {
				page.Settle = readSettling(page.Under.Tables.Manifest)
			}
		}
	}
	return v.show(code, "import.html", "Bring in", page)
}

// importStanding answers how it stands, for the page's script.
func (s *Site) importStanding(v *visit) error {
	b := s.bringingOf(v)
	if b == nil {
		return errNoPage
	}
	writeJSON(v.w, http.StatusOK, b.stand())
	return nil
}

func (s *Site) bringingOf(v *visit) *bringing {
	if s.imports == nil {
		return nil
	}
	return s.imports.of(v.token)
}

// importStep goes on with what was dropped: brings it in, looks it through again with what was settled, or gives it up.
func (s *Site) importStep(v *visit) error {
	b := s.bringingOf(v)
	if b == nil {
		return v.redirect("/import")
	}
	f := v.sent()
	switch f.Value("do") {
	case "run":
		if !s.imports.run(b) {
			return status.Error(codes.FailedPrecondition, errBusy.Error())
		}
	case "settle":
		if err := settle(b.stand().Tables.Manifest, f); err != nil {
			return err
		}
		if !s.imports.look(b) {
			return status.Error(codes.FailedPrecondition, errBusy.Error())
		}
	case "give up", "close":
		if err := s.imports.giveUp(v.token); err != nil {
			return err
		}
	default:
		return errNoPage
	}
	return v.redirect("/import")
}

// importFile sends the manifest as it was drafted, or the rejected rows as tables to be mended and dropped again.
func (s *Site) importFile(v *visit) error {
	b := s.bringingOf(v)
	if b == nil {
		return errNoPage
	}
	b.mu.Lock()
	known := append([]string{b.tables.Manifest}, b.summary.Rejects...)
	b.mu.Unlock()
	for _, p := range known {
		if p != "" && filepath.Base(p) == v.r.PathValue("file") {
			data, err := os.ReadFile(p)
			if err != nil {
				return err
			}
			v.w.Header().Set("Content-Type", "text/csv; charset=utf-8")
			v.w.Header().Set("Content-Disposition", "attachment; filename="+strconv.Quote(safeName(filepath.Base(p))))
			_, _ = v.w.Write(data) // the visitor may have gone
			return nil
		}
	}
	return errNoPage
}

// settling is a drafted manifest as a form: what was guessed, to be mended and confirmed row by row.
type settling struct {
	Rows []settleRow
	More int // rows beyond those that a page can show
}

// settleRow is a row of it.
type settleRow struct {
	N                                 int
	Doubt, File                       string
	Kind, Title, Species, View, Stage string
}

// settleRows is how many rows a page lets one settle; more are better settled in a spreadsheet.
const settleRows = 200

// settleColumns are the columns that a person settles in the page, by the form's names.
var settleColumns = map[string]string{"kind": "kind", "title": "title", "species": "scientific_name", "view": "view", "stage": "stage"}

// readTable reads a manifest as it stands; nothing in it is taken for more than text.
func readTable(path string) (rows [][]string, at map[string]int, err error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, nil, err
	}
	r := csv.NewReader(f)
	r.FieldsPerRecord = -1
	rows, err = r.ReadAll()
	if err = errors.Join(err, f.Close()); err != nil || len(rows) == 0 {
		return nil, nil, err
	}
	at = map[string]int{}
	for i, name := range rows[0] {
		at[strings.TrimPrefix(name, "\ufeff")] = i
	}
	return rows[1:], at, nil
}

func readSettling(path string) *settling {
	rows, at, err := readTable(path)
	if err != nil {
		return nil // the page then offers the file alone
	}
	out := &settling{}
	cell := func(row []string, name string) string {
		if i, ok := at[name]; ok && i < len(row) {
			return row[i]
		}
		return ""
	}
	for i, row := range rows {
		if i == settleRows {
			out.More = len(rows) - i
			break
		}
		out.Rows = append(out.Rows, settleRow{
			N: i + 1, Doubt: cell(row, "doubts"), File: cell(row, "file"), Kind: cell(row, "kind"), Title: cell(row, "title"), Species: cell(row, "scientific_name"), View: cell(row, "view"), Stage: cell(row, "stage"),
		})
	}
	return out
}

// settle writes what a person typed into a drafted manifest. A row's doubts go only where the person said that it is right now.
func settle(path string, f *form) error {
	rows, at, err := readTable(path)
	if err != nil {
		return err
	}
	head := make([]string, len(at))
	for name, i := range at {
		head[i] = name
	}
	for i, row := range rows {
		n := strconv.Itoa(i + 1)
		for field, column := range settleColumns {
			if typed, ok := f.typed[field+n]; ok && at[column] < len(row) {
				row[at[column]] = strings.TrimSpace(typed[0])
			}
		}
		if (f.Value("right"+n) != "" || f.Value("rightall") != "") && at["doubts"] < len(row) {
			row[at["doubts"]] = ""
		}
	}
	return writeTable(path, append([][]string{head}, rows...))
}

// writeTable replaces a table whole.
func writeTable(path string, rows [][]string) error {
	var b strings.Builder
	w := csv.NewWriter(&b)
	if err := w.WriteAll(rows); err != nil {
		return err
	}
	next := path + ".next"
	if err := os.WriteFile(next, []byte(b.String()), 0o600); err != nil {
		return err
	}
	return os.Rename(next, path)
}
