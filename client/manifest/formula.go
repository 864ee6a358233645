package manifest

import "strings"

// Spreadsheets run a cell that begins like a formula (CWE-1236). Written tables guard such a cell with an apostrophe, which reading takes off again: the two
// are inverse for every text.

// guard makes a cell harmless.
func guard(cell string) string {
	if runs(cell) {
		return "'" + cell
	}
	return cell
}

// unguard takes the apostrophe off that guard put there.
func unguard(cell string) string {
	if rest, ok := strings.CutPrefix(cell, "'"); ok && runs(rest) {
		return rest
	}
	return cell
}

// runs says whether a spreadsheet could take a cell for a formula: by its first character, also after quotation marks and blanks and in full-width form.
func runs(cell string) bool {
	rest := strings.TrimLeft(cell, `'" `)
	return rest != "" && strings.ContainsRune("=+-@\t\r\n\x00＝＋－＠", []rune(rest[:min(len(rest), 4)])[0])
}
