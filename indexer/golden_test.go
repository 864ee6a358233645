package indexer

import (
	"bytes"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"google.golang.org/protobuf/encoding/prototext"

	pb "platarium/proto/platarium/v1"
)

var update = flag.Bool("update", false, "write the golden files anew")

// TestGoldenRanking compares the first hits of each question in testdata/ranking,
// with their scores and reasons, with what stands there. A file begins with the
// request in text form; the answer follows a line of dashes.
func TestGoldenRanking(t *testing.T) {
	t.Parallel()
	x := newRecords(t).open(t)
	files, err := filepath.Glob("testdata/ranking/*.txt")
	if err != nil || len(files) < 8 {
		t.Fatalf("%d files, %v", len(files), err)
	}
	for _, path := range files {
		t.Run(strings.TrimSuffix(filepath.Base(path), ".txt"), func(t *testing.T) {
			text, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			question, want, _ := strings.Cut(strings.ReplaceAll(string(text), "\r\n", "\n"), "-----\n")
			r := &pb.SearchPicturesRequest{}
			if err := prototext.Unmarshal([]byte(question), r); err != nil {
				t.Fatal(err)
			}
			got := written(ask(t, x, r))
			if *update {
				if err := os.WriteFile(path, []byte(question+"-----\n"+got), 0o600); err != nil {
					t.Fatal(err)
				}
				return
			}
			if got != want {
				t.Errorf("got\n%s\nwant\n%s", got, want)
			}
		})
	}
}

// written puts an answer into lines for people.
func written(a *Answer) string {
	var b bytes.Buffer
	fmt.Fprintf(&b, "%d found\n", a.Total)
	for _, r := range a.Remarks {
		fmt.Fprintf(&b, "remark: %s\n", r)
	}
	for _, h := range a.Hits {
		fmt.Fprintf(&b, "%6.3f %s (%s)\n", h.Score, strings.TrimPrefix(h.Name, "pictures/"), h.AcceptedName)
		for _, r := range h.Reasons {
			fmt.Fprintf(&b, "       %+6.3f %s: %s\n", r.GetWeight(), r.GetKind(), r.GetText())
		}
	}
	return b.String()
}
