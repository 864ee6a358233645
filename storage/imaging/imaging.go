// Package imaging reads what a scan says about itself and makes the small pictures that people look at.
//
// Four jobs, each bounded against hostile files:
//
//   - Probe reads the header: what the file is, how large, at which resolution, in which color model. It allocates nothing that the
//     file's own numbers ask for.
//   - Metadata reads the embedded words (Exif, IPTC-IIM, XMP) and names every field on which they disagree.
//   - Runner makes previews and a perceptual hash in a child process of the same program, which may run out of memory, crash or hang
//     without harm to its parent. It decodes with libvips when the vips programs are installed, and in pure Go otherwise.
//   - Embed writes a copy for delivery whose only metadata are the texts it is given, with the pixel data untouched.
//
// Invariants: an original is read and never changed; width and height of a Header are as stored, before orientation; previews and hash are
// made from the oriented picture; a file that can't be decoded keeps its original and says why and what would help.
//
// Left out: previews of PSD, PDF and HEIC files, metadata inside GIF files and inside XMP extension segments, 3-D and scientific formats, and
// storing what was made (see Info for the record that goes beside it).
package imaging
