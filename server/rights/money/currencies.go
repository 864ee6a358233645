package money

import "strings"

// The codes of ISO 4217 that money is kept in, by number of decimals (minor
// units from memory of the ISO list of 2025). Metals, test codes and units of
// account are left out.
var current = [...]struct {
	decimals int
	codes    string
}{
	{0, "BIF CLP DJF GNF ISK JPY KMF KRW PYG RWF UGX UYI VND VUV XAF XOF XPF"},
	{2, "AED AFN ALL AMD AOA ARS AUD AWG AZN BAM BBD BDT BMD BND BOB BOV BRL BSD BTN BWP BYN BZD CAD CDF CHE CHF CHW " +
		"CNY COP COU CRC CUP CVE CZK DKK DOP DZD EGP ERN ETB EUR FJD FKP GBP GEL GHS GIP GMD GTQ GYD HKD HNL HTG HUF IDR ILS INR IRR " +
		"JMD KES KGS KHR KPW KYD KZT LAK LBP LKR LRD LSL MAD MDL MGA MKD MMK MNT MOP MRU MUR MVR MWK MXN MXV MYR MZN NAD NGN NIO NOK NPR NZD " +
		"PAB PEN PGK PHP PKR PLN QAR RON RSD RUB SAR SBD SCR SDG SEK SGD SHP SLE SOS SRD SSP STN SVC SYP SZL THB TJS TMT TOP TRY TTD TWD TZS " +
		"UAH USD USN UYU UZS VED VES WST XCD XCG YER ZAR ZMW ZWG"},
	{3, "BHD IQD JOD KWD LYD OMR TND"},
	{4, "CLF UYW"},
}

// Codes that left the list, with the year, by number of decimals. ISO 4217
// table A.3, from memory.
var withdrawn = [...]struct {
	decimals int
	codes    string
}{
	{0, "BEF/2002 BYR/2017 ESP/2002 GRD/2002 ITL/2002 LUF/2002 MGF/2004 PTE/2002 TRL/2005"},
	{2, "ADP/2003 AFA/2003 ANG/2025 ARA/1992 ATS/2002 AZM/2005 BGL/2003 BGN/2026 BRC/1989 BRE/1993 BRN/1990 BRR/1994 CSK/1993 CUC/2021 CYP/2008 DDM/1990 " +
		"DEM/2002 EEK/2011 FIM/2002 FRF/2002 GHC/2008 HRD/1995 HRK/2023 IEP/2002 LTL/2014 LVL/2014 MRO/2017 MTL/2008 MXP/1993 MZM/2006 " +
		"NLG/2002 PLZ/1997 ROL/2005 RUR/2004 SDD/2007 SIT/2007 SKK/2009 SLL/2023 SRG/2003 STD/2017 SUR/1990 TMM/2009 UAK/1996 VEB/2008 VEF/2018 " +
		"XEU/1999 YUM/2003 YUN/1995 ZMK/2012 ZRN/1999 ZWD/2009 ZWL/2024"},
}

// habits are signs and words that people write for a currency.
var habits = map[string]string{
	"€": "EUR", "EURO": "EUR", "EUROS": "EUR", "£": "GBP", "UKP": "GBP", "STG": "GBP", "POUND": "GBP", "POUNDS": "GBP",
	"$":  "the dollar's own code: USD, CAD, AUD, NZD and so on",
	"DM": "DEM", "SFR": "CHF", "FR": "CHF, or FRF for an old French fee", "¥": "JPY or CNY", "RMB": "CNY", "YEN": "JPY", "NTD": "TWD",
}

// Lookup finds a code of the list, current or withdrawn.
func Lookup(code string) (Currency, bool) {
	if len(code) != 3 || strings.Trim(code, "ABCDEFGHIJKLMNOPQRSTUVWXYZ") != "" {
		return Currency{}, false
	}
	for _, t := range current {
		if strings.Contains(t.codes, code) {
			return Currency{Code: code, Decimals: t.decimals}, true
		}
	}
	for _, t := range withdrawn {
		if _, rest, ok := strings.Cut(t.codes, code+"/"); ok {
			return Currency{Code: code, Decimals: t.decimals, Withdrawn: rest[:4]}, true
		}
	}
	return Currency{}, false
}
