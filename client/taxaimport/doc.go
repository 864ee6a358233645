// Package taxaimport brings what others publish about taxa into an archive: checklists (names, synonyms, ranks, vernaculars) and tables of diagnoses (counts
// with their citation).
//
// Invariants: what the archive says already is never replaced in silence, only added to; a name that stands elsewhere in the tree is not taken for the same
// taxon; every new taxon gets an id derived from the list's own id, so that the same list can be imported any number of times without doubles; parents and
// accepted taxa go in before what hangs on them; a bad row never sinks the others, and is told with file, row, column, what was found and what is wanted.
//
// Left out: reading the formats of checklists (indexer/taxon/checklist) and of formulae (indexer/meristic); progress bars (client/cli).
package taxaimport
