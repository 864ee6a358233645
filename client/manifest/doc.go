// Package manifest is the bulk import: a table of pictures, one a row, is read, checked, and brought into an archive together with the files it names.
//
// Invariants: a bad row never sinks the rest, and its report names file, row and column, what was found and what is wanted; nothing doubtful is settled in
// silence: a name that is only near a known one is taken when the caller said so, and reported; the same content gets the same id whatever its file is
// called, and every request id derives from the content, so that an import can be broken off and repeated at any point without doubles or gaps; files are
// opened below one folder and nowhere else; an empty cell says nothing, so that an update never clears what the table doesn't speak of.
//
// A row with neither id nor file gets its id from its own text: it is the same picture as long as it says the same.
//
// Left out: reading pixels and embedded metadata of what is imported, which the server does; progress bars and prompts (client/cli).
package manifest
