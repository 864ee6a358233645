package backbone

import (
	"runtime"
	"testing"

	"platarium/indexer/taxon"
)

func load(t testing.TB) *taxon.Tree {
	t.Helper()
	tree, err := Load()
	if err != nil {
		t.Fatal(err)
	}
	return tree
}

func TestLoad(t *testing.T) {
	tree := load(t)
	if tree.Len() != 37492 {
		t.Errorf("%d rows, want 37492", tree.Len())
	}
	c := taxon.NewClassification(tree)
	got, ok := c.Taxon("T000017")
	if !ok || got.Name != "Acipenser oxyrinchus" || got.Authorship != "Mitchill, 1815" || got.Rank != taxon.Species {
		t.Errorf("T000017 is %+v", got)
	}
	shark := c.Lineage("T037157")
	if n := len(shark); n < 2 || shark[n-2] != "T037158" {
		t.Errorf("lineage of Prionace glauca is %v", shark)
	}
	if shark[0] != "T000001" {
		t.Errorf("lineage begins at %s, want the root", shark[0])
	}
}

// maxHeap is the memory that the loaded base may hold, in bytes.
const maxHeap = 60 << 20

func TestMemory(t *testing.T) {
	var before, after runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&before)
	tree := load(t)
	runtime.GC()
	runtime.GC()
	runtime.ReadMemStats(&after)
	held := int64(after.HeapAlloc) - int64(before.HeapAlloc)
	t.Logf("the loaded base with its indexes holds %.1f MB", float64(held)/(1<<20))
	if held > maxHeap {
		t.Errorf("%d bytes held, want at most %d", held, maxHeap)
	}
	runtime.KeepAlive(tree)
}

func BenchmarkLoad(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		load(b)
	}
}
