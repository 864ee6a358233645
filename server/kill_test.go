package server

import (
	"bufio"
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"testing"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"

	pb "platarium/proto/platarium/v1"
)

// process is a server in a process of its own.
type process struct {
	cmd  *exec.Cmd
	conn *grpc.ClientConn
	errs bytes.Buffer
}

// buildProgram builds the program once, without the race detector, which would make each of many starts slow.
func buildProgram(t *testing.T) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "platarium")
	if runtime.GOOS == "windows" {
		path += ".exe"
	}
	if out, err := exec.Command("go", "build", "-o", path, "platarium/client/platarium").CombinedOutput(); err != nil {
		t.Fatalf("build: %v\n%s", err, out)
	}
	return path
}

// spawn starts a server and waits until it answers.
func spawn(t *testing.T, program string, conf Config) *process {
	t.Helper()
	p := &process{cmd: exec.Command(program, "serve", "--store", conf.Store, "--cache", conf.Cache, "--listen", conf.Listen, "--key-file", conf.KeyFile, "--preview-workers", "1")}
	p.cmd.Stderr = &p.errs
	out, err := p.cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := p.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	lines := bufio.NewScanner(out)
	for lines.Scan() {
		if _, address, ok := strings.Cut(lines.Text(), " on "); ok {
			p.conn, err = grpc.NewClient(address, grpc.WithTransportCredentials(insecure.NewCredentials()))
			if err != nil {
				t.Fatal(err)
			}
			go func() { _, _ = io.Copy(io.Discard, out) }()
			return p
		}
	}
	t.Fatalf("server didn't start: %v\n%s", p.cmd.Wait(), p.errs.String())
	return nil
}

// kill ends the server as a power cut would, as far as a process can.
func (p *process) kill(t *testing.T) {
	t.Helper()
	if err := p.cmd.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	_ = p.cmd.Wait() // says that it was killed
}

// promises are what servers have answered, to be held against them.
type promises struct {
	mu        sync.Mutex
	pictures  map[string]*pb.Picture              // by name, as last answered
	originals map[string][]byte                   // by sha256
	open      map[string]*pb.CreatePictureRequest // sent, and not answered
	sent      int
}

// work uploads and creates until the server is gone.
func (p *promises) work(ctx context.Context, t *testing.T, conn *grpc.ClientConn, r *rand.Rand) {
	for ctx.Err() == nil {
		p.mu.Lock()
		p.sent++
		n := p.sent
		p.mu.Unlock()
		content := []byte(fmt.Sprintf("scan %d %s", n, strings.Repeat("x", r.IntN(20_000))))
		sum := sha256.Sum256(content)
		hexSum := hex.EncodeToString(sum[:])
		if !p.said(ctx, t, sendFile(ctx, conn, hexSum, content)) {
			return
		}
		p.mu.Lock()
		p.originals[hexSum] = content
		req := &pb.CreatePictureRequest{PictureId: fmt.Sprintf("kept-%05d", n), RequestId: fmt.Sprint("request-", n), Picture: &pb.Picture{Kind: pb.Kind_KIND_PLATE, Title: fmt.Sprintf("Sculpin word%05d", n)}}
		if r.IntN(4) == 0 {
			req.Picture.Original = &pb.Original{Sha256: hexSum}
		}
		p.open[req.GetRequestId()] = req
		p.mu.Unlock()
		if !p.create(ctx, t, conn, req) {
			return
		}
	}
}

// said notes an answer; false if the server was gone.
func (p *promises) said(ctx context.Context, t *testing.T, err error) bool {
	switch {
	case err == nil:
		return true
	case ctx.Err() == nil && status.Code(err) != codes.Unavailable:
		t.Errorf("a server that isn't killed yet answers %v", err)
	}
	return false
}

func (p *promises) create(ctx context.Context, t *testing.T, conn *grpc.ClientConn, req *pb.CreatePictureRequest) bool {
	made, err := pb.NewArchiveServiceClient(conn).CreatePicture(ctx, req)
	if !p.said(ctx, t, err) {
		return false
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	p.pictures[made.GetName()] = made
	delete(p.open, req.GetRequestId())
	return true
}

func sendFile(ctx context.Context, conn *grpc.ClientConn, sum string, content []byte) error {
	s, err := pb.NewTransferServiceClient(conn).UploadOriginal(ctx)
	if err != nil {
		return err
	}
	for _, m := range []*pb.UploadOriginalRequest{
		{Part: &pb.UploadOriginalRequest_Header{Header: &pb.UploadHeader{Sha256: sum, Size: int64(len(content))}}}, {Part: &pb.UploadOriginalRequest_Chunk{Chunk: content}},
	} {
		if err := s.Send(m); err != nil && !errors.Is(err, io.EOF) {
			return err
		}
	}
	_, err = s.CloseAndRecv()
	return err
}

// TestKilled kills a server at thirty random moments while it is written to from several sides. What it had acknowledged is there, what it hadn't answered is answered
// when asked again, the journal and the originals verify, and the index has what the journal has.
func TestKilled(t *testing.T) {
	program := buildProgram(t)
	conf := newConfig(t)
	p := &promises{pictures: map[string]*pb.Picture{}, originals: map[string][]byte{}, open: map[string]*pb.CreatePictureRequest{}}
	const kills, sides = 30, 4
	seed := uint64(time.Now().UnixNano())
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 1))
	authorized := func(ctx context.Context) context.Context {
		return metadata.AppendToOutgoingContext(ctx, "authorization", "Bearer "+secretIn(t, conf.KeyFile))
	}
	midway := 0
	for i := range kills {
		if i%10 == 9 {
			if err := os.RemoveAll(conf.Cache); err != nil { // the cache may go as well
				t.Fatal(err)
			}
		}
		server := spawn(t, program, conf)
		ctx, cancel := context.WithCancel(authorized(t.Context()))
		asked := p.open
		for _, req := range asked { // what the last server left open
			midway++
			if !p.create(ctx, t, server.conn, req) {
				t.Fatalf("an open request isn't answered")
			}
		}
		var wg sync.WaitGroup
		for side := range uint64(sides) {
			wg.Go(func() { p.work(ctx, t, server.conn, rand.New(rand.NewPCG(seed+uint64(i), side))) })
		}
		time.Sleep(time.Duration(r.IntN(200)) * time.Millisecond)
		server.kill(t)
		cancel()
		wg.Wait()
		_ = server.conn.Close() // there is nobody at the other end
	}
	server := spawn(t, program, conf)
	defer func() {
		server.kill(t)
		_ = server.conn.Close()
	}()
	ctx := authorized(t.Context())
	for _, req := range p.open {
		if !p.create(ctx, t, server.conn, req) {
			t.Fatal("an open request isn't answered")
		}
	}
	t.Logf("%d pictures and %d originals acknowledged, %d requests left open by kills", len(p.pictures), len(p.originals), midway)
	if len(p.pictures) < kills || midway < 5 {
		t.Errorf("%d pictures, %d requests left open: the kills prove little", len(p.pictures), midway)
	}
	p.holds(ctx, t, server.conn)
}

// holds compares an archive with what was promised.
func (p *promises) holds(ctx context.Context, t *testing.T, conn *grpc.ClientConn) {
	t.Helper()
	records, search, transfer, admin := pb.NewArchiveServiceClient(conn), pb.NewSearchServiceClient(conn), pb.NewTransferServiceClient(conn), pb.NewAdminServiceClient(conn)
	for name, want := range p.pictures {
		got, err := records.GetPicture(ctx, &pb.GetPictureRequest{Name: name})
		if err != nil || !proto.Equal(got, want) {
			t.Errorf("%s was acknowledged as %v and is %v, %v", name, want, got, err)
		}
		word := strings.TrimPrefix(want.GetTitle(), "Sculpin ")
		res, err := search.SearchPictures(ctx, &pb.SearchPicturesRequest{Text: `"` + word + `"`})
		if err != nil || len(res.GetHits()) != 1 || res.GetHits()[0].GetPicture().GetName() != name {
			t.Errorf("%s isn't found by its word: %v, %v", name, res, err)
		}
	}
	var sums []string
	for sum := range p.originals {
		sums = append(sums, sum)
	}
	for len(sums) > 0 {
		some := sums[:min(1000, len(sums))]
		sums = sums[len(some):]
		res, err := transfer.StatOriginals(ctx, &pb.StatOriginalsRequest{Sha256: some})
		if err != nil {
			t.Fatal(err)
		}
		for i, size := range res.GetSizes() {
			if size != int64(len(p.originals[some[i]])) {
				t.Errorf("original %s was acknowledged with %d bytes and has %d", some[i], len(p.originals[some[i]]), size)
			}
		}
	}
	st, err := admin.GetStatus(ctx, &pb.GetStatusRequest{})
	if err != nil {
		t.Fatal(err)
	}
	all, err := search.SearchPictures(ctx, &pb.SearchPicturesRequest{PageSize: 1})
	if err != nil {
		t.Fatal(err)
	}
	if n := int64(len(p.pictures)); st.GetRecords()["pictures"] != n || all.GetTotal() != n || st.GetIndexedSequence() != st.GetSequence() {
		t.Errorf("%d pictures were acknowledged, %d are on record and %d in the index; journal at %d, index at %d", n, st.GetRecords()["pictures"], all.GetTotal(), st.GetSequence(), st.GetIndexedSequence())
	}
	verify, err := admin.Verify(ctx, &pb.VerifyRequest{})
	if err != nil {
		t.Fatal(err)
	}
	var last *pb.VerifyResponse
	for {
		m, err := verify.Recv()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		if last = m; m.GetProblem() != "" {
			t.Errorf("verify: %s", m.GetProblem())
		}
	}
	if !last.GetDone() || last.GetProblems() != 0 || last.GetCommits() != st.GetSequence() || last.GetOriginals() < int64(len(p.originals)) {
		t.Errorf("verify ends with %v", last)
	}
}
