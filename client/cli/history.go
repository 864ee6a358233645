package cli

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"platarium/client"
	pb "platarium/proto/platarium/v1"
)

func (a *App) history() *cobra.Command {
	var format, party, output string
	var at int64
	cmd := &cobra.Command{
		Use:   "history PICTURE... | --party PARTY",
		Short: "All grants and uses of pictures, or of an organisation, as far as your key may know them",
		Long: "Tells where pictures have been licensed and published: as text, as JSON (one history a line) or as CSV (one line an entry).\n" +
			"A statement is a file that verify can check, a PDF one to be mailed; with --at they tell how things stood at an earlier commit.\n" +
			"It is a record, not legal advice; the signed agreements govern.",
		Example: "  platarium history pictures/perch-plate\n  platarium history pictures/perch-plate --format csv > history.csv\n" +
			"  platarium history --party parties/reed-press --format csv\n" +
			"  platarium history pictures/perch-plate --format statement --at 42 -o perch.json\n" +
			"  platarium history pictures/perch-plate --format pdf -o perch.pdf\n" +
			"  platarium history --party parties/reed-press --format pdf -o reed-press.pdf",
		Args: args(func(cmd *cobra.Command, names []string) error {
			if party != "" {
				return cobra.NoArgs(cmd, names)
			}
			return cobra.MinimumNArgs(1)(cmd, names)
		}),
	}
	cmd.Flags().StringVar(&party, "party", "", "all that was granted to and used by this organisation, parties/{id}")
	cmd.Flags().StringVar(&format, "format", "text", "text, json or csv; or for one picture or a party: statement or pdf")
	cmd.Flags().StringVarP(&output, "output", "o", "", "for a statement or pdf: file to write, - for the standard output")
	cmd.Flags().Int64Var(&at, "at", 0, "for a statement or pdf: as of this commit; the last if left out")
	cmd.RunE = func(cmd *cobra.Command, names []string) error {
		if a.json {
			format = "json"
		}
		if format == "statement" || format == "pdf" {
			return a.historyFile(cmd.Context(), names, party, at, format, output)
		}
		if at != 0 {
			return usage(errors.New("--at goes with --format statement or pdf"))
		}
		if format != "text" && format != "json" && format != "csv" {
			return usage(fmt.Errorf("--format: found %q; want text, json, csv, statement or pdf", format))
		}
		return a.with(func(c *client.Client) error {
			if party != "" {
				return a.partyHistory(cmd.Context(), c, party, format)
			}
			var table *csv.Writer
			if format == "csv" {
				table = csv.NewWriter(a.Out)
				if err := table.Write(historyColumns); err != nil {
					return err
				}
			}
			for i, name := range names {
				h, err := c.Licensing.GetHistory(cmd.Context(), &pb.GetHistoryRequest{Picture: name})
				if err != nil {
					return err
				}
				switch format {
				case "json":
					err = a.printJSON(h)
				case "csv":
					err = writeHistoryRows(table, h)
				default:
					if i > 0 {
						a.printf("\n")
					}
					PrintHistory(a.Out, h)
				}
				if err != nil {
					return err
				}
			}
			if table != nil {
				table.Flush()
				return table.Error()
			}
			return nil
		})
	}
	return cmd
}

// PrintHistory writes a history for a person.
func PrintHistory(w io.Writer, h *pb.History) {
	line := func(format string, args ...any) { _, _ = fmt.Fprintf(w, format+"\n", args...) }
	line("Licensing history of %s", h.GetTitle())
	line("  %s (%s)", h.GetScientificName(), h.GetPicture())
	if h.GetCreditLine() != "" {
		line("  credit: %s", h.GetCreditLine())
	}
	if h.GetRightsHolder() != "" {
		line("  rights holder: %s", h.GetRightsHolder())
	}
	line("  today: %s", h.GetStanding())
	if len(h.GetEntries()) == 0 {
		line("  nothing on record")
	}
	for _, e := range h.GetEntries() {
		printEntry(line, e)
	}
	line("  as of commit %d, %.16s", h.GetSequence(), h.GetHead())
	line("  %s", h.GetCaution())
}

func printEntry(line func(string, ...any), e *pb.HistoryEntry) {
	head := strings.TrimSpace(e.GetTerms() + " " + e.GetKind())
	if strings.HasSuffix(e.GetTerms(), e.GetKind()) {
		head = e.GetTerms()
	}
	extent := strings.Join(e.GetMedia(), ", ") + "; " + strings.Join(e.GetTerritories(), ", ")
	if l := strings.Join(e.GetLanguages(), ", "); l != "" && l != "*" {
		extent += "; languages " + l
	}
	line("  - %s, %s: %s", days(e), e.GetParty(), head)
	line("      %s", extent)
	var facts []string
	add := func(label, value string) {
		if value != "" {
			facts = append(facts, strings.TrimSpace(label+" "+value))
		}
	}
	add("", e.GetTitle())
	add("", e.GetIdentifier())
	if e.GetCopies() > 0 {
		add("", strconv.FormatInt(e.GetCopies(), 10)+" copies")
	}
	add("", e.GetState())
	add("", e.GetVerdict())
	add("signed", e.GetSignedOn())
	if f := e.GetFee(); f != nil {
		add("fee", f.GetAmount()+" "+f.GetCurrency())
	}
	add("credit", e.GetCreditLine())
	add("", e.GetName())
	if len(facts) > 0 {
		line("      %s", strings.Join(facts, "; "))
	}
	for _, r := range e.GetRemarks() {
		line("      ! %s", r)
	}
}

// days writes from and to for a person.
func days(e *pb.HistoryEntry) string {
	switch {
	case e.GetKind() == "use" || e.GetTo() == e.GetFrom():
		return e.GetFrom()
	case e.GetTo() == "":
		return "from " + e.GetFrom()
	default:
		return e.GetFrom() + " to " + e.GetTo()
	}
}

var historyColumns = []string{"picture", "title", "scientific_name", "kind", "name", "party", "terms", "media", "territories", "languages", "purposes", "from", "to", "state",
	"publication", "identifier", "copies", "credit_line", "fee", "currency", "signed_on", "grant", "verdict", "remarks", "sequence", "head"}

func writeHistoryRows(table *csv.Writer, h *pb.History) error {
	for _, e := range h.GetEntries() {
		copies := ""
		if e.GetCopies() > 0 {
			copies = strconv.FormatInt(e.GetCopies(), 10)
		}
		row := []string{h.GetPicture(), h.GetTitle(), h.GetScientificName(), e.GetKind(), e.GetName(), e.GetParty(), e.GetTerms(), strings.Join(e.GetMedia(), ";"),
			strings.Join(e.GetTerritories(), ";"), strings.Join(e.GetLanguages(), ";"), strings.Join(e.GetPurposes(), ";"), e.GetFrom(), e.GetTo(), e.GetState(), e.GetTitle(), e.GetIdentifier(),
			copies, e.GetCreditLine(), e.GetFee().GetAmount(), e.GetFee().GetCurrency(), e.GetSignedOn(), e.GetGrant(), e.GetVerdict(), strings.Join(e.GetRemarks(), ";"),
			strconv.FormatInt(h.GetSequence(), 10), h.GetHead()}
		for i, cell := range row {
			row[i] = SafeCell(cell)
		}
		if err := table.Write(row); err != nil {
			return err
		}
	}
	return nil
}

// SafeCell keeps a spreadsheet from taking a cell for a formula (CWE-1236; OWASP ASVS 1.2.10): what could begin one is led by an apostrophe.
func SafeCell(s string) string {
	trimmed := strings.TrimLeft(s, "\"' ")
	for _, lead := range []string{s, trimmed} {
		if lead != "" && strings.ContainsRune("=+-@\t\r\n\x00＝＋－＠", []rune(lead)[0]) {
			return "'" + s
		}
	}
	return s
}
