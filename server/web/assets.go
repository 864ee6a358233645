package web

import (
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"fmt"
	"io/fs"
	"mime"
	"net/http"
	"path"
)

//go:embed assets
var assetFiles embed.FS

// assets are the style sheet and the scripts. Their addresses hold a mark of the content of all, so that a browser may keep them for good, and scripts find each other beside them.
type assets struct {
	mark  string
	files map[string][]byte
}

func loadAssets() (*assets, error) {
	a := &assets{files: map[string][]byte{}}
	entries, err := fs.ReadDir(assetFiles, "assets") // in order of name
	if err != nil {
		return nil, err
	}
	sum := sha256.New()
	for _, e := range entries {
		b, err := assetFiles.ReadFile("assets/" + e.Name())
		if err != nil {
			return nil, err
		}
		a.files[e.Name()] = b
		_, _ = fmt.Fprintf(sum, "%s %d\n", e.Name(), len(b))
		sum.Write(b)
	}
	a.mark = hex.EncodeToString(sum.Sum(nil)[:8])
	return a, nil
}

// path is the address of a file.
func (a *assets) path(file string) (string, error) {
	if _, ok := a.files[file]; !ok {
		return "", fmt.Errorf("there is no asset %q", file)
	}
	return "/assets/" + a.mark + "/" + file, nil
}

func (a *assets) serve(w http.ResponseWriter, r *http.Request) {
	file := r.PathValue("file")
	b, ok := a.files[file]
	if !ok || r.PathValue("mark") != a.mark {
		http.NotFound(w, r)
		return
	}
	kind := mime.TypeByExtension(path.Ext(file))
	if path.Ext(file) == ".js" {
		kind = "text/javascript; charset=utf-8"
	}
	w.Header().Set("Content-Type", kind)
	w.Header().Set("Cache-Control", "public, max-age=31536000, immutable")
	_, _ = w.Write(b) // the visitor may have gone
}
