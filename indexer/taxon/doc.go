// Package taxon knows the names and the kinship of animals: it parses
// scientific names, holds a classification, finds the taxon that a written
// name means, and measures how far apart two taxa stand.
//
// Invariants:
//   - A Tree never changes once built. Changes live in a Classification, which
//     lays the studio's own taxa over a Tree and may be read while it changes.
//   - No walk up a lineage can loop: cycles are refused where taxa come in.
//   - Ids are opaque and kept as given, so records may hold them for good.
//   - Parsing takes time linear in the length of the name, which is bounded.
//
// It leaves out: reading files (see the checklist sub-package), the embedded
// base of fishes (see backbone), and everything about pictures.
package taxon
