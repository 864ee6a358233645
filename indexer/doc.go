// Package indexer finds pictures: by words, by conditions, and by likeness to
// what a commission wants, each hit with its reasons.
//
// Words are looked up in a bleve index on disk. Everything else — conditions,
// facets, order, paging and the exact rank of every match — is read from
// dictionary-coded columns in memory, which are stored row by row in the same
// index and read back when it is opened.
//
// Invariants:
//   - The index is disposable: whatever is wrong with it, Open builds it again
//     from its Source, and a crash is repaired by applying later commits again.
//   - What Apply was given is visible to every Search that begins after it
//     returned, and a Search sees all of a commit or nothing of it.
//   - A score depends on the picture and the question alone, never on the rest
//     of the archive, so a page token stays good while pictures come and go.
//   - An outsider's question never touches notes, job, keywords or anything
//     about the specimen's place.
//
// It leaves out: records (server/archive keeps them and is the Source), rights
// (the server hands over each picture's standing), and access control.
package indexer
