package main

import (
	"bufio"
	"bytes"
	"context"
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/minio/minio-go/v7"
	"github.com/minio/minio-go/v7/pkg/credentials"

	pb "platarium/proto/platarium/v1"
	"platarium/storage/buckettest"
)

// BenchmarkImportScans puts a studio's scans into a real object store twice in one run: by a plain upload loop, and by the bulk import through a server, each in
// a process of its own. It reports both rates and their ratio, the peak memory of client and server, and the time of the previews that follow.
// SCANS says how many (200).
func BenchmarkImportScans(b *testing.B) {
	const jobs = 4
	n := 200
	if s := os.Getenv("SCANS"); s != "" {
		n, _ = strconv.Atoi(s)
	}
	dir := b.TempDir()
	files, total := drawScans(b, dir, n)
	program := filepath.Join(b.TempDir(), "platarium")
	if out, err := exec.Command("go", "build", "-o", program, ".").CombinedOutput(); err != nil {
		b.Fatalf("build: %v\n%s", err, out)
	}
	for b.Loop() {
		store, env, stop, err := buckettest.StartS3(context.Background(), b.TempDir())
		if err != nil {
			b.Fatal(err)
		}
		plain := plainLoop(b, store, env, files, jobs)
		m := importScans(b, program, store, env, dir, jobs, n)
		if err := stop(); err != nil {
			b.Error(err)
		}
		mb := float64(total) / 1e6
		b.ReportMetric(mb/plain.Seconds(), "plain-MB/s")
		b.ReportMetric(mb/m.acknowledged.Seconds(), "import-MB/s")
		b.ReportMetric(plain.Seconds()/m.acknowledged.Seconds(), "ratio")
		b.ReportMetric(m.previews.Seconds(), "previews-s")
		b.ReportMetric(m.clientMiB, "client-MiB")
		b.ReportMetric(m.serverMiB, "server-MiB")
	}
}

// drawScans writes n gray TIFFs of 2 to 60 MB, small ones more often than large, with a manifest.
func drawScans(b *testing.B, dir string, n int) (files []string, total int64) {
	b.Helper()
	r := rand.New(rand.NewPCG(1, 2))
	var table strings.Builder
	table.WriteString("file,kind,title,scientific_name,view\n")
	for i := range n {
		size := int64(2e6 * math.Pow(30, (float64(i)+0.5)/float64(n)))
		name := fmt.Sprintf("scan-%03d.tif", i)
		if err := os.WriteFile(filepath.Join(dir, name), grayTIFF(r, size), 0o644); err != nil {
			b.Fatal(err)
		}
		files = append(files, filepath.Join(dir, name))
		total += size
		fmt.Fprintf(&table, "%s,plate,Scan %d,Perca fluviatilis,left lateral\n", name, i)
	}
	if err := os.WriteFile(filepath.Join(dir, "manifest.csv"), []byte(table.String()), 0o644); err != nil {
		b.Fatal(err)
	}
	return files, total
}

// grayTIFF is an uncompressed gray scan of about size bytes with paper grain, at 600 ppi.
func grayTIFF(r *rand.Rand, size int64) []byte {
	width := uint32(math.Sqrt(float64(size) * 1.4))
	height := uint32(size) / width
	pixels := make([]byte, width*height)
	for i := 0; i+8 <= len(pixels); i += 8 {
		binary.LittleEndian.PutUint64(pixels[i:], r.Uint64()|0xC0C0C0C0C0C0C0C0)
	}
	var t bytes.Buffer
	le := func(v any) { _ = binary.Write(&t, binary.LittleEndian, v) }
	t.WriteString("II*\x00")
	le(uint32(8))
	entries := [][4]uint32{{256, 4, 1, width}, {257, 4, 1, height}, {258, 3, 1, 8}, {259, 3, 1, 1}, {262, 3, 1, 1}, {273, 4, 1, 0}, {277, 3, 1, 1},
		{278, 4, 1, height}, {279, 4, 1, uint32(len(pixels))}, {282, 5, 1, 0}, {283, 5, 1, 0}, {296, 3, 1, 2}}
	rational := uint32(8 + 2 + 12*len(entries) + 4)
	entries[5][3], entries[9][3], entries[10][3] = rational+8, rational, rational
	le(uint16(len(entries)))
	for _, e := range entries {
		le(uint16(e[0]))
		le(uint16(e[1]))
		le(e[2])
		le(e[3])
	}
	le(uint32(0))
	le(uint32(600))
	le(uint32(1))
	return append(t.Bytes(), pixels...)
}

// plainLoop puts the files with nothing but the object store's client.
func plainLoop(b *testing.B, store string, env map[string]string, files []string, jobs int) time.Duration {
	b.Helper()
	u, err := url.Parse(store)
	if err != nil {
		b.Fatal(err)
	}
	endpoint, err := url.Parse(u.Query().Get("endpoint"))
	if err != nil {
		b.Fatal(err)
	}
	c, err := minio.New(endpoint.Host, &minio.Options{Creds: credentials.NewStaticV4(env["AWS_ACCESS_KEY_ID"], env["AWS_SECRET_ACCESS_KEY"], ""), Region: u.Query().Get("region")})
	if err != nil {
		b.Fatal(err)
	}
	ctx := context.Background()
	if err := c.MakeBucket(ctx, "plain", minio.MakeBucketOptions{}); err != nil {
		b.Fatal(err)
	}
	next := make(chan string)
	var wg sync.WaitGroup
	start := time.Now()
	for range jobs {
		wg.Go(func() {
			for f := range next {
				if _, err := c.FPutObject(ctx, "plain", filepath.Base(f), f, minio.PutObjectOptions{}); err != nil {
					b.Error(err)
				}
			}
		})
	}
	for _, f := range files {
		next <- f
	}
	close(next)
	wg.Wait()
	return time.Since(start)
}

type measured struct {
	acknowledged, previews time.Duration
	clientMiB, serverMiB   float64
}

// importScans runs a server and the importer as processes of their own.
func importScans(b *testing.B, program, store string, env map[string]string, dir string, jobs, n int) (m measured) {
	b.Helper()
	work := b.TempDir()
	key := filepath.Join(work, "owner.key")
	serve := exec.Command(program, "serve", "--store", store, "--cache", filepath.Join(work, "cache"), "--listen", "127.0.0.1:0", "--key-file", key)
	serve.Env, serve.Stderr = os.Environ(), os.Stderr
	for k, v := range env {
		serve.Env = append(serve.Env, k+"="+v)
	}
	out, err := serve.StdoutPipe()
	if err != nil {
		b.Fatal(err)
	}
	if err := serve.Start(); err != nil {
		b.Fatal(err)
	}
	lines := bufio.NewReader(out)
	line, err := lines.ReadString('\n')
	if err != nil {
		b.Fatalf("server said %q, %v", line, err)
	}
	go func() { _, _ = io.Copy(io.Discard, lines) }()
	address := strings.TrimSpace(line[strings.LastIndex(line, " on ")+4:])
	serverPeak, clientPeak := watch(serve), (<-chan float64)(nil)
	start := time.Now()
	imp := exec.Command(program, "import", filepath.Join(dir, "manifest.csv"), "--jobs", strconv.Itoa(jobs), "--server", address, "--key-file", key, "--quiet")
	var text bytes.Buffer
	imp.Stdout, imp.Stderr = &text, &text
	if err := imp.Start(); err != nil {
		b.Fatal(err)
	}
	clientPeak = watch(imp)
	if err := imp.Wait(); err != nil {
		b.Errorf("import: %v\n%s", err, text.Bytes())
	}
	m.acknowledged = time.Since(start)
	m.clientMiB = <-clientPeak
	b.Logf("client: %v user, %v system", imp.ProcessState.UserTime(), imp.ProcessState.SystemTime())
	secret, err := os.ReadFile(key)
	if err != nil {
		b.Fatal(err)
	}
	c := dial(b, address, strings.TrimSpace(string(secret)))
	st, err := c.Admin.GetStatus(b.Context(), &pb.GetStatusRequest{})
	if err != nil || st.GetRecords()["pictures"] != int64(n) {
		b.Errorf("%d pictures are there, want %d: %v", st.GetRecords()["pictures"], n, err)
	}
	start = time.Now()
	stream, err := c.Admin.WaitDerived(b.Context(), &pb.WaitDerivedRequest{})
	for err == nil {
		_, err = stream.Recv()
	}
	m.previews = time.Since(start)
	if err := serve.Process.Signal(syscall.SIGTERM); err != nil {
		b.Error(err)
	}
	if err := serve.Wait(); err != nil {
		b.Errorf("server ended with %v", err)
	}
	m.serverMiB = <-serverPeak
	b.Logf("server with previews: %v user, %v system", serve.ProcessState.UserTime(), serve.ProcessState.SystemTime())
	return m
}

// watch gives the largest resident size of a process once it is gone, MiB. A finished process's own account won't do: it counts what its parent held when it
// was started.
func watch(c *exec.Cmd) <-chan float64 {
	peak := make(chan float64, 1)
	go func() {
		most := 0.0
		for {
			status, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", c.Process.Pid))
			if err != nil {
				break
			}
			_, rest, ok := strings.Cut(string(status), "VmHWM:")
			if !ok {
				break // it has ended and waits to be collected
			}
			var kib float64
			if _, err := fmt.Sscan(rest, &kib); err == nil {
				most = max(most, kib/1024)
			}
			time.Sleep(50 * time.Millisecond)
		}
		peak <- most
	}()
	return peak
}
