package archive

import (
	"bytes"
	"context"
	"crypto/sha256"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	bolt "go.etcd.io/bbolt"

	pb "platarium/proto/platarium/v1"
	"platarium/storage/dir"
	"platarium/storage/journal"
)

// openOnly names, in the environment, the folder and cache of an archive that the test program opens and closes, and nothing else.
const openOnly = "PLATARIUM_TEST_OPEN"

func TestMain(m *testing.M) {
	if folder, cache, ok := strings.Cut(os.Getenv(openOnly), "\n"); ok {
		b, err := dir.Open(folder)
		if err != nil {
			panic(err)
		}
		a, err := Open(context.Background(), Config{Bucket: b, Cache: cache})
		if err != nil {
			panic(err)
		}
		if err := a.Close(); err != nil {
			panic(err)
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
}

// Rule 7: the cache can be lost, damaged, or another archive's: it is filled again, and nothing is missing.
func TestRule07CacheIsFilledAgain(t *testing.T) {
	s := newStudio(t)
	prepare(t, s)
	busy(t, s, 3, 10)
	s.picture(t, "needle", func(p *pb.Picture) { p.Title = "Needlefish" })
	stranger := newStudio(t)
	stranger.picture(t, "stranger", func(p *pb.Picture) { p.Title = "Strangerfish" })
	for range 3 {
		stranger.picture(t, "", nil)
	}
	stranger.shut(t)
	want := dump(t, s.db)
	store := func(f func(path string) error) func(cache string) error {
		return func(cache string) error { return f(filepath.Join(cache, "records.db")) }
	}
	overwrite := func(change func(b []byte) []byte) func(cache string) error {
		return store(func(path string) error {
			b, err := os.ReadFile(path)
			if err != nil {
				return err
			}
			return os.WriteFile(path, change(b), 0o600)
		})
	}
	noise := rand.NewChaCha8([32]byte{1})
	// Some damage makes the database end the program. The next start, a while later, knows.
	dying := func(spoil func(cache string) error) func(cache string) error {
		return func(cache string) error {
			if err := spoil(cache); err != nil {
				return err
			}
			child := exec.Command(os.Args[0])
			child.Env = append(os.Environ(), openOnly+"="+s.folder+"\n"+cache)
			if out, err := child.CombinedOutput(); err == nil || !strings.Contains(string(out), "goroutine") {
				return fmt.Errorf("the program didn't die: the case proves nothing (error: %v)", fmt.Sprint(err))
			}
			then := time.Now().Add(-2 * startingTime)
			return os.Chtimes(filepath.Join(cache, "records.db.opening"), then, then)
		}
	}
	for name, spoil := range map[string]func(cache string) error{
		"untouched":       func(string) error { return nil },
		"deleted":         os.RemoveAll,
		"records deleted": store(os.Remove),
		"index deleted":   func(cache string) error { return os.RemoveAll(filepath.Join(cache, "index")) },
		"index is a file": func(cache string) error {
			return os.WriteFile(filepath.Join(cache, "index", "state.db"), []byte("no index"), 0o600)
		},
		"records empty":     overwrite(func([]byte) []byte { return nil }),
		"records are noise": overwrite(func(b []byte) []byte { _, _ = noise.Read(b); return b }),
		"cut short, died":   dying(overwrite(func(b []byte) []byte { return b[:len(b)/4] })),
		"pages noise, died": dying(overwrite(func(b []byte) []byte { _, _ = noise.Read(b[2*os.Getpagesize():]); return b })),
		"another layout": store(func(path string) error {
			db, err := bolt.Open(path, 0o600, nil)
			if err != nil {
				return err
			}
			err = db.Update(func(tx *bolt.Tx) error {
				return tx.Bucket(metaBucket).Put([]byte("version"), []byte{0, 0, 0, 99, 0, 0, 0, 1})
			})
			return cmpErr(err, db.Close())
		}),
		"of another archive": func(cache string) error {
			if err := os.RemoveAll(cache); err != nil {
				return err
			}
			return os.CopyFS(cache, os.DirFS(stranger.conf.Cache))
		},
	} {
		t.Run(name, func(t *testing.T) {
			s.shut(t)
			if err := spoil(s.conf.Cache); err != nil {
				t.Fatal(err)
			}
			s = s.join(t, func(c *Config) { *c = s.conf })
			sameDump(t, "store", dump(t, s.db), want)
			s.wantFound(t, "needlefish", "pictures/needle")
			s.wantFound(t, "strangerfish")
			if n := must[int64](t)(s.Count(Pictures)); s.indexed(t) != n {
				t.Errorf("index holds %d pictures, the archive %d", s.indexed(t), n)
			}
			must[*pb.Picture](t)(s.CreatePicture(t.Context(), as("probe"), plate(), "probe-it")) // and it writes
			if err := s.DeletePicture(t.Context(), as("probe-gone"), "pictures/probe-it", ""); err != nil {
				t.Fatal(err)
			}
			want = dump(t, s.db)
		})
	}
}

func cmpErr(errs ...error) error {
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}

// Rule 7: a bucket brought back from a copy, and gone on from there, has another past than the cache: records and index are filled again.
func TestRule07CacheOfAnotherPast(t *testing.T) {
	s := newStudio(t)
	s.picture(t, "common", func(p *pb.Picture) { p.Title = "Commonfish" })
	copied := t.TempDir()
	if err := os.CopyFS(copied, os.DirFS(s.folder)); err != nil {
		t.Fatal(err)
	}
	for range 3 {
		s.picture(t, "", func(p *pb.Picture) { p.Title = "Lostfish" })
	}
	s.shut(t)
	b, err := dir.Open(copied)
	if err != nil {
		t.Fatal(err)
	}
	later := &studio{bucket: &hooks{Bucket: b}, folder: copied, clock: s.clock}
	first := later.join(t, nil)
	for range 6 { // past where the cache is
		first.picture(t, "", func(p *pb.Picture) { p.Title = "Foundfish" })
	}
	again := later.join(t, func(c *Config) { c.Cache = s.conf.Cache })
	sameDump(t, "store", dump(t, again.db), dump(t, first.db))
	again.wantFound(t, "commonfish", "pictures/common")
	again.wantFound(t, "lostfish")
	if n := must[int64](t)(again.Count(Pictures)); again.indexed(t) != n {
		t.Errorf("index holds %d pictures, the archive %d", again.indexed(t), n)
	}
}

// A cache folder serves one server at a time.
func TestCacheInUse(t *testing.T) {
	s := newStudio(t)
	_, err := Open(t.Context(), s.conf)
	if err == nil || !strings.Contains(err.Error(), "used by another server") {
		t.Errorf("opened twice: %v", err)
	}
	if _, err := Open(t.Context(), Config{Cache: t.TempDir()}); err == nil {
		t.Error("opened without a bucket")
	}
}

// newer writes the next commit as a program of a later schema would.
func (s *studio) newer(t testing.TB) {
	t.Helper()
	at := s.Journal().Position()
	c := fmt.Sprintf(`{"seq":"%d","prev":"%s","time":"2030-01-01T00:00:00Z","token":"later","schema":%d,"transactions":[{"requestId":"later","actor":"later","changes":[`+
		`{"name":"pictures/of-tomorrow","picture":{"name":"pictures/of-tomorrow","revision":"1","etag":"1","kind":"KIND_PLATE","title":"Morrowfish","holograms":[1,2]}},`+
		`{"name":"holograms/first-one","hologram":{"depth":3}}]}]}`, at.Seq+1, at.Head, Schema+1)
	if err := s.bucket.Create(t.Context(), fmt.Sprintf("journal/%020d.json", at.Seq+1), []byte(c)); err != nil {
		t.Fatal(err)
	}
}

// Rule 10: a journal of a higher schema level is read and not written, and the refusal says which version it needs; what was read then is thrown away by the
// program that knows more.
func TestRule10HigherSchemaIsReadOnly(t *testing.T) {
	s := newStudio(t)
	prepare(t, s)
	s.newer(t)
	s.sync(t)
	refused := func(a *studio) {
		t.Helper()
		if p := must[*pb.Picture](t)(a.GetPicture("pictures/of-tomorrow")); p.GetTitle() != "Morrowfish" {
			t.Errorf("read %v", p)
		}
		a.wantFound(t, "morrowfish", "pictures/of-tomorrow")
		for _, k := range kinds() {
			_, err := k.create(t.Context(), a.Archive, owner, k.fresh(1), "refused")
			wantIs(t, err, journal.ErrReadOnly)
			if err != nil && !strings.Contains(err.Error(), fmt.Sprintf("level %d", Schema+1)) {
				t.Errorf("%q doesn't say which level it needs", err)
			}
		}
		_, err := a.Journal().Checkpoint(t.Context())
		wantIs(t, err, journal.ErrReadOnly)
	}
	refused(s)
	s = s.reopen(t)
	refused(s)
	refused(s.join(t, nil))
	if !bytes.Equal(versionMark(), []byte{0, 0, 0, stateVersion, 0, 0, 0, Schema}) {
		t.Errorf("the mark of the store, %v, doesn't tell the schema", versionMark())
	}
}

// Rule 8: the archive can be read without this program: JSON, gzip, and files by hash.
func TestRule08ReadableByAnyone(t *testing.T) {
	s := newStudio(t)
	ctx := t.Context()
	hex := s.original(t, "bytes of a scan", 0)
	s.picture(t, "readable", func(p *pb.Picture) { p.Title, p.Original = "Readable fish", &pb.Original{Sha256: hex} })
	s.party(t, "client")
	must[*pb.Grant](t)(s.CreateGrant(ctx, owner, exclusive("parties/client", "pictures/readable"), "told"))
	must[journal.Position](t)(s.Journal().Checkpoint(ctx))
	titles, prev := map[string]string{}, ""
	files := s.stored(t, "journal/")
	for n := 1; n <= len(files); n++ {
		text, ok := files[fmt.Sprintf("journal/%020d.json", n)]
		if !ok {
			t.Fatalf("no commit %d among %d", n, len(files))
		}
		c := plainCommit(t, text)
		if c.Prev != prev {
			t.Errorf("commit %d follows %q; want %q", n, c.Prev, prev)
		}
		prev = fmt.Sprintf("%x", sha256.Sum256([]byte(text)))
		for _, tx := range c.Transactions {
			for _, ch := range tx.Changes {
				titles[ch.Name] = ch.Picture.Title
				if ch.Picture.Original.Sha256 != "" {
					b, err := os.ReadFile(filepath.Join(s.folder, "originals", ch.Picture.Original.Sha256[:2], ch.Picture.Original.Sha256))
					if err != nil || fmt.Sprintf("%x", sha256.Sum256(b)) != ch.Picture.Original.Sha256 {
						t.Errorf("file of %s: %v", ch.Name, err)
					}
				}
			}
		}
	}
	if titles["pictures/readable"] != "Readable fish" || len(titles) != 3 {
		t.Errorf("read %v", titles)
	}
	lines := 0
	for key, text := range s.stored(t, "checkpoints/") {
		if strings.HasSuffix(key, ".gz") {
			lines += strings.Count(unzip(t, text), "\n")
		}
	}
	if lines < 6 {
		t.Errorf("checkpoint of %d lines", lines)
	}
}
