package imaging

import (
	"errors"
	"fmt"
)

// Kinds of failure, to be tested with errors.Is. Every one of them reaches the caller inside a *Fault, which says what would be right.
var (
	// ErrEmpty: the file has no bytes. The caller asks for the file again.
	ErrEmpty = errors.New("file is empty")
	// ErrTruncated: the file ends before its own structure does. The caller asks for a complete copy.
	ErrTruncated = errors.New("file is cut short")
	// ErrUnknownFormat: the content begins like no picture format known here. The caller keeps or refuses it, without preview.
	ErrUnknownFormat = errors.New("format is not known")
	// ErrMalformed: the file contradicts itself or loops. The caller asks for another export.
	ErrMalformed = errors.New("file is malformed")
	// ErrTooBig: decoding needs more pixels, memory or disk than the limits allow. The caller raises the limits or does without preview.
	ErrTooBig = errors.New("picture is beyond the limits")
	// ErrUnsupported: the format is known, but no decoder at hand reads this variant. The caller keeps the original and shows the remedy.
	ErrUnsupported = errors.New("no decoder for this variant")
	// ErrDecoder: the decoder failed, crashed, or was stopped for its time or memory. The caller may try again, or does without preview.
	ErrDecoder = errors.New("decoder failed")
	// ErrBadCut: the part, size or format asked for can't be made of this picture. The caller asks for another.
	ErrBadCut = errors.New("cut isn't possible")
)

// Fault is a failure that a person can act on. It wraps one of the kinds above.
type Fault struct {
	Kind  error  // one of the sentinels
	Wrong string // what was found
	Right string // what would be right, or the remedy
}

// Error gives kind, finding and remedy in one line.
func (f *Fault) Error() string { return fmt.Sprintf("%v: %s; %s", f.Kind, f.Wrong, f.Right) }

// Unwrap makes errors.Is find the kind.
func (f *Fault) Unwrap() error { return f.Kind }

func fault(kind error, right, wrong string, args ...any) *Fault {
	return &Fault{Kind: kind, Wrong: fmt.Sprintf(wrong, args...), Right: right}
}

// Remedies that several places give.
const (
	rightCopy   = "send a complete copy of the file"
	rightExport = "export the picture again as TIFF, PNG or JPEG"
	rightVips   = "install libvips-tools (the programs vips and vipsthumbnail), or export the picture as uncompressed or LZW RGB or gray TIFF"
)

// reasons are the names of the kinds in stored records; they never change.
var reasons = []struct {
	kind error
	name string
}{
	{ErrEmpty, "EMPTY"},
	{ErrTruncated, "TRUNCATED"},
	{ErrUnknownFormat, "UNKNOWN_FORMAT"},
	{ErrMalformed, "MALFORMED"},
	{ErrTooBig, "TOO_BIG"},
	{ErrUnsupported, "UNSUPPORTED"},
	{ErrDecoder, "DECODER_FAILED"},
	{ErrBadCut, "BAD_CUT"},
}

// Reason names the kind of err in UPPER_SNAKE, or is empty for an error that is none of this package's.
func Reason(err error) string {
	for _, r := range reasons {
		if errors.Is(err, r.kind) {
			return r.name
		}
	}
	return ""
}

func kindOf(reason string) error {
	for _, r := range reasons {
		if r.name == reason {
			return r.kind
		}
	}
	return ErrDecoder
}
