//go:build ignore

// Command pack makes base.tsv.gz, the table that package backbone embeds, from
// the published classification. It leaves out rows without a name and puts a
// species that stands in a genus other than the one it names under its own
// genus, if the table has it; each such step is printed.
package main

import (
	"bufio"
	"compress/gzip"
	"errors"
	"flag"
	"fmt"
	"io"
	"log"
	"os"
	"strings"
)

func main() {
	in := flag.String("in", "", "published table, tab-separated, gzip")
	out := flag.String("out", "base.tsv.gz", "table to write")
	flag.Parse()
	if err := run(*in, *out, os.Stdout); err != nil {
		log.Fatal(err)
	}
}

func run(in, out string, report io.Writer) error {
	rows, err := read(in)
	if err != nil {
		return err
	}
	genera := map[string]string{}
	names := map[string]string{}
	for _, r := range rows[1:] {
		names[r[0]] = r[3]
		if r[2] == "genus" && r[5] == "accepted" {
			genera[r[3]] = r[0]
		}
	}
	kept := [][]string{rows[0]}
	for _, r := range rows[1:] {
		if r[3] == "" || r[3] == "NA" {
			fmt.Fprintf(report, "%s: no name, left out\n", r[0])
			continue
		}
		genus, _, _ := strings.Cut(r[3], " ")
		if own := genera[genus]; r[2] == "species" && r[5] == "accepted" && names[r[1]] != genus && own != "" {
			fmt.Fprintf(report, "%s %s: stood under %s, put under %s\n", r[0], r[3], names[r[1]], genus)
			r[1] = own
		}
		kept = append(kept, r)
	}
	return write(out, kept)
}

func read(path string) (rows [][]string, err error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	z, err := gzip.NewReader(f)
	if err != nil {
		return nil, err
	}
	for lines := bufio.NewScanner(z); lines.Scan(); {
		r := strings.Split(lines.Text(), "\t")
		if len(r) != 9 {
			return nil, fmt.Errorf("line %d: %d columns, want 9", len(rows)+1, len(r))
		}
		rows = append(rows, r)
	}
	return rows, nil
}

// write packs the rows without a time stamp, so that the same input gives the
// same bytes.
func write(path string, rows [][]string) (err error) {
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	z, err := gzip.NewWriterLevel(f, gzip.BestCompression)
	if err != nil {
		return err
	}
	for _, r := range rows {
		if _, err := io.WriteString(z, strings.Join(r, "\t")+"\n"); err != nil {
			return err
		}
	}
	return z.Close()
}
