package imaging

import (
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"strconv"
)

// InfoName is the name of the record beside the previews of one original.
const InfoName = "derived.json"

// infoVersion is the version of the record that this program writes; older ones are read, newer ones refused.
const infoVersion = 1

// Info is the record stored beside the previews: what was made, by which decoder, or why nothing was.
type Info struct {
	Version  int           `json:"version"`
	Decoder  string        `json:"decoder,omitempty"`
	Previews []InfoPreview `json:"previews,omitempty"` // largest first
	PHash    string        `json:"phash,omitempty"`    // 16 hex digits, since JSON numbers don't hold 64 bits
	Warnings []string      `json:"warnings,omitempty"`
	Failure  *Failure      `json:"failure,omitempty"`
}

// InfoPreview describes one preview, stored under its name.
type InfoPreview struct {
	Name      string `json:"name"`
	MediaType string `json:"media_type"`
	Width     int    `json:"width"`  // pixels
	Height    int    `json:"height"` // pixels
	Size      int    `json:"size"`   // bytes
	SHA256    string `json:"sha256"` // of the bytes, 64 hex digits
}

// Failure is a Fault as stored.
type Failure struct {
	Reason string `json:"reason"` // as Reason gives it
	Wrong  string `json:"wrong"`
	Right  string `json:"right"`
}

func newFailure(f *Fault) *Failure {
	return &Failure{Reason: Reason(f), Wrong: cleanText(f.Wrong), Right: cleanText(f.Right)}
}

func (f *Failure) fault() *Fault {
	return &Fault{Kind: kindOf(f.Reason), Wrong: cleanText(f.Wrong), Right: cleanText(f.Right)}
}

// NewInfo makes the record of what Runner.Derive gave. An err that is no *Fault makes no record, since it says nothing about the picture: it is
// given back, and the caller tries again later.
func NewInfo(d Derived, err error) (Info, error) {
	info := Info{Version: infoVersion}
	var f *Fault
	switch {
	case errors.As(err, &f):
		info.Failure = newFailure(f)
		return info, nil
	case err != nil:
		return Info{}, err
	}
	info.Decoder, info.Warnings, info.PHash = d.Decoder, d.Warnings, fmt.Sprintf("%016x", d.PHash)
	for _, p := range d.Previews {
		info.Previews = append(info.Previews, InfoPreview{p.Name, p.MediaType, p.Width, p.Height, len(p.Bytes), fmt.Sprintf("%x", sha256.Sum256(p.Bytes))})
	}
	return info, nil
}

// ParseInfo reads a stored record. It refuses one of a later version.
func ParseInfo(b []byte) (Info, error) {
	var info Info
	if err := json.Unmarshal(b, &info); err != nil {
		return Info{}, fmt.Errorf("read %s: %w", InfoName, err)
	}
	if info.Version < 1 || info.Version > infoVersion {
		return Info{}, fmt.Errorf("read %s: version %d, this program reads 1 to %d", InfoName, info.Version, infoVersion)
	}
	return info, nil
}

// Hash gives the perceptual hash; false when there is none.
func (i Info) Hash() (uint64, bool) {
	h, err := strconv.ParseUint(i.PHash, 16, 64)
	return h, err == nil && len(i.PHash) == 16
}
