// Package money reads and writes amounts of money strictly: a plain decimal and
// an ISO 4217 code, current or withdrawn, since old grants were paid in old
// money. An amount is exact; it is held in the currency's minor unit.
//
// Refused: exponents, signs, grouping, NaN and infinity, more decimals than the
// currency has. Left out: conversion and arithmetic between currencies.
package money

import (
	"fmt"
	"strconv"
	"strings"
)

// digits is the longest coefficient read: it leaves room to add a thousand amounts in an int64.
const digits = 15

// Amount is an exact amount of one currency. The zero Amount is no amount at all.
type Amount struct {
	minor    int64
	currency string
}

// Currency is an ISO 4217 code with its number of decimals.
type Currency struct {
	Code      string
	Decimals  int
	Withdrawn string // year in which it left the list, or ""
}

// FormatError says what is wrong with an amount. Callers show Found and Wanted beside the field.
type FormatError struct {
	Found  string
	Wanted string
}

func (e *FormatError) Error() string { return fmt.Sprintf("amount %q: wanted %s", e.Found, e.Wanted) }

// Parse reads a decimal and a currency code. The error is a *FormatError.
func Parse(decimal, code string) (Amount, error) {
	c, ok := Lookup(code)
	if !ok {
		return Amount{}, &FormatError{Found: code, Wanted: wantedCode(code)}
	}
	whole, frac, point := strings.Cut(decimal, ".")
	switch {
	case !allDigits(whole) || len(whole) > 1 && whole[0] == '0' || point && !allDigits(frac):
		return Amount{}, &FormatError{Found: decimal, Wanted: "a plain decimal such as 1250.00, without sign, spaces, grouping or exponent"}
	case len(frac) > c.Decimals:
		return Amount{}, &FormatError{Found: decimal, Wanted: fmt.Sprintf("at most %d decimals, as %s has", c.Decimals, code)}
	case len(whole)+c.Decimals > digits:
		return Amount{}, &FormatError{Found: decimal, Wanted: fmt.Sprintf("at most %d digits", digits)}
	}
	minor, err := strconv.ParseInt(whole+frac+strings.Repeat("0", c.Decimals-len(frac)), 10, 64)
	if err != nil {
		return Amount{}, fmt.Errorf("amount %q: %w", decimal, err)
	}
	return Amount{minor: minor, currency: code}, nil
}

func allDigits(s string) bool {
	return s != "" && strings.Trim(s, "0123456789") == ""
}

// Decimal writes the amount with all decimals of its currency.
func (a Amount) Decimal() string {
	c, _ := Lookup(a.currency)
	s := strconv.FormatInt(a.minor, 10)
	if c.Decimals == 0 {
		return s
	}
	if pad := c.Decimals + 1 - len(s); pad > 0 {
		s = strings.Repeat("0", pad) + s
	}
	return s[:len(s)-c.Decimals] + "." + s[len(s)-c.Decimals:]
}

// Currency is the code, "" for no amount.
func (a Amount) Currency() string { return a.currency }

// Minor is the amount in minor units, such as cents.
func (a Amount) Minor() int64 { return a.minor }

// IsZero reports whether there is no amount, as against an amount of nothing.
func (a Amount) IsZero() bool { return a.currency == "" }

// String writes "EUR 1250.00", or "" for no amount.
func (a Amount) String() string {
	if a.IsZero() {
		return ""
	}
	return a.currency + " " + a.Decimal()
}

func wantedCode(code string) string {
	if w, ok := habits[strings.ToUpper(strings.TrimSpace(code))]; ok {
		return w
	}
	if _, ok := Lookup(strings.ToUpper(strings.TrimSpace(code))); ok {
		return strings.ToUpper(strings.TrimSpace(code))
	}
	return "an ISO 4217 currency code, such as EUR, GBP or USD"
}
