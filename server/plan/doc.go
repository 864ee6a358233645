// Package plan decides what a commission needs and which earlier pictures serve
// it: the structures that identify an animal of a group, the counts that each of
// them shows, the smallest set of pictures that serves all structures well, and in
// words what is missing and what must not be copied.
//
// Invariants:
//   - A choice of pictures is the cheapest there is, or comes with a bound on how
//     much cheaper another could be.
//   - What a person chose or left out goes before any reckoning.
//   - Equal input gives equal output, ties included.
//   - A count of a relative is a hint and never a target.
//
// It leaves out: finding pictures (package indexer), weighing one alone (package
// rank), lengths and scales (package scale), and records (package commission).
package plan
