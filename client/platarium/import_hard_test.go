package main

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"io"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	"platarium/client/manifest"
	pb "platarium/proto/platarium/v1"
)

// TestKilledMidway breaks an import off at random points and repeats it: in the end there is one picture for each row, with its file and its source.
func TestKilledMidway(t *testing.T) {
	r := start(t, newConfig(t))
	dir := t.TempDir()
	const rows, files = 520, 26 // more than one batch
	table := []string{"key,file,kind,title,specimen,derived_from"}
	scans := map[string][]byte{}
	for i := range rows {
		file, from := "", ""
		if i%(rows/files) == 0 {
			file = fmt.Sprintf("scans/%d.png", i)
			scans[file] = scan(t, i)
		}
		if i%3 == 1 {
			from = fmt.Sprintf("K%d:fact", (i*7+5)%rows/3*3) // rows that derive from nothing, before and behind
		}
		table = append(table, fmt.Sprintf("K%d,%s,plate,Sheet %d,S%d,%s", i, file, i, i%20, from))
	}
	animals := []string{"key,institution"}
	for i := range 20 {
		animals = append(animals, fmt.Sprintf("S%d,Northmere", i))
	}
	write(t, dir, scans)
	write(t, dir, map[string][]byte{"plates.csv": lines(table...), "specimens.csv": lines(animals...)})
	opts := manifest.Options{Path: filepath.Join(dir, "plates.csv"), Specimens: filepath.Join(dir, "specimens.csv")}

	random := rand.New(rand.NewPCG(3, 4))
	names := map[int]string{}
	for _, most := range []int{20, 50, 80, 120, 400} {
		breakOff(t, r, opts, 1+random.IntN(most), 0, names)
	}
	for range 2 { // and while a batch is under way, when no step is told
		breakOff(t, r, opts, 1<<30, time.Duration(random.IntN(60))*time.Millisecond, names)
	}
	sum, results := imported(t, r.owner, opts)
	if sum.Pictures.Created+sum.Pictures.Unchanged != rows || sum.Specimens.Unchanged+sum.Specimens.Created != 20 {
		t.Errorf("last import: %+v", sum)
	}
	there := archived(t, r.owner)
	if len(there) != rows {
		t.Errorf("archive holds %d pictures; want %d", len(there), rows)
	}
	seen := map[string]bool{}
	for row, res := range results {
		p := there[res.Name]
		if seen[res.Name] || names[row] != "" && names[row] != res.Name || p.GetTitle() != fmt.Sprintf("Sheet %d", row-2) || (p.GetOriginal() != nil) != ((row-2)%(rows/files) == 0) || (len(p.GetDerivedFrom()) == 1) != ((row-2)%3 == 1) {
			t.Fatalf("row %d came in as %v", row, p)
		}
		seen[res.Name] = true
	}
	if again, _ := imported(t, r.owner, opts); again.Pictures.Unchanged != rows || again.FilesSent != 0 {
		t.Errorf("after all: %+v", again)
	}
}

// breakOff cancels an import after so many steps or, if that isn't 0, after a time, and notes the names it gave.
func breakOff(t *testing.T, r *running, opts manifest.Options, steps int, after time.Duration, names map[int]string) {
	t.Helper()
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	if after > 0 {
		defer time.AfterFunc(after, cancel).Stop()
	}
	opts.Progress = func(manifest.Progress) {
		if steps--; steps == 0 {
			cancel()
		}
	}
	opts.Report = func(res manifest.RowResult) {
		if res.Outcome == manifest.Rejected {
			t.Errorf("broken off: %+v", res)
		}
		if res.Table == "plates.csv" {
			names[res.Row] = res.Name
		}
	}
	sum, err := manifest.Import(ctx, r.owner, opts)
	if sum == nil || err != nil && !errors.Is(err, context.Canceled) && status.Code(err) != codes.Canceled {
		t.Fatalf("broken off: %v, %v", sum, err)
	}
	p := sum.Pictures
	if p.Created+p.Unchanged+p.NotReached != p.Rows {
		t.Errorf("account of an import broken off doesn't add up: %+v", p)
	}
}

// claiming is a small TIFF file whose header claims a picture of that many pixels a side.
func claiming(side uint32) []byte {
	var b bytes.Buffer
	le := binary.LittleEndian
	b.WriteString("II*\x00")
	b.Write(le.AppendUint32(nil, 8))
	fields := [][3]uint32{{256, 4, side}, {257, 4, side}, {258, 3, 8}, {259, 3, 1}, {262, 3, 1}, {273, 4, 200}, {277, 3, 1}, {278, 4, side}, {279, 4, 16}}
	b.Write(le.AppendUint16(nil, uint16(len(fields))))
	for _, f := range fields {
		b.Write(le.AppendUint16(le.AppendUint16(nil, uint16(f[0])), uint16(f[1])))
		b.Write(le.AppendUint32(le.AppendUint32(nil, 1), f[2]))
	}
	b.Write(make([]byte, 216-b.Len()))
	return b.Bytes()
}

// TestOddFiles: what can't be shown is kept all the same, with a remark.
func TestOddFiles(t *testing.T) {
	r := start(t, newConfig(t))
	dir := t.TempDir()
	var jpg bytes.Buffer
	if err := jpeg.Encode(&jpg, image.NewGray(image.Rect(0, 0, 40, 20)), nil); err != nil {
		t.Fatal(err)
	}
	write(t, dir, map[string][]byte{
		"huge.tif": claiming(60_000), "photo.png": jpg.Bytes(), "torn.png": scan(t, 1)[:60], "notes.tif": []byte("this is no picture at all"),
		"plates.csv": lines("file,kind,title", "huge.tif,plate,Huge", "photo.png,reference,Mislabelled", "torn.png,plate,Torn", "notes.tif,plate,Text"),
	})
	sum, rows := imported(t, r.owner, manifest.Options{Path: filepath.Join(dir, "plates.csv")})
	if sum.Pictures.Created != 4 || sum.FilesSent != 4 {
		t.Fatalf("%+v, %+v", sum, rows)
	}
	for row, want := range map[int]string{3: "JPG", 5: "this is no"} {
		if !slices.ContainsFunc(rows[row].Remarks, func(s string) bool { return strings.Contains(s, want) }) {
			t.Errorf("row %d has remarks %q; want one with %q", row, rows[row].Remarks, want)
		}
	}
	huge := archived(t, r.owner)[rows[2].Name]
	if huge.GetOriginal().GetWidth() != 60_000 || huge.GetOriginal().GetSize() != 216 {
		t.Errorf("huge one is described as %v", huge.GetOriginal())
	}
	var kept bytes.Buffer
	if _, err := r.owner.Download(t.Context(), huge.GetName(), "original", &kept); err != nil || !bytes.Equal(kept.Bytes(), claiming(60_000)) {
		t.Errorf("original came back as %d bytes, %v", kept.Len(), err)
	}
	waitDerived(t, r)
	d, err := r.owner.Transfer.GetDerived(t.Context(), &pb.GetDerivedRequest{Picture: huge.GetName()})
	if err != nil || d.GetState() != "failed" || !strings.Contains(d.GetFailure(), "60000") {
		t.Errorf("preview of the huge one: %v, %v; want it refused by its size", d, err)
	}
}

// waitDerived waits until every preview is made or refused.
func waitDerived(t *testing.T, r *running) {
	t.Helper()
	stream, err := r.owner.Admin.WaitDerived(t.Context(), &pb.WaitDerivedRequest{})
	for err == nil {
		_, err = stream.Recv()
	}
	if !errors.Is(err, io.EOF) {
		t.Fatalf("wait for previews: %v", err)
	}
}
